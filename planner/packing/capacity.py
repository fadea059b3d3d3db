"""How many visits a day could hold, and what one rig or person more or fewer would change."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from planner.packing.day import pack_day
from planner.packing.problem import DayProblem
from planner.packing.study_bounds import Bounds
from planner.schedule.model import PlacedVisit
from planner.study.model import Person, Study, Visit
from planner.timing.plan import VisitPlan

MOST_ASKED = 60  # made-up participants of one day
BASE_SHARE = 3  # the laboratory as it is gets so many shares of the time, each change one


@dataclass(frozen=True)
class Line:
    """Places of one day with a change: found, and proven not to be more than `at_most`."""

    change: str
    kind: str  # as it is, rig, person
    what: str
    difference: int
    found: int
    at_most: int

    @property
    def places(self) -> str:
        """The range in words: one number where it is proven."""
        return str(self.found) if self.found == self.at_most else f"{self.found} to {self.at_most}"


@dataclass(frozen=True)
class Capacity:
    """The first line is the laboratory as it is; `protocol` and `day` are what was asked for."""

    protocol: str
    day: date | None
    lines: tuple[Line, ...]

    def as_json(self) -> dict[str, object]:
        """One document; each line with its change, places found and at most."""
        return {
            "protocol": self.protocol,
            "day": str(self.day) if self.day else None,
            "lines": [
                {
                    "change": line.change,
                    "kind": line.kind,
                    "what": line.what,
                    "difference": line.difference,
                    "found": line.found,
                    "at_most": line.at_most,
                }
                for line in self.lines
            ],
        }

    def words(self) -> str:
        """A table in words: `one meter more: 9 to 13 a day`."""
        if not self.lines:
            return "There is no open day and no visit to count places for."
        base = self.lines[0]
        head = f"{self.day}, visits of {self.protocol} by made-up participants who may come all day"
        told = [f"  {line.change}: {_effect(line, base)}" for line in self.lines[1:]]
        return "\n".join((head, f"  as it is: {base.places} a day", *told))


def _effect(line: Line, base: Line) -> str:
    same = (line.found, line.at_most) == (base.found, base.at_most)
    if same and base.found == base.at_most:
        return "nothing"
    return f"{line.places} a day" + (", no difference found" if same else "")


@dataclass(frozen=True)
class Variant:
    """One changed laboratory."""

    change: str
    kind: str
    what: str
    difference: int
    study: Study


def capacity(study: Study, plans: Mapping[str, VisitPlan], *, seconds: float) -> Capacity:
    """Places of the study's best staffed day for its commonest visit, and what each change makes of it.

    Participants are made up and may come all day. Numbers found and proven bounds stand side by side;
    more of something never has fewer places than the laboratory as it is, nor less of it more.
    """
    until = time.monotonic() + 0.9 * seconds
    wanted = Counter(visit.protocol for several in study.asked.values() for visit in several)
    if not wanted or not study.open:
        return Capacity(next(iter(wanted), ""), None, ())
    protocol = wanted.most_common(1)[0][0]
    limits = Bounds(study, plans)
    day = max(sorted(study.open), key=lambda on: limits.most(protocol, on))
    variants = list(_variants(study, plans[protocol], day))
    share = BASE_SHARE / (BASE_SHARE + len(variants))
    here = Variant("as it is", "as it is", "", 0, study)
    base, visits = _places(here, protocol, plans, day, share * (until - time.monotonic()))
    lines = []
    for number, variant in enumerate(variants):
        left_s = (until - time.monotonic()) / (len(variants) - number)
        line, _ = _places(variant, protocol, plans, day, left_s, visits)
        lines.append(line)
    return Capacity(protocol, day, tuple(_in_agreement(base, lines)))


def _in_agreement(base: Line, lines: list[Line]) -> list[Line]:
    """What is found with less holds with more, and what is proven with more holds with less."""
    more = [line for line in lines if line.difference > 0]
    less = [line for line in lines if line.difference < 0]
    found = max([base.found, *(line.found for line in less)])
    at_most = min([base.at_most, *(line.at_most for line in more)])
    base = replace(base, found=found, at_most=at_most)
    return [base, *(_within(line, base) for line in lines)]


def _within(line: Line, base: Line) -> Line:
    if line.difference > 0:
        return replace(line, found=max(line.found, base.found))
    return replace(line, at_most=min(line.at_most, base.at_most))


def _variants(study: Study, plan: VisitPlan, day: date) -> Iterator[Variant]:
    """One more and one fewer of each kind of rig and of each kind of person that such a visit may use."""
    classes = {rig_class for activity in plan.activities for rig_class in activity.rigs}
    kinds = {rig.classes: rig for rig in study.rigs if classes.intersection(rig.classes)}
    for names, rig in sorted(kinds.items()):
        what = " and ".join(names)
        more = replace(rig, id=_unused(rig.id, study), out=())
        yield Variant(f"one {what} more", "rig", what, 1, replace(study, rigs=(*study.rigs, more)))
        fewer = tuple(other for other in study.rigs if other is not rig)
        yield Variant(f"one {what} fewer", "rig", what, -1, replace(study, rigs=fewer))
    people = {frozenset(p.roles): p for p in study.people if p.works.get(day)}
    for roles, person in sorted(people.items(), key=lambda item: sorted(item[0])):
        what = ", ".join(sorted(roles))
        copy: Person = replace(person, id=_unused(person.id, study))
        change = f"one person ({what})"
        yield Variant(f"{change} more", "person", what, 1, replace(study, people=(*study.people, copy)))
        rest = tuple(other for other in study.people if other is not person)
        yield Variant(f"{change} fewer", "person", what, -1, replace(study, people=rest))


def _unused(name: str, study: Study) -> str:
    taken = {rig.id for rig in study.rigs} | {person.id for person in study.people}
    return next(f"{name}-{n}" for n in range(2, len(taken) + 3) if f"{name}-{n}" not in taken)


def _places(
    variant: Variant,
    protocol: str,
    plans: Mapping[str, VisitPlan],
    day: date,
    seconds: float,
    known: tuple[PlacedVisit, ...] = (),
) -> tuple[Line, tuple[PlacedVisit, ...]]:
    """Places found and their bound in one laboratory, and the visits found."""
    study, visits, at_most = _made_up(variant.study, protocol, plans, day)
    problem = DayProblem(study, plans, day, visits)
    found: tuple[PlacedVisit, ...] = ()
    if visits:
        hint = [visit for visit in known if _is_possible(visit, study)]
        result = pack_day(problem, seconds=max(0.5, seconds), stages=("placed",), hint=hint, seed=study.seed)
        found = result.visits
        proven = [stage.bound for stage in result.stages if stage.name == "placed"]
        at_most = min([at_most, *(bound for bound in proven if bound >= len(found))])
    line = Line(
        variant.change, variant.kind, variant.what, variant.difference, len(found), max(at_most, len(found))
    )
    return line, found


def _is_possible(visit: PlacedVisit, study: Study) -> bool:
    """Whether all of its rigs and people are there."""
    rigs = {rig.id for rig in study.rigs}
    people = {person.id for person in study.people}
    return all(
        rigs.issuperset(a.rigs) and people.issuperset((*a.staff.values(), *a.clear_staff.values()))
        for a in visit.activities
    )


def _made_up(
    study: Study, protocol: str, plans: Mapping[str, VisitPlan], day: date
) -> tuple[Study, tuple[Visit, ...], int]:
    """The study with as many made-up participants as arithmetic could ever fit, and that number."""
    like = next(v for several in study.asked.values() for v in several if v.protocol == protocol)
    hours = study.open[day]
    room_s = sum(interval.length_s for interval in hours)
    cap = study.at_most_visits_a_day
    most = min(Bounds(study, plans).most(protocol, day), MOST_ASKED if cap is None else cap)
    if room_s <= 0:
        most = 0
    names = tuple(f"made-up-{number:02}" for number in range(1, min(most, MOST_ASKED) + 1))
    visits = tuple(replace(like, participant=name, gap=None) for name in names)
    asked = {visit.participant: (visit,) for visit in visits}
    made = replace(study, participants=names, asked=asked, available={}, groups={}, wishes=())
    return made, visits, most
