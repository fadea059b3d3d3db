"""Whether some span of a day is too short for the visits that can be in no other: minutes alone tell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta

from planner.clock import Interval, without
from planner.packing.bounds.limits import person_seconds, rig_seconds, role_sets
from planner.packing.bounds.watching import beyond_seconds
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

Plans = Mapping[str, VisitPlan]


def is_overfull(study: Study, plans: Plans, day: date, visits: Sequence[Visit]) -> bool:
    """Whether all of these visits on that day ask for more person- or rig-minutes than some span has."""
    lines = {visit: study.may_come(visit, day) for visit in visits}
    if not all(lines.values()):
        return bool(visits)
    starts = {line.start for its in lines.values() for line in its}
    ends = {line.end for its in lines.values() for line in its}
    return any(
        _asks_too_much(study, inside, Interval(start, end), day)
        for start in starts
        for end in ends
        if start < end and (inside := _bound_to(plans, lines, start, end))
    )


def _bound_to(
    plans: Plans, lines: Mapping[Visit, Sequence[Interval]], start: datetime, end: datetime
) -> list[VisitPlan]:
    """The plans of those that can come in that span only."""
    return [
        plans[visit.protocol]
        for visit, its in lines.items()
        if all(start <= line.start and line.end <= end for line in its)
    ]


def _asks_too_much(study: Study, inside: Sequence[VisitPlan], span: Interval, day: date) -> bool:
    return any(asked_s > has_s for asked_s, has_s in _accounts(study, inside, span, day))


def _accounts(
    study: Study, inside: Sequence[VisitPlan], span: Interval, day: date
) -> Iterator[tuple[int, int]]:
    """What the visits ask for at least and what there is at most, in seconds, of people and of rigs."""
    for roles in role_sets(study):
        after_s = max(max(beyond_seconds(plan, roles), _clearing_s(plan)) for plan in inside)
        people = [person.works.get(day, ()) for person in study.people if roles.intersection(person.roles)]
        asked_s = sum(person_seconds(plan, roles) for plan in inside)
        yield asked_s, sum(_within_s(works, span, after_s) for works in people)
    needs = [rig_seconds(plan) for plan in inside]
    whole = Interval(span.start, span.end + timedelta(seconds=max(map(_clearing_s, inside))))
    for name in {name for need in needs for name in need}:
        there = [without((whole,), rig.out) for rig in study.rigs if name in rig.classes]
        yield sum(need.get(name, 0) for need in needs), sum(i.length_s for free in there for i in free)


def _clearing_s(plan: VisitPlan) -> int:
    """How long clearing may go on after a visit, at most."""
    return max((one.clear.takes_s for one in plan.activities if one.clear), default=0)


def _within_s(there: Sequence[Interval], span: Interval, after_s: int) -> int:
    """Seconds of these within the span and so long after it."""
    last = span.end.timestamp() + after_s
    starts_ends = ((max(i.start, span.start).timestamp(), min(i.end.timestamp(), last)) for i in there)
    return sum(max(0, round(end - start)) for start, end in starts_ends)
