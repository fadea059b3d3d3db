"""Whether a day can be had with so much spare time before every windowed block: found, or proven not.

Rigs and people of such a block serve nobody of another visit for that long before it begins. Unlike the
loosening of a plan, turns and hands may change here, so that a no is a proof.
"""

from __future__ import annotations

from collections import defaultdict

from ortools.sat.python import cp_model

from planner.packing.core import Answer, Core, Use, Wants
from planner.packing.hints import add_hint
from planner.packing.intervals import interval
from planner.packing.model import make_model
from planner.packing.objective import AIMS
from planner.packing.solve import Limits, Run, run
from planner.packing.variables import Variables


def with_spare(core: Core, answer: Answer, least: int, reached: dict[str, int], limits: Limits) -> Run:
    """A day with at least so many spare steps and no stage of `reached` worse, or a proof that there is none.

    `reached` holds values of earlier stages in their own units.
    """
    v = make_model(core)
    for name, value in reached.items():
        aim = AIMS[name](v)
        v.model.add(aim.expression * aim.unit_s <= aim.sign * value)
    _keep_free_before(v, least)
    add_hint(v, answer)
    return run(v, None, limits)


def _keep_free_before(v: Variables, least: int) -> None:
    """No use of another job on the same rig or person in the spare time of a windowed block."""
    before: dict[int, dict[int, list[cp_model.IntervalVar]]] = defaultdict(lambda: defaultdict(list))
    whole: dict[int, dict[int, list[cp_model.IntervalVar]]] = defaultdict(lambda: defaultdict(list))
    for number, use in v.uses():
        for r, literal in v.given[use.job][number].items():
            whole[r][use.job].append(interval(v, use, number, literal))
            if _is_held(v.core, use):
                begin = v.start[use.job][use.first] - least
                before[r][use.job].append(
                    v.model.new_optional_fixed_size_interval_var(
                        begin, least, literal, f"spare {use.job}.{number}"
                    )
                )
    for r, by_job in before.items():
        for job, spares in by_job.items():
            others = [one for j, its in whole[r].items() if j != job for one in its]
            for spare in spares:
                _clear_of(v, spare, others)


def _clear_of(v: Variables, spare: cp_model.IntervalVar, others: list[cp_model.IntervalVar]) -> None:
    """The others may overlap each other, as a watch and a block may, but not the spare time."""
    for other in others:
        v.model.add_no_overlap([spare, other])


def _is_held(core: Core, use: Use) -> bool:
    return use.wants in (Wants.RIG, Wants.STAFF) and any(
        window.block == use.first for window in core.jobs[use.job].windows
    )
