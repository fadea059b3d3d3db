"""One running day mended: its visits anew, those that lost their place, and what can no longer be kept."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from planner.packing.mend.afterwards import somebody_leaves
from planner.packing.mend.aims import AIMS, is_touched
from planner.packing.mend.checks import with_checks, with_checks_hit
from planner.packing.mend.misses import misses
from planner.packing.mend.ring import Found, RingSearch
from planner.packing.mend.search import mend
from planner.packing.mend.standing import Facts, Standing
from planner.packing.mend.undone import give_up_undone, time_points
from planner.packing.problem import VisitKey
from planner.packing.progress import Report, Stop
from planner.packing.realise import placed_visits, rig_tasks
from planner.packing.running import Running
from planner.schedule.beside_asked import matched
from planner.schedule.model import Activity, Change, PlacedVisit, RigTask
from planner.study.model import Visit

LEAST_S = 0.5


@dataclass(frozen=True)
class MendedDay:
    """The day's visits and checks; `lost` have no place on it; `named` are changes of what cannot be kept.

    `values` and `bounds` are by aim, in seconds or numbers. `is_mended` is False where no way was found.
    `looked_at` are visits of which `named` says all that they cannot keep. `unsure`: how many time points
    and steps were given up of which it is not proven that every plan must. `is_cut_short`: the time ended
    before the search was through.
    """

    visits: tuple[PlacedVisit, ...]
    tasks: tuple[RigTask, ...]
    lost: tuple[Visit, ...] = ()
    named: tuple[Change, ...] = ()
    values: Mapping[str, int] | None = None
    bounds: Mapping[str, int] | None = None
    is_mended: bool = True
    looked_at: frozenset[VisitKey] = frozenset()
    unsure: int = 0
    is_cut_short: bool = False


def mend_day(
    running: Running,
    facts: Facts,
    tasks: Sequence[RigTask],
    until: float,
    report: Report | None = None,
    stop: Stop | None = None,
) -> MendedDay:
    """The day with the fewest changes that holds with its troubles; `running.study` knows them.

    What visits that have begun can no longer do is given up. Where still nothing holds, who leaves is not
    replaced after what runs; then what is left of the visits that are hit is left out: theirs first, then of
    all.
    """
    facts = with_checks_hit(facts, tasks)
    kept = tuple(task for task in tasks if task not in facts.unchecked)
    if not facts.unchecked and not any(standing.must_change for standing in facts.standings):
        return MendedDay(_as_planned(facts), tuple(tasks))
    rings = RingSearch(running, facts, kept, stop=stop)
    unsure = give_up_undone(rings)
    for given_up in _ways(facts):
        unsure += given_up
        found = mend(rings, max(LEAST_S, until - time.monotonic()), report)
        if found is not None:
            return replace(_mended(running, _checked(found, rings), kept), unsure=unsure)
    return MendedDay(_as_planned(facts), tuple(tasks), is_mended=False)


def _ways(facts: Facts) -> Iterator[int]:
    """Gives up ever more, each time that it is asked: how many time points and steps it is more by."""
    yield 0
    leaving = [s for s in facts.standings if s.is_hit and not s.is_left and somebody_leaves(s, facts)]
    if leaving:
        for standing in leaving:
            standing.is_left = True  # a person must take over: sooner than a measure is given up for it
        yield 0
    for is_given_up in (_broken_off, _hit, _all):
        unsure = 0
        for standing in (one for one in facts.standings if one.begun and is_given_up(one)):
            unsure += time_points(standing, standing.free())
            standing.gone.update(standing.free())
            standing.is_hit = standing.must_change = True
        yield unsure


def _broken_off(standing: Standing) -> bool:
    return standing.is_broken_off


def _hit(standing: Standing) -> bool:
    return standing.is_hit


def _all(standing: Standing) -> bool:
    return True


def _as_planned(facts: Facts) -> tuple[PlacedVisit, ...]:
    return (*facts.frozen, *(standing.placed for standing in facts.standings))


def _checked(found: Found, rings: RingSearch) -> Found:
    """The day with its checks of rigs no farther from where they were than they must be."""
    return replace(found, answer=with_checks(found.day, found.answer, rings.workers) or found.answer)


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
        named += misses(standing, visit, running.study.at_most_waiting_s)
    return MendedDay(
        tuple(visits),
        (*kept, *rig_tasks(day.core, day.grid, found.answer)),
        tuple(lost),
        tuple(named),
        dict(zip(AIMS, found.values, strict=True)),
        dict(zip(AIMS, found.bounds, strict=True)),
        looked_at=frozenset(made),
        is_cut_short=found.is_cut_short,
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
