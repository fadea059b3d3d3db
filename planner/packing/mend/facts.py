"""What has begun on a running day, what still waits, and what a trouble hits: facts, before any choice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from planner.clock import Interval, later, seconds_between
from planner.faults import Fault, FaultyInput, Place
from planner.packing.mend.runs import cut_short, split_before
from planner.packing.mend.troubles import Troubles
from planner.schedule.beside_asked import asked_visit, matched
from planner.schedule.model import Activity, PlacedVisit, RigTask, Schedule
from planner.schedule.rules.case import clock, span_words
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan


@dataclass
class Standing:
    """One visit of the day as it stands: activities by the index of its plan.

    `begun` stay as they are; `ends` are real ends; `gone` cannot happen any more; after one of `split`
    another rig takes over, which was to stay; `earliest` is the
    first start of a participant who is late. `is_hit` says that a trouble speaks of this visit, `must_change`
    that it cannot stay as it was.
    """

    placed: PlacedVisit
    asked: Visit
    plan: VisitPlan
    by_index: Mapping[int, Activity]
    begun: set[int]
    ends: dict[int, datetime] = field(default_factory=dict)
    gone: set[int] = field(default_factory=set)
    split: set[int] = field(default_factory=set)
    earliest: datetime | None = None
    is_hit: bool = False
    must_change: bool = False
    is_broken_off: bool = False  # a rig failed within one of its activities
    is_left: bool = False  # nobody can take over from who leaves before they clear, or stay, afterwards

    def end(self, index: int) -> datetime:
        """The end of an activity: the real one where it is known."""
        return self.ends.get(index, self.by_index[index].end)

    def length_s(self, index: int) -> int:
        """Seconds from start to (real) end; 0 for what cannot happen any more."""
        if index in self.gone:
            return 0
        return seconds_between(self.by_index[index].start, self.end(index))

    def free(self) -> list[int]:
        """What may still be moved."""
        return [i for i in self.by_index if i not in self.begun and i not in self.gone]

    def may_change(self, now: datetime) -> bool:
        """Whether anything of it may be otherwise: when it is, or who clears or stays after what runs."""
        afterwards = (i for i in self.begun if not _before(self.end(i), now))
        return bool(self.free()) or any(
            self.by_index[i].watch or self.by_index[i].clear_staff for i in afterwards
        )


@dataclass(frozen=True)
class Facts:
    """One day: visits as they stand, and those that stay untouched because their plan is not whole.

    `unchecked` are checks of rigs that cannot be done as planned, and are still to be done.
    """

    day: date
    now: datetime
    standings: tuple[Standing, ...]
    frozen: tuple[PlacedVisit, ...]
    troubles: Troubles
    unchecked: tuple[RigTask, ...] = ()


def facts(
    study: Study,
    plans: Mapping[str, VisitPlan],
    schedule: Schedule,
    day: date,
    now: datetime,
    troubles: Troubles,
    away: Sequence[PlacedVisit] = (),
) -> Facts:
    """The day's facts; `away` are visits not held on it. FaultyInput: an end before its own start."""
    standings, frozen = [], []
    for placed in schedule.on(day):
        if placed in away:
            continue
        asked = asked_visit(placed, study)
        plan = plans.get(asked.protocol) if asked else None
        by_index = matched(placed, plan) if plan else {}
        if asked is None or plan is None or len(by_index) < len(plan.activities):
            frozen.append(placed)
            continue
        begun = {i for i, activity in by_index.items() if _before(activity.start, now)}
        split = set(split_before(plan, by_index))
        standings.append(Standing(placed, asked, plan, by_index, begun, split=split))
    _late(standings, schedule, now, troubles)
    _ended(standings, now, troubles)
    _interrupted(standings, now, troubles)
    _waits_for_others(standings)
    _cut_short(standings, now, troubles)
    for standing in standings:
        _told_of_rigs_and_people(standing, now, troubles)
    return Facts(day, now, tuple(standings), tuple(frozen), troubles)


def _before(one: datetime, two: datetime) -> bool:
    return one.timestamp() < two.timestamp()


def visit_meant(schedule: Schedule, participant: str, now: datetime, late_s: int = 0) -> PlacedVisit | None:
    """The visit a trouble speaks of: today's first not begun (if late), else one that runs, else the next."""
    own = sorted(
        (v for v in schedule.visits if v.participant == participant), key=lambda v: v.start.timestamp()
    )
    today = [v for v in own if v.date == now.date()]
    for visit in today:
        if not _before(later(visit.start, late_s), now):
            return visit
    running = [v for v in today if _before(now, v.end)]
    ahead = [v for v in own if v.date > now.date()]
    return next(iter((*running, *ahead)), None)


def _late(standings: list[Standing], schedule: Schedule, now: datetime, troubles: Troubles) -> None:
    for participant, minutes in troubles.late.items():
        meant = visit_meant(schedule, participant, now, 60 * minutes)
        for standing in standings:
            if standing.placed is meant and minutes > 0:
                standing.earliest = later(meant.start, 60 * minutes)
                standing.begun.clear()
                standing.is_hit = standing.must_change = True


def _ended(standings: list[Standing], now: datetime, troubles: Troubles) -> None:
    """Real ends; what comes after one that lies ahead, or after its own planned start, waits."""
    for (participant, step), told in troubles.ended.items():
        its = [s for s in standings if s.placed.participant == participant]
        own = next((s for s in its if _of_step(s, step, now)), None)
        if own is None:
            continue
        blocks = _of_step(own, step, now)
        index = _whose_end(own, blocks, now, told)
        activity, last = own.by_index[index], own.by_index[blocks[-1]]
        end = later(activity.end, seconds_between(last.end, told))
        if not _before(activity.start, end):
            raise FaultyInput([_too_early(participant, step, told, activity, last)])
        if seconds_between(activity.end, end) == 0:
            continue
        own.ends[index] = end
        own.begun.add(index)
        own.begun.update(i for i in own.by_index if i < index and own.plan.activities[i].inside is None)
        own.is_hit = own.must_change = True
        _inside_of_shorter_bout(own, index, end)
        for i in _after(own, index):
            if _before(own.by_index[i].start, end) or _before(now, end):
                _waits(own, i)


def _too_early(participant: str, step: str, end: datetime, runs: Activity, last: Activity) -> Fault:
    planned = f"the plan starts it at {clock(runs.start)}"
    if runs is not last:
        to_come = span_words(seconds_between(runs.end, last.end))
        planned = f"after {runs.manoeuvre}, which runs since {clock(runs.start)}, it has {to_come} more"
    words = f"{participant}/{step} is said to end at {clock(end)}, and {planned}"
    return Fault(Place("--ended"), "ended", words, "Give an end after its start.")


def _of_step(standing: Standing, step: str, now: datetime) -> list[int]:
    """The blocks of the step's occurrence that runs: of the last one begun, else of the first one ahead."""
    own = [
        i
        for i, activity in sorted(standing.by_index.items())
        if activity.step == step and standing.plan.activities[i].inside is None
    ]
    begun = [i for i in own if _before(standing.by_index[i].start, now)]
    occurrence = {standing.by_index[i].at_s for i in (begun[-1:] or own[:1])}
    return [i for i in own if standing.by_index[i].at_s in occurrence]


def _whose_end(standing: Standing, blocks: Sequence[int], now: datetime, end: datetime) -> int:
    """The block that makes a step end when it does: the one that runs, where the end lies ahead.

    Those after it have not begun, and take as long as they were to.
    """
    begun = [i for i in blocks if _before(standing.by_index[i].start, now)]
    return begun[-1] if begun and _before(now, end) else blocks[-1]


def _inside_of_shorter_bout(standing: Standing, bout: int, end: datetime) -> None:
    """Blocks that a bout which ended early did not reach cannot happen."""
    for i, activity in standing.by_index.items():
        if standing.plan.activities[i].inside == bout and _before(end, activity.end):
            standing.gone.add(i)
            standing.begun.discard(i)


def _after(standing: Standing, index: int) -> Iterator[int]:
    """What follows an activity on the participant's way, blocks inside it apart."""
    for i in sorted(standing.by_index):
        if i > index and standing.plan.activities[i].inside != index:
            yield i


def _waits(standing: Standing, index: int) -> None:
    """This activity, what lies inside it and all that follows have not begun."""
    for i in standing.by_index:
        if i >= index:
            standing.begun.discard(i)


def _interrupted(standings: Sequence[Standing], now: datetime, troubles: Troubles) -> None:
    """What runs on a rig when it fails is broken off and done again, with what lies inside it."""
    for rig, start, end in troubles.out_of_use:
        out = Interval(max(start, now, key=datetime.timestamp), end)
        for standing in standings:
            for i in sorted(standing.begun):
                runs = Interval(standing.by_index[i].start, standing.end(i))
                if rig in standing.by_index[i].rigs and i not in standing.ends and runs.meets(out):
                    standing.is_hit = standing.must_change = standing.is_broken_off = True
                    _waits(standing, i)
                    break


def _cut_short(standings: Sequence[Standing], now: datetime, troubles: Troubles) -> None:
    """Runs of blocks that cannot go on to their end on the rig that they began on."""
    for standing in standings:
        if found := cut_short(standing, troubles.out_of_use, now):
            standing.split.update(found)
            standing.is_hit = standing.must_change = True


def _waits_for_others(standings: Sequence[Standing]) -> None:
    """What the plan began meanwhile on a rig, or with a person, that a longer step still kept, waits too."""
    moved = True
    while moved:
        moved = False
        for standing in standings:
            for i, end in standing.ends.items():
                kept = kept_longer(standing, i, end)
                for other in standings:
                    for j in sorted(other.begun):
                        if other is not standing and _collides(other, j, kept):
                            _waits(other, j)
                            other.is_hit = other.must_change = moved = True


def kept_longer(standing: Standing, index: int, end: datetime) -> list[tuple[str, Interval]]:
    """The rigs and people that an activity has up to its real end and after it, each from when it does.

    Who clears or stays afterwards is there from the end that was planned, and may do something else before.
    """
    activity, planned = standing.by_index[index], standing.plan.activities[index]
    freed = later(end, seconds_between(activity.end, activity.rig_free))
    clearing = planned.clear.staff if planned.clear else ()
    found = [(rig, Interval(activity.start, freed)) for rig in activity.rigs]
    for role, person in activity.staff.items():
        found.append((person, Interval(activity.start, freed if role in clearing else end)))
    found += [(person, Interval(activity.end, freed)) for person in activity.clear_staff.values()]
    if activity.watch and planned.watch:
        until = later(end, planned.watch.for_s)
        found += [(person, Interval(activity.end, until)) for person in activity.watch.staff.values()]
    return found


def _collides(standing: Standing, index: int, kept: Sequence[tuple[str, Interval]]) -> bool:
    activity = standing.by_index[index]
    names = (*activity.rigs, *activity.staff.values())
    return any(
        name in names and not _before(activity.start, span.start) and _before(activity.start, span.end)
        for name, span in kept
    )


def _told_of_rigs_and_people(standing: Standing, now: datetime, troubles: Troubles) -> None:
    """Whether something still to come has a rig or person that will not be there."""
    for name, start, end in (*troubles.out_of_use, *troubles.absent):
        span = Interval(max(start, now, key=datetime.timestamp), end)
        if not _before(span.start, span.end):
            continue
        for i in standing.by_index:
            for one, busy, is_to_come in _times(standing, i, now):
                if one == name and busy.meets(span):
                    standing.is_hit = True
                    standing.must_change = standing.must_change or is_to_come


def _times(standing: Standing, index: int, now: datetime) -> Iterator[tuple[str, Interval, bool]]:
    """Each rig and person of an activity with the time they are taken, and whether that is to come yet."""
    activity, is_to_come = standing.by_index[index], index not in standing.begun
    for rig in activity.rigs:
        yield rig, Interval(activity.start, activity.rig_free), is_to_come
    for person in activity.staff.values():
        yield person, Interval(activity.start, activity.end), is_to_come
    for person, after in afterwards(standing, index):
        yield person, after, is_to_come or not _before(standing.end(index), now)


def afterwards(standing: Standing, index: int) -> Iterator[tuple[str, Interval]]:
    """Who clears and who stays after an activity, others than those who serve it, with the time for it."""
    activity, end = standing.by_index[index], standing.end(index)
    for person in activity.clear_staff.values():
        yield person, Interval(end, later(end, seconds_between(activity.end, activity.rig_free)))
    if activity.watch:
        until = later(end, seconds_between(activity.end, activity.watch.end))
        yield from ((person, Interval(end, until)) for person in activity.watch.staff.values())
