"""What a study asks for besides: no long waits, the same rig or person, visits fixed to a day or a person."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime

from planner.clock import seconds_between
from planner.schedule.changes import WAITS_LONGER
from planner.schedule.model import Broken
from planner.schedule.repacked import is_listed
from planner.schedule.rules.case import Case, Judged, clock, second, span_words
from planner.study.model import Wish


def waiting(case: Case) -> Iterator[Broken]:
    """No visit is stretched by more than `at_most_waiting` over the same visit alone."""
    most = case.study.at_most_waiting_s
    for visit in case.visits:
        if most is None or visit.plan is None:
            continue
        length = seconds_between(visit.placed.start, visit.placed.end)
        named = is_listed(case.schedule, WAITS_LONGER, visit.placed)
        if (stretch := length - visit.plan.alone_s) > most and not named:
            words = (
                f"it lasts {span_words(length)}, {span_words(stretch)} longer than alone in the laboratory; "
                f"at most {span_words(most)} is allowed"
            )
            yield visit.broken("waiting", words)


def used(visit: Judged, name: str, case: Case) -> dict[str, datetime]:
    """The rigs of that class, or the people in that role who serve; who stays or clears may differ."""
    classes = case.classes
    found: dict[str, datetime] = {}
    for placed in visit.placed.activities:
        for rig in placed.rigs:
            if name in classes.get(rig, ()):
                found.setdefault(rig, placed.start)
        if name in placed.staff:
            found.setdefault(placed.staff[name], placed.start)
    return found


def same_within(case: Case) -> Iterator[Broken]:
    """One rig of the class, one person in the role, through a whole visit."""
    for name in case.study.keep_same_within:
        for visit in case.visits:
            if len(found := used(visit, name, case)) > 1:
                places = ", ".join(f"{who} from {clock(first)}" for who, first in found.items())
                yield visit.broken(
                    "keep-same-within", f"{name} must stay the same through the visit: {places}"
                )


def same_across(case: Case) -> Iterator[Broken]:
    """One rig of the class, one person in the role, in all visits of a participant."""
    by_participant: dict[str, list[Judged]] = defaultdict(list)
    for visit in sorted(case.visits, key=lambda one: second(one.placed.start)):
        by_participant[visit.placed.participant].append(visit)
    for name in case.study.keep_same_across:
        for visits in by_participant.values():
            yield from _one_through(name, visits, case)


def _one_through(name: str, visits: Sequence[Judged], case: Case) -> Iterator[Broken]:
    first: tuple[str, str] | None = None
    for visit in visits:
        for who, moment in used(visit, name, case).items():
            first = first or (who, visit.placed.file_id)
            if who != first[0]:
                words = (
                    f"{name} must stay the same over all visits: {who} at {clock(moment)}, "
                    f"and {first[0]} in {first[1]}"
                )
                yield visit.broken("keep-same-across", words)
                break


def wishes(case: Case) -> Iterator[Broken]:
    """A visit that is fixed to a day, a start, a rig or a person keeps to it."""
    for wish in case.study.wishes:
        for visit in case.visits:
            same = visit.placed.participant == wish.participant
            if same and wish.visit in (None, visit.placed.file_id):
                yield from _wish(wish, visit, case)


def _wish(wish: Wish, visit: Judged, case: Case) -> Iterator[Broken]:
    placed = visit.placed
    if wish.date and placed.date != wish.date:
        yield visit.broken("fixed-date", f"it is fixed to {wish.date}")
    if wish.start and second(placed.start) != second(wish.start):
        words = f"it is fixed to start on {wish.start:%Y-%m-%d} at {clock(wish.start)}, and starts at "
        yield visit.broken("fixed-start", words + clock(placed.start))
    if wish.rig:
        yield from _fixed_rig(wish.rig, visit, case)
    if wish.person:
        yield from _fixed_person(wish.person, visit, case)


def _fixed_rig(rig: str, visit: Judged, case: Case) -> Iterator[Broken]:
    """Wherever the visit needs a class that the rig stands in, it is that rig."""
    classes = case.study.rig(rig).classes
    for pair in visit.pairs():
        if set(pair.planned.rigs) & set(classes) and rig not in pair.placed.rigs:
            yield visit.broken("fixed-rig", f"it is fixed to {rig}, and {pair.words} is on another rig")


def _fixed_person(person: str, visit: Judged, case: Case) -> Iterator[Broken]:
    """Wherever the visit needs a role that the person has, it is that person."""
    has = case.study.person(person).roles
    for pair in visit.pairs():
        if set(pair.planned.staff) & set(has) and person not in pair.placed.staff.values():
            yield visit.broken("fixed-person", f"it is fixed to {person}, who does not serve {pair.words}")


RULES = (waiting, same_within, same_across, wishes)
