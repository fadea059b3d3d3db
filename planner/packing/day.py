"""One day packed: as many visits as can be, then stage by stage better, each with its bound."""

from __future__ import annotations

from collections.abc import Sequence

from planner.packing.greedy import greedy
from planner.packing.problem import DayProblem, DayResult
from planner.packing.progress import Report, Stop
from planner.packing.realise import placed_visits, rig_tasks
from planner.packing.solve import SOLVER
from planner.packing.stages import Search
from planner.packing.translate import translate
from planner.schedule.model import Outcome, PlacedVisit

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
    search = Search(core, seconds=seconds, workers=workers, seed=seed, report=progress, stop=stop)
    search.start(greedy(core, seed=seed))
    for name in stages:
        search.improve(name, more=len(stages) - stages.index(name) - 1)
    left = tuple(v for n, v in enumerate(problem.visits) if search.best.starts[n] is None)
    proven = all(stage.status is Outcome.OPTIMAL for stage in search.stages)
    return DayResult(
        visits=placed_visits(problem, core, grid, search.best),
        rig_tasks=rig_tasks(core, grid, search.best),
        stages=tuple(search.stages),
        not_placed=left,
        must_left_out=tuple(v for v in left if v in problem.must),
        status=search.status,
        proven=proven,
        first_s=search.first_s,
        solver=SOLVER,
    )
