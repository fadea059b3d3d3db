"""Small days that a solver decides in a moment."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import pytest

from planner.packing.core import Core, Gap, Job, Resource, Use, Wants, Window

LENGTHS = (2, 3, 1)


@pytest.fixture
def windowed_day() -> Callable[..., Core]:
    """Makes a day of `count` alike visits whose third activity has a window and a target."""
    return _windowed_day


def _windowed_day(count: int, seed: int = 1) -> Core:
    """Three activities each, for two people who can do different things, and two meters."""
    draw = random.Random(seed)
    late = draw.randint(0, 3)
    gaps = (Gap(0, 1, 2), Gap(1, 2, 3 + draw.randint(0, 2), 5 + late))
    alone = 4 + gaps[1].low
    job = Job(
        0, LENGTHS, gaps, (Window(1, 2, 5, 2),), ((0, 40),), ((0, 40),), 0, 2, alone, None, True, "alike"
    )
    choices = [(0, 1), (draw.randint(0, 1),), (0, 1)]
    jobs = tuple(replace(job, key=j) for j in range(count))
    uses = tuple(
        (
            Use(j, Wants.RIG, "meter", 0, 1, 1, (2,)),
            *(Use(j, Wants.STAFF, "operator", i, i, 0, choices[i]) for i in range(3)),
        )
        for j in range(count)
    )
    people = [Resource(name, True, frozenset({"operator"}), ((0, 12), (14, 40))) for name in "AB"]
    return Core(5, 40, jobs, uses, (*people, Resource("M1", False, frozenset({"meter"}), ((0, 40),), 2)))
