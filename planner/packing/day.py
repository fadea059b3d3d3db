"""One day packed: as many visits as can be, then stage by stage better, each with its bound."""

from __future__ import annotations

from collections.abc import Sequence

from planner.packing.greedy import greedy
from planner.packing.model import keeps_rules
from planner.packing.objective import AIMS
from planner.packing.pools import pool
from planner.packing.problem import DayProblem, DayResult
from planner.packing.progress import Report, Stop
from planner.packing.realise import as_answer, placed_visits, rig_tasks
from planner.packing.search.loosen import loosen, spare, tighten
from planner.packing.solve import SOLVER
from planner.packing.stages import Search
from planner.packing.translate import translate
from planner.schedule.model import Outcome, PlacedVisit, Stage
from planner.schedule.values import MOST_SPARE_S

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
    core, grid = translate(problem)
    pools = pool(core)
    search = Search(pools.core, seconds, workers, seed, progress, stop)
    known = as_answer(problem, core, grid, hint)
    if known is not None and keeps_rules(core, known):
        search.start(pools.join(known))
    search.start(pools.join(greedy(core, seed=seed, seconds=None if workers == 1 else 0.3)))
    search.require()
    known_stages = [name for name in stages if name in AIMS]
    for number, name in enumerate(known_stages):
        if name == "last_end_s":
            kept = [stage.name for stage in search.stages]
            best = tighten(
                core, pools.part(search.best), kept, seconds=min(1.0, search.left_s / 4), seed=seed
            )
            search.best = pools.join(best)
        search.improve(name, more=len(known_stages) - number - 1)
    best = pools.part(search.best)
    done = search.finished()
    if "spare_s" in stages:
        cap = grid.down(MOST_SPARE_S)
        reached = [stage.name for stage in done]
        best = loosen(core, best, cap, reached, seconds=min(2.0, search.left_s + 0.2), seed=seed)
        search.best = pools.join(best)
        done = (*search.finished(), _spare_stage(spare(core, best, cap) * grid.step_s, cap * grid.step_s))
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


def _spare_stage(reached: int, cap: int) -> Stage:
    """More than the cap is worth nothing; below it nothing is proven, for turns are kept as they are."""
    return Stage("spare_s", reached, cap, Outcome.OPTIMAL if reached == cap else Outcome.FEASIBLE)


def _status(proven: bool, impossible: bool) -> Outcome:
    if impossible:
        return Outcome.IMPOSSIBLE
    return Outcome.OPTIMAL if proven else Outcome.FEASIBLE
