"""A small study settled again and again: a few participants' visits are taken out by chance and put in anew.

The slots of a template say who serves and when, and a first filling takes what comes first: which rig or
person a participant keeps, which hour of the day and which days is hardly looked into. Here all of that is
drawn anew, and what is no worse is kept.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date

from planner.packing.budget import Budget
from planner.packing.days.polish import add, crowd_in
from planner.packing.days.resettle import drop_idle_tasks
from planner.packing.hours import number_of
from planner.packing.running import Leaning, Running
from planner.study.model import Visit

MOST_VISITS = 60  # asked for: of more, too few can be drawn in the time
PATIENCE, PATIENCE_EACH = 500, 40  # draws in a row without a gain, at most, and for each visit asked for
OTHERS = 4  # participants at most who are taken out beside those that it is about
EVERYBODY = 0.1  # of the draws, for which all are taken out
DAYS_TRIED = 24  # for one participant's visits together
CROWD = 8  # after so many draws without a gain, and again after as many, one whole day is packed anew
CROWD_S = 0.5  # for that
LEAN = 0.5  # of the draws, for hours later than the first


def settle_again(running: Running, budget: Budget, *, most: int, least_last_day: int) -> None:
    """More visits placed, `most` being possible at most; where all are, an earlier last day.

    No plan that places all ends before `least_last_day`. A study that is not small stays as it is.
    """
    asked = sum(map(len, running.study.asked.values()))
    if asked > MOST_VISITS:
        return
    draw, in_vain = random.Random(running.study.seed), 0
    best = _cost(running)
    patience = min(PATIENCE, PATIENCE_EACH * asked)
    while in_vain < patience and not budget.is_over:
        if best[0] > asked - most if best[0] else best[1] > least_last_day:
            before = dict(running.visits), dict(running.tasks)
            _draw(running, draw, budget, crowd=in_vain % CROWD == CROWD - 1)
            now = _cost(running)
            in_vain = 0 if now < best else in_vain + 1
            if now > best:
                running.put_back(*before)
            best = min(best, now)
        else:
            break
    running.leanings.clear()


def _cost(running: Running) -> tuple[int, int]:
    """Visits without a place, and the last day."""
    return len(running.missing()), _last_day(running)


def _last_day(running: Running) -> int:
    return max((number_of(visit.date, running.study) for visit in running.visits.values()), default=0)


def _draw(running: Running, draw: random.Random, budget: Budget, *, crowd: bool) -> None:
    """Takes some visits out and puts them in anew; the plan may be worse then."""
    missing = running.missing()
    short = list(dict.fromkeys(visit.participant for visit in missing))
    last = (running.study.last_day - running.study.first_day).days
    if not short:
        last = _last_day(running) - 1
        late = [v for v in running.visits.values() if number_of(v.date, running.study) > last]
        short = list(dict.fromkeys(visit.participant for visit in late))
    first = short if not missing else [draw.choice(short)]
    if crowd:
        _crowd(running, draw, draw.choice(first), last, budget)
        return
    rest = [who for who in running.study.participants if who not in first and running.study.asked.get(who)]
    count = len(rest) if draw.random() < EVERYBODY else min(len(rest), draw.randint(0, OTHERS))
    people = [*first, *draw.sample(rest, count)]
    for who in people:
        _take_out(running, running.study.asked[who])
    if draw.random() < LEAN:
        draw.shuffle(people)
    for who in people:
        running.leanings[who] = _leaning(running, who, draw)
        _put_in(running, who, last, draw, budget)


def _take_out(running: Running, visits: tuple[Visit, ...]) -> None:
    for visit in visits:
        running.visits.pop((visit.participant, visit.file_id), None)
    drop_idle_tasks(running)


def _leaning(running: Running, who: str, draw: random.Random) -> Leaning:
    """Any rig or person for what stays the same across visits, if it is not wished for, and any hour."""
    study, kept = running.study, {}
    wished = {name for wish in study.wishes if wish.participant == who for name in (wish.rig, wish.person)}
    for item in study.keep_same_across:
        able = [rig.id for rig in study.rigs if item in rig.classes]
        able += [person.id for person in study.people if item in person.roles]
        if able and not wished.intersection(able):
            kept[item] = draw.choice(able)
    if draw.random() >= LEAN:
        return Leaning(kept)
    hours = [hour for hours in study.open.values() for hour in hours]
    hour = draw.choice(hours)
    return Leaning(kept, hour.start.hour * 3600 + draw.randrange(max(1, hour.length_s // 60)) * 60)


def _put_in(running: Running, who: str, last: int, draw: random.Random, budget: Budget) -> None:
    """All visits of one participant by that day, or as many from the first on as a place was found for."""
    visits = running.study.asked[who]
    in_order = draw.random() < LEAN
    for count in range(len(visits), 0, -1):
        tries = iter(range(DAYS_TRIED))
        if _all_in(running, visits[:count], last, draw if not in_order else None, tries, budget):
            return


def _all_in(
    running: Running,
    visits: tuple[Visit, ...],
    last: int,
    draw: random.Random | None,
    tries: Iterator[int],
    budget: Budget,
) -> bool:
    """Whether all of them found a place, one after another, going back where one found none."""
    if not visits:
        return True
    days = _days(running, visits[0], last)
    if draw is not None:
        draw.shuffle(days)
    for day in days:
        if budget.is_over or next(tries, None) is None:
            return False
        tasks = running.tasks.get(day, ())
        if not add(running, visits[0], day, 0.0, budget):
            continue
        if _all_in(running, visits[1:], last, draw, tries, budget):
            return True
        del running.visits[visits[0].participant, visits[0].file_id]
        running.tasks[day] = tasks
    return False


def _days(running: Running, visit: Visit, last: int) -> list[date]:
    return [day for day in running.days_for(visit) if number_of(day, running.study) <= last]


def _crowd(running: Running, draw: random.Random, who: str, last: int, budget: Budget) -> None:
    """One participant's visits put in anew by that day, in order; where need be the others of a day move."""
    visits = running.study.asked[who]
    _take_out(running, visits)
    running.leanings[who] = _leaning(running, who, draw)
    for visit in visits:
        days = _days(running, visit, last)
        if budget.is_over or not days:
            return
        day = min(draw.choice(days), draw.choice(days))  # rather an early one, for those that follow
        if not add(running, visit, day, 0.0, budget) and not crowd_in(running, visit, day, CROWD_S, budget):
            return
