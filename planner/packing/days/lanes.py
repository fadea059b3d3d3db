"""A laboratory with the rigs of several, cut into lanes that can each be packed by itself."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from planner.clock import Interval
from planner.study.model import Person, Rig, Study
from planner.timing.plan import VisitPlan

MOST_IN_A_LANE = 18  # visits a day that are still packed well in one piece


@dataclass(frozen=True)
class Lane:
    """The rigs and people that serve together; lanes of one study share none. Ids stand in a fixed order."""

    rigs: tuple[str, ...]
    people: tuple[str, ...]


def lanes(study: Study, plans: Mapping[str, VisitPlan], most_a_day: int) -> tuple[Lane, ...]:
    """As few lanes as keep each small; one where the laboratory is small or cannot be cut evenly."""
    whole = Lane(tuple(rig.id for rig in study.rigs), tuple(person.id for person in study.people))
    fewest = -(-most_a_day // MOST_IN_A_LANE)
    for count in range(fewest, min(4 * fewest, len(study.rigs) or 1, len(study.people) or 1) + 1):
        if count > 1 and (cut := _cut(study, count)) and all(_can_serve(study, lane, plans) for lane in cut):
            return cut
    return (whole,)


def _cut(study: Study, count: int) -> tuple[Lane, ...] | None:
    """The laboratory in `count` lanes, rigs and people dealt out by kind; None where that fails."""
    rigs = _dealt([(tuple(sorted(rig.classes)), rig.id) for rig in study.rigs], count)
    people = _dealt([((tuple(sorted(p.roles)), _usual(p)), p.id) for p in study.people], count)
    if rigs is None or people is None:
        return None
    return tuple(Lane(tuple(r), tuple(p)) for r, p in zip(rigs, people, strict=True))


def _dealt(named: Sequence[tuple[Hashable, str]], count: int) -> list[list[str]] | None:
    kinds: dict[Hashable, list[str]] = {}
    for kind, name in named:
        kinds.setdefault(kind, []).append(name)
    hands: list[list[str]] = [[] for _ in range(count)]
    turn = 0
    for kind in sorted(kinds, key=str):
        names = kinds[kind]
        each, over = divmod(len(names), count)
        if over and not each and len(kinds) == 1:
            return None
        sizes = [each] * count
        for extra in range(over):
            sizes[(turn + extra) % count] += 1
        turn += over
        for hand, size in zip(hands, sizes, strict=True):
            hand += names[:size]
            names = names[size:]
    return hands


def _usual(person: Person) -> tuple[tuple[int, int], ...]:
    """The person's commonest working day, in seconds of the wall clock."""
    if not person.works:
        return ()
    spans = Counter(tuple(_on_wall(i) for i in works) for works in person.works.values())
    return min(spans, key=lambda span: (-spans[span], span))


def _can_serve(study: Study, lane: Lane, plans: Mapping[str, VisitPlan]) -> bool:
    """Whether the lane has a rig of every class, and enough people for every activity's roles."""
    classes = {c for rig in study.rigs if rig.id in lane.rigs for c in rig.classes}
    people = [person for person in study.people if person.id in lane.people]
    for plan in plans.values():
        for activity in plan.activities:
            if not classes.issuperset(activity.rigs) or not _has_all(activity.staff, people):
                return False
    return True


def _has_all(roles: Sequence[str], people: Sequence[Person]) -> bool:
    if not roles:
        return True
    return any(
        roles[0] in person.roles and _has_all(roles[1:], [p for p in people if p is not person])
        for person in people
    )


def lane_study(study: Study, lane: Lane) -> Study:
    """The study as one lane has it, for made-up visits, without availability and wishes.

    What is kept across visits is kept within each. Made-up visits are more than can come, so that there
    is a choice of hours: the laboratory's limit of visits is for those who choose among them.
    """
    within = tuple(dict.fromkeys((*study.keep_same_within, *study.keep_same_across)))
    rigs = {rig.id: rig for rig in study.rigs}
    people = {person.id: person for person in study.people}
    return replace(
        study,
        rigs=tuple(rigs[r] for r in lane.rigs),
        people=tuple(people[p] for p in lane.people),
        available={},
        wishes=(),
        at_most_visits_a_day=None,
        keep_same_within=within,
    )


def signature(study: Study, lane: Lane, day: date) -> Hashable:
    """Equal for two lanes and days on which the same plan works, rig for rig and person for person."""
    hours = study.open.get(day, ())
    rigs = {rig.id: rig for rig in study.rigs}
    people = {person.id: person for person in study.people}
    return (
        tuple(_on_wall(hour) for hour in hours),
        _change_of_clocks(hours, day),
        tuple(_rig_signature(rigs[r], hours) for r in lane.rigs),
        tuple(
            (tuple(sorted(people[p].roles)), tuple(_on_wall(i) for i in people[p].works.get(day, ())))
            for p in lane.people
        ),
    )


def _rig_signature(rig: Rig, hours: Sequence[Interval]) -> Hashable:
    out = [
        _on_wall(Interval(max(o.start, h.start), min(o.end, h.end)))
        for o in rig.out
        for h in hours
        if o.meets(h)
    ]
    return tuple(sorted(rig.classes)), tuple(sorted(out))


def _change_of_clocks(hours: Sequence[Interval], day: date) -> date | None:
    """The day itself where clocks change within opening hours: such a day is like no other."""
    offsets = {moment.utcoffset() for hour in hours for moment in hour}
    return day if len(offsets) > 1 else None


def _on_wall(interval: Interval) -> tuple[int, int]:
    return wall_s(interval.start), wall_s(interval.end)


def wall_s(moment: datetime) -> int:
    """Seconds since midnight as the clock on the wall shows them."""
    return moment.hour * 3600 + moment.minute * 60 + moment.second
