"""Several searches at once: all results in order, and a fault of one ends the others."""

from __future__ import annotations

import threading
from functools import partial

import pytest

from planner.packing.search.side_by_side import side_by_side


def test_what_each_returns_comes_back_in_their_order() -> None:
    first_may_end = threading.Event()

    def first() -> str:
        first_may_end.wait(5)
        return "first"

    def second() -> str:
        first_may_end.set()
        return "second"

    assert side_by_side([first, second], lambda: None) == ["first", "second"]


def test_one_task_runs_in_the_callers_own_thread() -> None:
    assert side_by_side([threading.get_ident], lambda: None) == [threading.get_ident()]


@pytest.mark.parametrize("failing", [0, 1])
def test_a_fault_of_one_ends_the_others_and_is_raised(failing: int) -> None:
    ended = threading.Event()

    def task(number: int) -> bool:
        if number == failing:
            raise ValueError("a slip")
        return ended.wait(5)

    with pytest.raises(ValueError, match="a slip"):
        side_by_side([partial(task, 0), partial(task, 1)], ended.set)
    assert ended.is_set()
