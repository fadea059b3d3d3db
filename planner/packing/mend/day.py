"""One running day mended: its visits anew, those that lost their place, and what can no longer be kept."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from planner.clock import seconds_between
from planner.packing.mend.aims import AIMS, is_touched
from planner.packing.mend.core import soft_links
from planner.packing.mend.facts import Facts, Standing
from planner.packing.mend.ring import Found, RingSearch
from planner.packing.mend.search import mend
from planner.packing.mend.study import from_now
from planner.packing.problem import VisitKey
from planner.packing.progress import Report, Stop
from planner.packing.realise import placed_visits, rig_tasks
from planner.packing.running import Running
from planner.schedule.beside_asked import link_s, matched
from planner.schedule.changes import ENDED_EARLY, RUN_BROKEN, WAITS_LONGER, WINDOW_MISSED
from planner.schedule.model import Activity, Change, PlacedVisit, RigTask
from planner.schedule.rules.case import activity_words, clock, span_words
from planner.study.model import Visit

LEAST_S = 0.5


@dataclass(frozen=True)
class MendedDay:
    """The day's visits and checks; `lost` have no place on it; `named` are changes of what cannot be kept.

    `values` and `bounds` are by aim, in seconds or numbers. `is_mended` is False where no way was found.
    `looked_at` are visits of which `named` says all that they cannot keep.
    """

    visits: tuple[PlacedVisit, ...]
    tasks: tuple[RigTask, ...]
    lost: tuple[Visit, ...] = ()
    named: tuple[Change, ...] = ()
    values: Mapping[str, int] | None = None
    bounds: Mapping[str, int] | None = None
    is_mended: bool = True
    looked_at: frozenset[VisitKey] = frozenset()


def mend_day(
    running: Running,
    facts: Facts,
    tasks: Sequence[RigTask],
    until: float,
    report: Report | None = None,
    stop: Stop | None = None,
) -> MendedDay:
    """The day with the fewest changes that holds with its troubles; `running.study` knows them.

    Where nothing holds, what has not begun of visits that are hit is left out: theirs first, then of all.
    """
    kept = tuple(task for task in tasks if _stays(task, facts))
    if len(kept) == len(tasks) and not any(standing.must_change for standing in facts.standings):
        return MendedDay(_as_planned(facts), tuple(tasks))
    for give_up in (_nobody, _broken_off, _hit, _all):
        for standing in facts.standings:
            if standing.begun and give_up(standing):
                standing.gone.update(standing.free())
                standing.is_hit = standing.must_change = True
        rings = RingSearch(running, facts, kept, stop=stop)
        found = mend(rings, max(LEAST_S, until - time.monotonic()), report)
        if found is not None:
            return _mended(running, found, kept)
    return MendedDay(_as_planned(facts), tuple(tasks), is_mended=False)


def _nobody(standing: Standing) -> bool:
    return False


def _broken_off(standing: Standing) -> bool:
    return standing.is_broken_off


def _hit(standing: Standing) -> bool:
    return standing.is_hit


def _all(standing: Standing) -> bool:
    return True


def _as_planned(facts: Facts) -> tuple[PlacedVisit, ...]:
    return (*facts.frozen, *(standing.placed for standing in facts.standings))


def _stays(task: RigTask, facts: Facts) -> bool:
    """Whether a check can be done as planned: begun, or its rig and people are there."""
    if task.start.timestamp() < facts.now.timestamp():
        return True
    gone = from_now(facts.troubles.out_of_use, task.rig, facts.now)
    for person in task.staff.values():
        gone += from_now(facts.troubles.absent, person, facts.now)
    return not any(span.meets(task.interval) for span in gone)


def _mended(running: Running, found: Found, kept: Sequence[RigTask]) -> MendedDay:
    day = found.day
    made = {
        (visit.participant, visit.file_id): visit
        for visit in placed_visits(day.problem, day.core, day.grid, found.answer)
    }
    visits, lost = list(day.facts.frozen), []
    named: list[Change] = []
    for j, standing in enumerate(day.facts.standings):
        new = made.get((standing.placed.participant, standing.placed.file_id))
        if new is None:
            lost.append(standing.asked)
            continue
        visit = _visit(standing, new, is_touched(day, found.answer, j))
        visits.append(visit)
        named += _named(standing, visit, running.study.at_most_waiting_s)
    return MendedDay(
        tuple(visits),
        (*kept, *rig_tasks(day.core, day.grid, found.answer)),
        tuple(lost),
        tuple(named),
        dict(zip(AIMS, found.values, strict=True)),
        dict(zip(AIMS, found.bounds, strict=True)),
        looked_at=frozenset(made),
    )


def _visit(standing: Standing, new: PlacedVisit, is_changed: bool) -> PlacedVisit:
    """The visit: what has begun word for word, at its real end; without what cannot happen any more."""
    if not is_changed:
        return standing.placed
    by_index = matched(new, standing.plan)
    activities = [
        _begun(standing.by_index[i], one) if i in standing.begun else one
        for i, one in by_index.items()
        if i not in standing.gone
    ]
    by_start = sorted(activities, key=lambda one: one.start.timestamp())
    return replace(standing.placed, activities=tuple(by_start))


def _begun(old: Activity, new: Activity) -> Activity:
    return replace(old, end=new.end, rig_free=new.rig_free, watch=new.watch, clear_staff=new.clear_staff)


def _named(standing: Standing, visit: PlacedVisit, most_s: int | None) -> Iterator[Change]:
    """What of the study's rules a mended visit cannot keep, each named."""
    by_index = matched(visit, standing.plan)
    for link in soft_links(standing):
        seconds = link_s(link, by_index)
        low, high = link.low_s, link.high_s
        if seconds is None or ((low is None or seconds >= low) and (high is None or seconds <= high)):
            continue
        ends = (link.later.activity, link.earlier.activity)
        own = by_index[next((i for i in ends if by_index[i].at_s is not None), ends[0])]
        off = (low - seconds) if low is not None and seconds < low else seconds - (high or 0)
        words = f"{activity_words(own)} at {clock(own.first_effort or own.start)} misses its window by "
        yield _change(visit, own, WINDOW_MISSED, words + span_words(off))
    for i, one in by_index.items():
        planned_s = standing.plan.activities[i].length_s
        if (length := seconds_between(one.start, one.end)) < planned_s:
            short = span_words(planned_s - length)
            yield _change(visit, one, ENDED_EARLY, f"{activity_words(one)} ended {short} early")
    yield from _run_broken(standing, visit, by_index)
    length = seconds_between(visit.start, visit.end) - standing.plan.alone_s
    if standing.begun and most_s is not None and length > most_s:
        words = f"waits {span_words(length)} in all; at most {span_words(most_s)} is asked for"
        yield Change(
            visit.participant, visit.file_id, f"{visit.participant}, {visit.file_id}: {words}", WAITS_LONGER
        )


def _run_broken(standing: Standing, visit: PlacedVisit, by_index: Mapping[int, Activity]) -> Iterator[Change]:
    """Blocks that go on with another rig than the one that failed."""
    for i in sorted(standing.split):
        inside = standing.plan.activities[i].inside
        after = next(a for a in standing.plan.activities[i + 1 :] if a.inside == inside)
        one, two = by_index.get(i), by_index.get(after.index)
        if one and two and one.rigs != two.rigs:
            words = f"{activity_words(two)} is on {' and '.join(two.rigs)}, and {activity_words(one)} was on "
            yield _change(visit, two, RUN_BROKEN, words + " and ".join(one.rigs))


def _change(visit: PlacedVisit, one: Activity, kind: str, words: str) -> Change:
    message = f"{visit.participant}, {visit.file_id}: {words}"
    return Change(visit.participant, visit.file_id, message, kind, one.step, one.at_s, one.manoeuvre)
