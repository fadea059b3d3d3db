"""A study with its visit plans, and small changes to it: what explaining and relaxing work on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from planner.clock import DaySpan, Interval, at_clock, without
from planner.study.model import Person, Rig, Study, Visit, Wish
from planner.timing.plan import Link, PlannedActivity, VisitPlan, Why

MORE_DAYS = 70


@dataclass(frozen=True)
class Case:
    """What is asked: a study and the plan of each of its protocols."""

    study: Study
    plans: Mapping[str, VisitPlan]

    @property
    def visits(self) -> tuple[Visit, ...]:
        """Every visit that is asked for."""
        return tuple(v for visits in self.study.asked.values() for v in visits)

    def of(self, participants: Sequence[str]) -> Case:
        """The case with these participants alone."""
        wanted = set(participants)
        kept = tuple(p for p in self.study.participants if p in wanted)
        asked = {p: self.study.asked[p] for p in kept if p in self.study.asked}
        available = {p: lines for p, lines in self.study.available.items() if p in asked}
        wishes = tuple(w for w in self.study.wishes if w.participant in asked)
        return self.with_(participants=kept, asked=asked, available=available, wishes=wishes)

    def with_(self, **changes: object) -> Case:
        """The case with some fields of its study replaced."""
        return replace(self, study=replace(self.study, **changes))  # type: ignore[arg-type]


Drop = Callable[[Case], Case]


def without_availability(participant: str) -> Drop:
    """The participant may come in all opening hours."""
    return lambda case: case.with_(
        available={p: lines for p, lines in case.study.available.items() if p != participant}
    )


def with_person(person: str, change: Callable[[Person], Person]) -> Drop:
    """One member of staff changed; what is left of the shifts follows."""

    def drop(case: Case) -> Case:
        changed = [_worked_out(change(p)) if p.id == person else p for p in case.study.people]
        return case.with_(people=tuple(changed))

    return drop


def _worked_out(person: Person) -> Person:
    works = {
        on: without(spans, (*person.breaks.get(on, ()), *person.absent))
        for on, spans in person.shifts.items()
    }
    return replace(person, works=works)


def with_rig(rig: str, change: Callable[[Rig], Rig]) -> Drop:
    """One rig changed."""
    return lambda case: case.with_(rigs=tuple(change(r) if r.id == rig else r for r in case.study.rigs))


def with_one_more_rig(rig_class: str) -> Drop:
    """One more rig of that class, never out of use."""
    return lambda case: case.with_(rigs=(*case.study.rigs, Rig(f"another {rig_class}", (rig_class,))))


def with_one_more_person(role: str) -> Drop:
    """One more person with that role, there in all opening hours."""

    def drop(case: Case) -> Case:
        hours = dict(case.study.open)
        more = Person(f"another {role}", (role,), hours, hours)
        return case.with_(people=(*case.study.people, more))

    return drop


def without_window(protocol: str, link: Link) -> Drop:
    """One time point without its window."""

    def change(plan: VisitPlan) -> VisitPlan:
        return replace(plan, links=tuple(other for other in plan.links if other != link))

    return _with_plan(protocol, change)


def with_window(protocol: str, link: Link, wider: Link) -> Drop:
    """One time point with another window."""

    def change(plan: VisitPlan) -> VisitPlan:
        return replace(plan, links=tuple(wider if other == link else other for other in plan.links))

    return _with_plan(protocol, change)


def with_clearing(protocol: str, what: str, takes_s: int) -> Drop:
    """After that manoeuvre, or step, clearing takes so many seconds; 0: there is none."""

    def shorter(one: PlannedActivity) -> PlannedActivity:
        if one.clear is None or (one.manoeuvre or one.step) != what:
            return one
        return replace(one, clear=replace(one.clear, takes_s=takes_s) if takes_s else None)

    def change(plan: VisitPlan) -> VisitPlan:
        return replace(plan, activities=tuple(map(shorter, plan.activities)))

    return _with_plan(protocol, change)


def without_watch(protocol: str, index: int) -> Drop:
    """Nobody stays after one activity of one protocol."""

    def change(plan: VisitPlan) -> VisitPlan:
        its = [replace(one, watch=None) if one.index == index else one for one in plan.activities]
        return replace(plan, activities=tuple(its))

    return _with_plan(protocol, change)


def without_length(protocol: str, index: int) -> Drop:
    """One activity of one protocol takes no time, and the visit is shorter by as much."""

    def change(plan: VisitPlan) -> VisitPlan:
        old = plan.activities[index]
        its = [replace(one, length_s=0, shortest_s=0) if one is old else one for one in plan.activities]
        links = [link for link in plan.links if not link.earlier.activity == link.later.activity == index]
        shortest_s = plan.shortest_s - old.shortest_s
        return replace(plan, activities=tuple(its), links=tuple(links), shortest_s=shortest_s)

    return _with_plan(protocol, change)


def _with_plan(protocol: str, change: Callable[[VisitPlan], VisitPlan]) -> Drop:
    """The visit plan of one protocol changed."""
    return lambda case: replace(case, plans={**case.plans, protocol: change(case.plans[protocol])})


def with_visits(change: Callable[[Visit], Visit]) -> Drop:
    """Every visit that is asked for changed in the same way."""
    return lambda case: case.with_(
        asked={p: tuple(map(change, visits)) for p, visits in case.study.asked.items()}
    )


def without_wish(wish: Wish) -> Drop:
    """One fixed visit let go."""
    return lambda case: case.with_(wishes=tuple(w for w in case.study.wishes if w is not wish))


def with_gap(kind: str, numbered: bool, span: Callable[[DaySpan], DaySpan]) -> Drop:
    """The days before visits of one kind changed: before its first visit, or between its conditions."""

    def change(visit: Visit) -> Visit:
        later_one = visit.number is not None and visit.number > 1
        if visit.kind != kind or visit.gap is None or later_one != numbered:
            return visit
        return replace(visit, gap=span(visit.gap))

    return with_visits(change)


def with_more_days(case: Case, more: int = MORE_DAYS) -> Case:
    """The study open every day, and for some weeks longer, with everybody there on the days that are new."""
    study = case.study
    if not study.open:
        return case
    clocks = Counter(tuple((i.start.time(), i.end.time()) for i in hours) for hours in study.open.values())
    usual = min(clocks, key=lambda c: (-clocks[c], c))
    last = study.last_day + timedelta(days=more)
    new = [d for d in _dates(study.first_day, last) if d not in study.open]
    hours = {on: tuple(Interval(_at(on, a, study), _at(on, b, study)) for a, b in usual) for on in new}
    people = tuple(replace(p, works={**p.works, **hours}, shifts={**p.shifts, **hours}) for p in study.people)
    lines = tuple((interval, None) for intervals in hours.values() for interval in intervals)
    available = {p: (*own, *lines) for p, own in study.available.items()}
    return case.with_(open={**study.open, **hours}, last_day=last, people=people, available=available)


def _at(on: date, clock: time, study: Study) -> datetime:
    return at_clock(on, clock, study.zone)


def _dates(first: date, last: date) -> list[date]:
    return [first + timedelta(days=n) for n in range((last - first).days + 1)]


def windows_of(plan: VisitPlan) -> list[Link]:
    """The links that are windows."""
    return [link for link in plan.links if link.why is Why.DUE]
