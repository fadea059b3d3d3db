"""The days on which a rig or person that a visit is fixed to is there for long enough."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date

from planner.clock import Interval, without
from planner.packing.hours import number_of
from planner.study.model import Person, Rig, Study, Wish
from planner.timing.plan import VisitPlan

There = Callable[[date], Sequence[Interval]]


def wished_days(study: Study, plan: VisitPlan, wishes: Sequence[Wish]) -> int:
    """The open days on which all that the wishes name can serve the visit: bit n stands for day n."""
    named = list(_named(study, plan, wishes))
    return sum(
        1 << number_of(day, study)
        for day in study.open
        if all(any(span.length_s >= least_s for span in there(day)) for there, least_s in named if least_s)
    )


def _named(study: Study, plan: VisitPlan, wishes: Sequence[Wish]) -> Iterator[tuple[There, int]]:
    """When each rig or person is there on a day, and the seconds of the longest that they must serve."""
    for person in {wish.person: study.person(wish.person) for wish in wishes if wish.person}.values():
        yield _works(person), _longest_s(plan, person.roles, ())
    for rig in {wish.rig: study.rig(wish.rig) for wish in wishes if wish.rig}.values():
        yield _in_use(study, rig), _longest_s(plan, (), rig.classes)


def _works(person: Person) -> There:
    return lambda day: person.works.get(day, ())


def _in_use(study: Study, rig: Rig) -> There:
    return lambda day: without(study.open[day], rig.out)


def _longest_s(plan: VisitPlan, roles: Sequence[str], classes: Sequence[str]) -> int:
    """Of the activities that ask for any of these; 0 where none does. What lies inside a bout is left out."""
    return max(
        (
            one.length_s
            for one in plan.activities
            if one.inside is None and (set(roles) & set(one.staff) or set(classes) & set(one.rigs))
        ),
        default=0,
    )
