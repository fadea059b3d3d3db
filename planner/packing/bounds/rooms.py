"""How many visits each day could take at most, from what a whole day can do and not from minutes alone."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace
from datetime import date

from planner.packing.bounds.arithmetic import most_placed
from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.days.lanes import Lane, lane_study, signature
from planner.packing.problem import DayProblem
from planner.packing.translate import translate
from planner.study.model import Study, Visit

LOOK_S = 0.1  # of work, for one kind of day


def lower_rooms(bounds: Bounds, budget: Budget) -> None:
    """Takes in what is proven of days on which every visit is of one type and could come at any hour.

    Only where all visits that are asked for are alike but for who comes and when: what holds for
    visits that may come at any hour holds for all that may not. Days that are alike are looked at once.
    """
    study = bounds.study
    kinds = {(v.protocol, v.start) for visits in study.asked.values() for v in visits}
    if len(kinds) != 1:
        return
    everyone = Lane(tuple(r.id for r in study.rigs), tuple(p.id for p in study.people))
    known: dict[Hashable, int] = {}
    for day in sorted(study.open):
        name = signature(study, everyone, day)
        if name not in known and not budget.is_over:
            known[name] = _most(bounds, lane_study(study, everyone), day)
            budget.spend(LOOK_S)
        if name in known:
            bounds.lower_room(day, known[name])


def _most(bounds: Bounds, free: Study, day: date) -> int:
    """At most so many visits of the only type on that day, whoever comes."""
    one = next(visit for visits in bounds.study.asked.values() for visit in visits)
    count = bounds.room(day)
    made = {
        f"any-{n}": (Visit(f"any-{n}", "any", None, None, one.protocol, None, one.start),)
        for n in range(count)
    }
    visits = tuple(visit for (visit,) in made.values())
    core, _ = translate(DayProblem(replace(free, asked=made), bounds.plans, day, visits))
    return most_placed(core)
