"""A first plan keeps every rule of the day before any solver has seen it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest

from planner.packing.core import Answer, Core, Wants
from planner.packing.greedy import greedy
from planner.packing.model import keeps_rules
from planner.packing.pools import pool
from planner.packing.problem import DayProblem
from planner.packing.translate import translate
from planner.study.model import Wish

FREE = {"availability: availability.csv\n": ""}  # everybody may come all day


def _one_rig_for_two_classes(core: Core, answer: Answer) -> Iterator[tuple[int, str]]:
    """Visits in which one rig stands for two classes at the same time."""
    for j in core.visits():
        given = answer.given[j] or ()
        held = [(use, r) for use, r in zip(core.uses[j], given, strict=False) if use.wants is Wants.RIG]
        for n, (use, r) in enumerate(held):
            for other, other_r in held[n + 1 :]:
                at_once = use.first <= other.last and other.first <= use.last and use.bout == other.bout
                if at_once and r == other_r:
                    yield j, core.resources[r].id


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("count", [3, 10])
def test_two_classes_at_once_are_two_rigs(rich_day: Callable[..., DayProblem], count: int, seed: int) -> None:
    """X1 is a spirometer and a meter: kept as one for two blocks, it cannot come in as the other."""
    core, _ = translate(rich_day(count, FREE))
    found = greedy(core, rounds=6, seconds=None, seed=seed)
    assert found.placed(core) >= min(count, 9)
    assert not list(_one_rig_for_two_classes(core, found))
    assert keeps_rules(core, found)


def test_the_rig_that_alone_can_be_the_second_is_left_for_it(rich_day: Callable[..., DayProblem]) -> None:
    """Where only X1 is a meter, no visit takes it for its spirometer, though it would be free first."""
    one_meter = {**FREE, "meter: [M1, X1]": "meter: [X1]", "spirometer: [S1, S2, X1]": "spirometer: [X1, S1]"}
    core, _ = translate(rich_day(3, one_meter))
    found = greedy(core, rounds=6, seconds=None)
    assert found.placed(core) == 3
    assert keeps_rules(core, found)


def test_alike_rigs_counted_as_one_come_apart_again(rich_day: Callable[..., DayProblem]) -> None:
    core, _ = translate(rich_day(6, {**FREE, "meter: [M1, X1]": "meter: [M1, M2]"}))
    pools = pool(core)
    assert keeps_rules(core, pools.part(greedy(pools.core, rounds=6, seconds=None)))


def test_who_is_wished_for_serves_a_block_of_two_roles_in_one_of_them(
    rich_day: Callable[..., DayProblem],
) -> None:
    """K2 can be the operator or the support of `mep`, but others with fewer roles are taken first."""
    changes = {"keep_same: {within_visit: [operator]}\n": "", "K2,operator": "K2,cleaner;operator"}
    problem = rich_day(1, {**FREE, **changes})
    study = replace(problem.study, wishes=(Wish("R01", None, None, None, None, "K2"),))
    core, _ = translate(replace(problem, study=study))
    found = greedy(core, rounds=6, seconds=None)
    assert found.placed(core) == 1
    assert keeps_rules(core, found)
