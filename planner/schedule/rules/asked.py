"""Every visit that is asked for once, nothing else, in the right order, on days that keep their distance."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from itertools import pairwise

from planner.schedule.model import Broken
from planner.schedule.rules.case import Case, Judged, clock, second, span_words


def known(case: Case) -> Iterator[Broken]:
    """Only visits that the study asks for."""
    for visit in case.visits:
        if visit.asked is None:
            who = visit.placed.participant
            what = (
                f"a visit {visit.placed.file_id}"
                if who in case.study.asked
                else "anything: nobody has this code"
            )
            yield visit.broken("known", f"the study does not ask {who} for {what}")


def once(case: Case) -> Iterator[Broken]:
    """Each visit at most once."""
    seen = Counter((visit.placed.participant, visit.placed.file_id) for visit in case.visits)
    told: set[tuple[str, str]] = set()
    for visit in case.visits:
        key = (visit.placed.participant, visit.placed.file_id)
        if seen[key] > 1 and key not in told:
            told.add(key)
            yield visit.broken("once", f"the visit is placed {seen[key]} times")


def all_asked(case: Case) -> Iterator[Broken]:
    """What is asked for is placed, or named as not placed; the number asked for is right."""
    placed = {(visit.placed.participant, visit.placed.file_id) for visit in case.visits}
    named = {(one.participant, one.visit) for one in case.schedule.not_placed}
    number = 0
    for participant, visits in case.study.asked.items():
        for visit in visits:
            number += 1
            key = (participant, visit.file_id)
            if key in placed and key in named:
                words = f"{participant}, {visit.file_id} is placed, and named as not placed as well"
                yield Broken("all-asked", participant, visit.file_id, words)
            if key not in placed and key not in named:
                words = (
                    f"{participant}, {visit.file_id} is asked for, and neither placed nor named as not placed"
                )
                yield Broken("all-asked", participant, visit.file_id, words)
    if case.schedule.asked != number:
        words = (
            f"the plan says that {case.schedule.asked} visits are asked for, and the study asks for {number}"
        )
        yield Broken("asked", None, None, words)


def of_participants(case: Case) -> dict[str, list[Judged]]:
    """The asked-for visits of each participant, by start."""
    found: dict[str, list[Judged]] = defaultdict(list)
    for visit in sorted(case.visits, key=lambda one: second(one.placed.start)):
        if visit.asked is not None:
            found[visit.placed.participant].append(visit)
    return found


def order(case: Case) -> Iterator[Broken]:
    """Each participant's visits come in the listed order, and their conditions in the participant's own."""
    for participant, visits in of_participants(case).items():
        places = {visit: place for place, visit in enumerate(case.study.asked[participant])}
        for earlier, later in pairwise(visits):
            assert earlier.asked
            assert later.asked
            if places[earlier.asked] > places[later.asked]:
                same = earlier.asked.kind == later.asked.kind
                words = f"it must come before {earlier.placed.file_id}, which starts on {earlier.placed.date}"
                yield later.broken("condition-order" if same else "visit-order", words)
    for visit in case.visits:
        if visit.asked and visit.placed.condition != visit.asked.condition:
            words = "its condition is not the one that the participant's order gives this visit"
            yield visit.broken("condition-order", words)


def added_in_order(case: Case) -> Iterator[Broken]:
    """A mend adds no visit where one that it must follow has no place; what was told already may stay."""
    added = {(c.participant, c.visit) for c in case.schedule.changes if c.kind == "added" and c.step is None}
    placed = {(visit.placed.participant, visit.placed.file_id) for visit in case.visits}
    for visit in case.visits:
        who = visit.placed.participant
        if visit.asked is None or (who, visit.placed.file_id) not in added:
            continue
        own = case.study.asked[who]
        for earlier in own[: own.index(visit.asked)]:
            if (who, earlier.file_id) not in placed:
                words = f"it is added, and {earlier.file_id}, which must come before it, has no place"
                yield visit.broken("visit-order", words)
                break


def days_between(case: Case) -> Iterator[Broken]:
    """Calendar days, date to date, between a visit and the one before it."""
    for participant, visits in of_participants(case).items():
        asked = case.study.asked[participant]
        by_place = sorted(visits, key=lambda one: asked.index(one.asked))
        for earlier, later in pairwise(by_place):
            assert earlier.asked
            assert later.asked
            gap = later.asked.gap
            days = (later.placed.date - earlier.placed.date).days
            follows = asked.index(later.asked) == asked.index(earlier.asked) + 1
            if gap is None or days < 0:
                continue
            since = f"{days} d after {earlier.placed.file_id} on {earlier.placed.date}"
            if days < gap.at_least:
                yield later.broken(
                    "days-between", f"it is {since}, and must be at least {gap.at_least} d after"
                )
            elif follows and gap.at_most is not None and days > gap.at_most:
                yield later.broken(
                    "days-between", f"it is {since}, and must be at most {gap.at_most} d after"
                )


def same_time_of_day(case: Case) -> Iterator[Broken]:
    """On the wall clock: starts of a participant's visits with conditions (of all, where none has any)."""
    most_s = case.study.same_time_of_day_s
    if most_s is None:
        return
    with_conditions = any(kind.conditions for kind in case.study.kinds)
    for visits in of_participants(case).values():
        compared = [one for one in visits if one.placed.condition is not None or not with_conditions]
        if not compared:
            continue
        first = min(compared, key=_wall_clock_s)
        for visit in compared:
            if (apart := _wall_clock_s(visit) - _wall_clock_s(first)) > most_s:
                earliest = f"{first.placed.file_id} at {clock(first.placed.start)}"
                words = (
                    f"it starts at {clock(visit.placed.start)}, {span_words(apart)} later in the day than "
                    f"{earliest}; at most {span_words(most_s)} is allowed"
                )
                yield visit.broken("same-time-of-day", words)


def _wall_clock_s(visit: Judged) -> int:
    start = visit.placed.start
    return start.hour * 3600 + start.minute * 60 + start.second


def visits_a_day(case: Case) -> Iterator[Broken]:
    """No day with more visits than the laboratory takes."""
    most = case.study.at_most_visits_a_day
    by_date = Counter(visit.placed.date for visit in case.visits)
    for on, number in sorted(by_date.items()):
        if most is not None and number > most:
            words = f"{number} visits are placed on {on}, and the laboratory takes {most} a day"
            last = max((v for v in case.visits if v.placed.date == on), key=lambda v: second(v.placed.start))
            yield Broken("visits-a-day", last.placed.participant, last.placed.file_id, words)


RULES = (known, once, all_asked, order, added_in_order, days_between, same_time_of_day, visits_a_day)
