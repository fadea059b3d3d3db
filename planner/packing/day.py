"""One day packed: as many visits as can be, then stage by stage better, each with its bound."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

from planner.packing.ahead import only_in_turn
from planner.packing.bounds.alike import sort_alike
from planner.packing.core import Core
from planner.packing.greedy import greedy, refill
from planner.packing.grid import Grid
from planner.packing.model import keeps_rules
from planner.packing.objective import AIMS
from planner.packing.pools import Pools, pool
from planner.packing.problem import DayProblem, DayResult
from planner.packing.progress import Report, Stop
from planner.packing.realise import as_answer, placed_visits, rig_tasks
from planner.packing.search.loosen import loosen, spare, tighten
from planner.packing.search.roomy import with_spare
from planner.packing.solve import SOLVER, Limits, Proof
from planner.packing.stages import Search
from planner.packing.staying import put_right
from planner.packing.translate import translate
from planner.schedule.model import Outcome, PlacedVisit, Stage
from planner.schedule.values import MOST_SPARE_S

SPARE_S, SPARE_SHARE = 4.0, 0.1  # of the time, at most, for spare time
FEW = 8  # visits, up to which turns may change for the sake of spare time: beyond, that takes too long
MEND_SHARE = 0.2  # of the time, at most, for putting right a hint that something has broken
STAGES = ("placed", "waiting_s", "last_end_s", "spare_s")


def pack_day(
    problem: DayProblem,
    *,
    seconds: float,
    stages: Sequence[str] = STAGES,
    hint: Sequence[PlacedVisit] = (),
    workers: int = 2,
    seed: int = 1,
    progress: Report | None = None,
    stop: Stop | None = None,
) -> DayResult:
    """The best day found in that time: the stages in order, each with its value, bound and status.

    With one worker the same problem and seed give the same day. Nothing found is never called
    impossible: IMPOSSIBLE stands only where it is proven that the visits of `must` do not fit together.
    """
    began = time.monotonic()
    core, grid = translate(problem)
    core = only_in_turn(core)
    pools = pool(core)
    for_spare = min(SPARE_S, SPARE_SHARE * seconds) if "spare_s" in stages else 0.0
    search = Search(pools.core, seconds - for_spare, workers, seed, progress, stop)
    search.began = began
    known = as_answer(problem, core, grid, hint)
    if known is not None:
        known = refill(core, known, ())  # a hint knows nothing of the rigs' first tasks
        if not keeps_rules(core, known):
            known = put_right(core, known, seconds=MEND_SHARE * seconds, workers=workers, seed=seed)
            search.spent += MEND_SHARE * seconds
        if known is not None:
            search.start(pools.join(known))
    search.start(pools.join(greedy(core, seed=seed, seconds=None if workers == 1 else 0.3)))
    search.require()
    known_stages = [name for name in stages if name in AIMS]
    for number, name in enumerate(known_stages):
        if name == "last_end_s":
            _tighten(core, pools, search)
        search.improve(name, more=len(known_stages) - number - 1)
    done = search.finished()
    if "spare_s" in stages:
        search.seconds = seconds
        last = _spare(core, pools, search, grid)
        done = (*search.finished(), last)
    best = pools.part(search.best)
    left = tuple(v for n, v in enumerate(problem.visits) if best.starts[n] is None)
    proven = bool(done) and all(stage.status is Outcome.OPTIMAL for stage in done)
    return DayResult(
        visits=placed_visits(problem, core, grid, best),
        rig_tasks=rig_tasks(core, grid, best),
        stages=done,
        not_placed=left,
        must_left_out=tuple(v for v in left if v in problem.must),
        status=_status(proven, search.is_impossible),
        proven=proven,
        first_s=search.first_s,
        solver=SOLVER,
    )


def _tighten(core: Core, pools: Pools, search: Search) -> None:
    """The last visit earlier with every turn kept: a cheap step before the search for the last end."""
    kept = [stage.name for stage in search.stages]
    best, until = pools.part(search.best), None if search.workers == 1 else search.until
    best = tighten(core, best, kept, seconds=min(1.0, search.left_s / 4), seed=search.seed, until=until)
    search.best = pools.join(best)


def _spare(core: Core, pools: Pools, search: Search, grid: Grid) -> Stage:
    """The stage of spare time: turns kept at first, then anew; more than the cap is worth nothing."""
    cap, kept = grid.down(MOST_SPARE_S), [stage.name for stage in search.stages]
    until = None if search.workers == 1 else search.until
    best = pools.part(search.best)
    best = loosen(core, best, cap, kept, seconds=min(1.0, search.left_s), seed=search.seed, until=until)
    reached, bound = spare(core, best, cap), cap
    day, least = replace(core, jobs=search.core.jobs), cap
    few = best.placed(core) <= FEW
    while few and reached < bound and not search.is_over:
        values = {stage.name: stage.value for stage in search.finished()}
        limits = Limits(search.left_s / 2, search.workers, search.seed, search.stop, until)
        found = with_spare(day, sort_alike(core, best), least, values, limits)
        if found.answer is not None:
            best = found.answer
            reached = spare(core, best, cap)
        elif found.proof is Proof.IMPOSSIBLE:
            bound = least - 1
        else:
            break
        least = (reached + bound + 1) // 2
    search.best = pools.join(best)
    outcome = Outcome.OPTIMAL if reached == bound else Outcome.FEASIBLE
    return Stage("spare_s", reached * grid.step_s, bound * grid.step_s, outcome)


def _status(proven: bool, impossible: bool) -> Outcome:
    if impossible:
        return Outcome.IMPOSSIBLE
    return Outcome.OPTIMAL if proven else Outcome.FEASIBLE
