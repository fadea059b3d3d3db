"""Every demand that a person wrote down, named in words with its place, and the case without it.

Demands come in groups (all breaks, all shifts), so that a search for the culprit first asks for a
whole group and only then for its members. `easier` are smaller relaxations, the smallest first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

from planner.clock import DaySpan, Interval, duration_words
from planner.faults import Place
from planner.packing.why.case import (
    Case,
    Drop,
    with_clearing,
    with_gap,
    with_one_more_rig,
    with_rig,
    with_visits,
    without_window,
    without_wish,
)
from planner.packing.why.named_coming import availability
from planner.packing.why.named_days import closed_days, open_weekdays, study_days
from planner.packing.why.named_lengths import lengths, watches
from planner.packing.why.named_opening import opening
from planner.packing.why.named_people import absences, breaks, people, shifts
from planner.packing.why.told import (
    MORE_MINUTES,
    Demand,
    at,
    changed,
    moment_words,
    of_spans,
)
from planner.study.model import Visit
from planner.timing.plan import Why

MORE_DAYS = (1, 2, 3, 5, 7, 14)
PARTS = (0.75, 0.5, 0.25)  # of a time for clearing, or for a check, that are tried instead
FEWER_DAYS = (1, 2, 3, 4, 5, 6, 7, 10, 14)


def groups(case: Case) -> list[list[Demand]]:
    """All demands by kind; those that people would rather change come last, so that they are named first."""
    found = [
        list(watches(case)),
        list(lengths(case)),
        list(_windows(case)),
        list(_clearings(case)),
        list(_calibration(case)),
        list(_keep_same(case)),
        list(_rig_counts(case)),
        list(_outages(case)),
        list(people(case)),
        list(breaks(case)),
        list(absences(case)),
        list(shifts(case)),
        list(_waiting(case)),
        list(opening(case)),
        list(_cap(case)),
        list(_time_of_day(case)),
        list(_start_ranges(case)),
        list(_most_days(case)),
        list(_least_days(case)),
        list(open_weekdays(case)),
        list(closed_days(case)),
        list(study_days(case)),
        list(_wishes(case)),
        list(availability(case)),
    ]
    return [group for group in found if group]


def _windows(case: Case) -> Iterator[Demand]:
    for name, plan in case.plans.items():
        for link in plan.links:
            if link.why in (Why.DUE, Why.STARTS_WITHIN):
                late = plan.activities[link.later.activity]
                point = "" if late.at_s is None else f" at {duration_words(late.at_s)}"
                words = f"the window of {late.step}{point} in {plan.protocol.title}"
                yield Demand(
                    words, plan.protocol.place(*link.path), without_window(name, link), f"without {words}"
                )


def _clearings(case: Case) -> Iterator[Demand]:
    """How long a rig is held after each manoeuvre or step; easier is less of it, in whole minutes."""
    for name, plan in case.plans.items():
        cleared = {a.manoeuvre or a.step: a for a in plan.activities if a.clear}
        for what, activity in cleared.items():
            assert activity.clear is not None
            takes_s, where = activity.clear.takes_s, f"after {what} in {plan.protocol.title}"
            easier = tuple(
                (f"if clearing {where} took {duration_words(less_s)}", with_clearing(name, what, less_s))
                for less_s in _less(takes_s)
            )
            path = ("manoeuvres", what, "clear") if activity.manoeuvre else (*activity.path, "clear")
            yield Demand(
                f"{duration_words(takes_s)} of clearing {where}",
                plan.protocol.place(*path),
                with_clearing(name, what, 0),
                f"if clearing {where} held no rig (as with a second set of parts)",
                easier,
            )


def _calibration(case: Case) -> Iterator[Demand]:
    """What is done with a rig before its first use; easier is less of it, in whole minutes."""
    tasks = case.study.before_first_use
    for name, task in tasks.items():
        what = f"the check of each {name} before its first use"
        easier = tuple(
            (
                f"if {what} took {duration_words(less_s)}",
                changed(before_first_use={**tasks, name: replace(task, takes_s=less_s)}),
            )
            for less_s in _less(task.takes_s)
        )
        yield Demand(
            f"{what} ({duration_words(task.takes_s)})",
            at(case, "before_first_use", name),
            changed(before_first_use={n: t for n, t in tasks.items() if n != name}),
            f"without {what} ({duration_words(task.takes_s)})",
            easier,
        )


def _less(takes_s: int) -> list[int]:
    """Some shorter times in whole minutes, the longest first."""
    return [less_s for part in PARTS if 0 < (less_s := 60 * round(takes_s * part / 60)) < takes_s]


def _keep_same(case: Case) -> Iterator[Demand]:
    for field, key in (("keep_same_within", "within_visit"), ("keep_same_across", "across_visits")):
        for name in getattr(case.study, field):
            kept = tuple(n for n in getattr(case.study, field) if n != name)
            words = f"the same {name} {key.replace('_', ' ')}"
            yield Demand(
                words,
                at(case, "keep_same", key),
                changed(**{field: kept}),
                f"if the {name} might change",
            )


def _rig_counts(case: Case) -> Iterator[Demand]:
    for name in sorted({c for rig in case.study.rigs for c in rig.classes}):
        ids = [rig.id for rig in case.study.rigs if name in rig.classes]
        words = f"only {', '.join(ids)} of class {name}"
        yield Demand(words, at(case, "rigs", name), with_one_more_rig(name), f"with one more {name}")


def _outages(case: Case) -> Iterator[Demand]:
    for rig in case.study.rigs:
        words, without = f"{rig.id} is out of use", f"if {rig.id} were not out of use"
        path = ("outages", rig.id)
        yield from of_spans(case, path, rig.out, words, without, partial(_in_use_in, rig.id))


def _in_use_in(name: str, spans: Sequence[Interval]) -> Drop:
    return with_rig(name, lambda rig: replace(rig, out=tuple(out for out in rig.out if out not in spans)))


def _waiting(case: Case) -> Iterator[Demand]:
    if (most := case.study.at_most_waiting_s) is not None:
        easier = tuple(
            (f"if a visit might wait {minutes} min longer", changed(at_most_waiting_s=most + 60 * minutes))
            for minutes in MORE_MINUTES
        )
        yield Demand(
            f"at most {duration_words(most)} of waiting in a visit",
            at(case, "at_most_waiting"),
            changed(at_most_waiting_s=None),
            "without a limit on waiting",
            easier,
        )


def _cap(case: Case) -> Iterator[Demand]:
    if (most := case.study.at_most_visits_a_day) is not None:
        easier = tuple(
            (f"with at most {_visits(most + more)} a day", changed(at_most_visits_a_day=most + more))
            for more in (1, 2, 3)
        )
        yield Demand(
            f"at most {_visits(most)} a day",
            at(case, "at_most_visits_a_day"),
            changed(at_most_visits_a_day=None),
            "without a limit on visits a day",
            easier,
        )


def _time_of_day(case: Case) -> Iterator[Demand]:
    if (width := case.study.same_time_of_day_s) is not None:
        yield Demand(
            f"starts of one participant within {duration_words(width)} of the day",
            at(case, "same_time_of_day"),
            changed(same_time_of_day_s=None),
            "if the time of day might differ",
        )


def _start_ranges(case: Case) -> Iterator[Demand]:
    for number, kind in enumerate(case.study.kinds):
        if kind.start is not None:
            yield Demand(
                f"{kind.id} starts {kind.start}",
                at(case, "visits", number, "start"),
                with_visits(partial(_any_start, kind.id)),
                f"if {kind.id} might start at any time",
            )


def _any_start(kind: str, visit: Visit) -> Visit:
    return replace(visit, start=None) if visit.kind == kind else visit


def _gaps(case: Case) -> Iterator[tuple[str, bool, DaySpan]]:
    """Kind of visit, whether it is between its conditions, and the days that are asked for."""
    seen = set()
    for visits in case.study.asked.values():
        for visit in visits:
            later_one = visit.number is not None and visit.number > 1
            if visit.gap is not None and (visit.kind, later_one) not in seen:
                seen.add((visit.kind, later_one))
                yield visit.kind, later_one, visit.gap


def _gap_place(case: Case, kind: str, later_one: bool) -> Place:
    key = "between_conditions" if later_one else "since_last"
    number = [k.id for k in case.study.kinds].index(kind)
    for path in (("visits", kind, key), ("visits", number, key), ("between_visits",)):
        if path in case.study.places:
            return case.study.places[path]
    return at(case, "visits", kind)


def _most_days(case: Case) -> Iterator[Demand]:
    for kind, later_one, gap in _gaps(case):
        if gap.at_most is not None:
            yield Demand(
                f"at most {_days(gap.at_most)} {_between(kind, later_one)}",
                _gap_place(case, kind, later_one),
                with_gap(kind, later_one, lambda span: DaySpan(span.at_least, None)),
                f"with more than {_days(gap.at_most)} {_between(kind, later_one)}",
                tuple(_wider(kind, later_one, gap.at_most)),
            )


def _least_days(case: Case) -> Iterator[Demand]:
    for kind, later_one, gap in _gaps(case):
        if gap.at_least > 0:
            yield Demand(
                f"at least {_days(gap.at_least)} {_between(kind, later_one)}",
                _gap_place(case, kind, later_one),
                with_gap(kind, later_one, lambda span: DaySpan(0, span.at_most)),
                f"with fewer than {_days(gap.at_least)} {_between(kind, later_one)}",
                tuple(_narrower(kind, later_one, gap.at_least)),
            )


def _wider(kind: str, later_one: bool, most: int) -> Iterator[tuple[str, Drop]]:
    """A few days more allowed between visits."""
    for days in (most + more for more in MORE_DAYS):
        drop = with_gap(kind, later_one, partial(_at_most, days))
        yield f"with at most {_days(days)} {_between(kind, later_one)}", drop


def _narrower(kind: str, later_one: bool, least: int) -> Iterator[tuple[str, Drop]]:
    """Fewer days asked for between visits, though one at least."""
    for days in (least - fewer for fewer in FEWER_DAYS if least - fewer > 0):
        drop = with_gap(kind, later_one, partial(_at_least, days))
        yield f"with at least {_days(days)} {_between(kind, later_one)}", drop


def _at_most(days: int, span: DaySpan) -> DaySpan:
    return DaySpan(span.at_least, days)


def _at_least(days: int, span: DaySpan) -> DaySpan:
    return DaySpan(days, span.at_most)


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def _visits(count: int) -> str:
    return "1 visit" if count == 1 else f"{count} visits"


def _between(kind: str, later_one: bool) -> str:
    return f"between two visits of {kind}" if later_one else f"between {kind} and the visit before it"


def _wishes(case: Case) -> Iterator[Demand]:
    for wish in case.study.wishes:
        day = wish.date or (wish.start.date() if wish.start else None)
        fixed = (day, wish.start and moment_words(wish.start), wish.rig, wish.person)
        which = f"the visit {wish.visit}" if wish.visit else "the visits"
        to = ", ".join(str(value) for value in fixed if value)
        yield Demand(
            f"{wish.participant}, {wish.visit or 'all visits'} is fixed to {to}",
            wish.place,
            without_wish(wish),
            f"if {which} of {wish.participant} were not fixed to {to}",
        )


def without_all(case: Case, demands: Sequence[Demand]) -> Case:
    """The case with all these demands dropped."""
    for demand in demands:
        case = demand.drop(case)
    return case
