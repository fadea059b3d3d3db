"""What a mended plan may say of itself: its stages as the list of changes gives them, and their bounds."""

from __future__ import annotations

from dataclasses import dataclass, replace

from planner.packing.mend.day import MendedDay
from planner.packing.problem import VisitKey, key
from planner.schedule.change_values import change_values, visits_on_other_days
from planner.schedule.model import Outcome, PlacedVisit, Schedule, Stage
from planner.study.model import Study


@dataclass(frozen=True)
class Mended:
    """A mended plan and the one before; `away` are cancelled visits.

    `cannot_come`: how many visits are proven to have no place in any plan.
    """

    before: Schedule
    after: Schedule
    days: tuple[MendedDay, ...]
    away: tuple[PlacedVisit, ...]
    cannot_come: int = 0


def mend_stages(mended: Mended, study: Study) -> tuple[Stage, ...]:
    """`placed` and the stages of a mended plan; a stage is proven where value and bound meet.

    The bounds of the days' searches hold for what the searches may choose. What they cannot choose (a real
    end, what was dropped, who is cancelled) is in every plan, and is added to both sides alike.
    """
    after = mended.after
    values = change_values(after, study)
    stages = [_stage("placed", after.placed, max(after.placed, after.asked - mended.cannot_come))]
    for name, given in _given(mended, study).items():
        value, bound = _searched(mended, name)
        least = given - value + bound
        if name == "participants_touched" and sum(day.bounds is not None for day in mended.days) > 1:
            least = min(least, _surely_touched(mended))
        stages.append(_stage(name, values[name], max(0, min(values[name], least))))
    return tuple(stages)


def mended_status(made: Schedule, stages: tuple[Stage, ...]) -> Outcome:
    """OPTIMAL where every stage is proven and all have a place, else FEASIBLE: the day goes on in any case.

    Nothing proves that a new day is the nearest: with a visit on another day it is FEASIBLE at most.
    """
    proven = made.placed == made.asked and not visits_on_other_days(made)
    proven = proven and all(stage.status is Outcome.OPTIMAL for stage in stages)
    return Outcome.OPTIMAL if proven else Outcome.FEASIBLE


def _stage(name: str, value: int, bound: int) -> Stage:
    return Stage(name, value, bound, Outcome.OPTIMAL if value == bound else Outcome.FEASIBLE)


def _searched(mended: Mended, name: str) -> tuple[int, int]:
    """Value and bound of the days' searches; days may touch the same participants: the most of one counts."""
    values = [day.values[name] for day in mended.days if day.values]
    bounds = [day.bounds[name] for day in mended.days if day.bounds]
    if name == "demands_missed":
        return sum(values), sum(bounds) - sum(day.unsure for day in mended.days)
    if name == "participants_touched" and len(bounds) > 1:
        return sum(values), max(bounds) + sum(values) - max(values)
    return sum(values), sum(bounds)


def _surely_touched(mended: Mended) -> int:
    """How many participants every plan touches, of several days: each day might do with the same ones."""
    most = max((day.bounds["participants_touched"] for day in mended.days if day.bounds), default=0)
    return max(most, len({visit.participant for visit in mended.away}))


def _given(mended: Mended, study: Study) -> dict[str, int]:
    """By stage, what every mended plan must have beyond what was searched for.

    Visits that lost their place and have another one now are not counted on this side: nothing proves
    that their new place is the nearest.
    """
    away = {key(visit) for visit in mended.away}
    lost = {key(visit) for day in mended.days for visit in day.lost}
    own = _counted(mended, study, away | lost | _on_another_day(mended))
    gone = _counted(mended, study, away | {key(v) for v in mended.after.visits} - lost)
    new = {key(v): len(v.activities) for v in mended.after.visits if key(v) in away}
    touched = own["participants_touched"] + gone["participants_touched"]
    touched += len({visit.participant for visit in mended.away})
    return {
        "demands_missed": own["demands_missed"],
        "participants_touched": touched,
        "blocks_changed": own["blocks_changed"] + sum(new.values()),
        "shift_s": own["shift_s"],
    }


def _on_another_day(mended: Mended) -> set[VisitKey]:
    """Visits that no search of a day moved: they were put on another day, as near as was found."""
    dates = {key(visit): visit.date for visit in mended.before.visits}
    return {key(v) for v in mended.after.visits if dates.get(key(v), v.date) != v.date}


def _counted(mended: Mended, study: Study, without: set[VisitKey]) -> dict[str, int]:
    """The values without the changes of these visits."""
    kept = tuple(c for c in mended.after.changes if (c.participant or "", c.visit or "") not in without)
    return change_values(replace(mended.after, changes=kept), study)
