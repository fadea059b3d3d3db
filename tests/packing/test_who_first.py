"""What distances alone say of who comes first: never more than the solver finds."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.packing.bounds.arithmetic import most_placed
from planner.packing.core import EVER, Core, Gap, Job, Resource, Use, Wants
from planner.packing.model import make_model
from planner.packing.objective import AIMS
from planner.packing.solve import Limits, Proof, run
from planner.packing.stages import Search
from planner.packing.who_first import Apart, Network, network_of, settle

RIGS = 2


def day(jobs: list[tuple[list[tuple[int, int]], int]], horizon: int) -> Core:
    """Visits of activities (rig, length), each at most so long after the one before; all must come."""
    made, used = [], []
    for j, (activities, wait) in enumerate(jobs):
        lengths = tuple(length for _, length in activities)
        gaps = tuple(Gap(i, i + 1, lengths[i], lengths[i] + wait) for i in range(len(lengths) - 1))
        last = len(lengths) - 1
        made.append(
            Job(j, lengths, gaps, (), ((0, horizon),), (EVER,), 0, last, sum(lengths), None, must=True)
        )
        used.append(tuple(Use(j, Wants.RIG, "r", i, i, 1, (rig,)) for i, (rig, _) in enumerate(activities)))
    rigs = tuple(Resource(f"R{r}", False, frozenset({"r"}), ((0, horizon + 1),)) for r in range(RIGS))
    return Core(1, horizon, tuple(made), tuple(used), rigs)


activity = st.tuples(st.integers(0, RIGS - 1), st.integers(1, 6))
visits = st.lists(st.tuples(st.lists(activity, min_size=1, max_size=3), st.integers(0, 3)), max_size=4)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(visits, st.integers(3, 30))
def test_it_never_says_more_than_the_solver(jobs: list, horizon: int) -> None:
    """Called impossible only what is; the ends that follow are never after those of a proven best day."""
    core = day(jobs, horizon)
    least = settle(network_of(core))
    v = make_model(core)
    done = run(v, AIMS["last_end_s"](v).expression, Limits(10, workers=1))
    assert done.proof in (Proof.OPTIMAL, Proof.IMPOSSIBLE)
    if least is None:
        assert done.answer is None or None in done.answer.starts  # a visit that fits nowhere is left out
    elif done.answer is not None:
        starts = [start for its in done.answer.starts for start in its or ()]
        assert all(start >= least[0, 1 + i] for i, start in enumerate(starts))


def test_two_bouts_cannot_share_one_rig_in_time_for_one() -> None:
    """Two visits of a bout of 5 and one step of clearing on the one rig, in a day of 10: said at once."""
    assert settle(network_of(day([([(0, 5)], 0), ([(0, 5)], 0)], 10))) is None
    assert settle(network_of(day([([(0, 5)], 0), ([(0, 5)], 0)], 11))) is not None


def test_musts_that_cannot_follow_each_other_are_impossible_even_where_the_search_is_stopped() -> None:
    """Both bouts of 5 must start by 3: minutes of the rig allow two, distances do not; no run is needed."""
    core = day([([(0, 5)], 0), ([(0, 5)], 0)], 20)
    core = replace(core, jobs=tuple(replace(job, starts=((0, 3),)) for job in core.jobs))
    search = Search(core, 5, 1, 1, None, lambda: True)
    search.require()
    assert most_placed(core) == 2
    assert search.is_impossible


def test_the_only_order_left_holds() -> None:
    """B must start by 3, A takes 4 and cannot begin before 1: B comes first, A after its end."""
    gaps = (Gap(0, 1, 1, 20), Gap(0, 2, 0, 3))
    least = settle(Network(3, gaps, (Apart(1, 1, 2, 2, 4, 6),)))
    assert least is not None
    assert least[0, 1] == 6
    assert least[2, 1] == 6


def test_choices_and_visits_that_may_stay_away_say_nothing() -> None:
    core = day([([(0, 5)], 0), ([(0, 5)], 0)], 10)
    free = Core(
        1, 10, core.jobs, tuple((Use(j, Wants.RIG, "r", 0, 0, 1, (0, 1)),) for j in (0, 1)), core.resources
    )
    assert settle(network_of(free)) is not None
