"""What stands on the ruler of a visit: bars and brackets, in minutes from the end of exercise."""

from __future__ import annotations

from typing import Any, NamedTuple

from planner.documents.sheet_words import efforts_words
from planner.documents.texts import say
from planner.timing.forecast import Forecast
from planner.timing.plan import Kind, Link, Moment, PlannedActivity, VisitPlan


class Bar(NamedTuple):
    """One activity on the ruler, in minutes from zero."""

    row: str
    what: str
    start: float
    half: float
    planned: float
    longest: float
    kind: Kind
    p10: float | None = None  # nine of ten visits end the bar later than this, with a forecast
    p90: float | None = None  # and nine of ten no later than this


class Bracket(NamedTuple):
    """One window on the ruler, in minutes from zero; `chance` is a share, None without a forecast."""

    what: str
    at: float
    early: float
    late: float
    chance: float | None


def zero_of(plan: VisitPlan) -> int | None:
    """The index of the bout whose end is zero; None where there is no exercise."""
    return next((a.index for a in plan.activities if a.kind is Kind.BOUT), None)


def _zero_s(plan: VisitPlan) -> int:
    bout = zero_of(plan)
    return 0 if bout is None else plan.starts_s[bout] + plan.activities[bout].length_s


def _name(plan: VisitPlan, activity: PlannedActivity) -> str:
    if activity.manoeuvre is not None:
        return efforts_words(plan.protocol.manoeuvres[activity.manoeuvre])
    return plan.protocol.step(activity.step).title


def bars(plan: VisitPlan, forecast: Forecast | None = None) -> list[Bar]:
    """Every activity, a row for each class of rig it needs."""
    return [
        Bar(
            rig,
            _name(plan, activity),
            *_ends(plan, activity, forecast),
            activity.kind,
            *_band(plan, activity, forecast),
        )
        for activity in plan.activities
        for rig in activity.rigs or (say("chart.no_rig"),)
    ]


def _ends(
    plan: VisitPlan, activity: PlannedActivity, forecast: Forecast | None
) -> tuple[float, float, float, float]:
    """Start, end for half of all visits, planned end, longest end: minutes from zero."""
    start_s = plan.starts_s[activity.index] - _zero_s(plan)
    planned_s, longest_s = start_s + activity.length_s, start_s + activity.longest_s
    if forecast is None:
        return start_s / 60, (start_s + activity.shortest_s) / 60, planned_s / 60, longest_s / 60
    starts, ends = _drawn(plan, activity, forecast)
    start = _quantile(starts, 0.5)
    planned = _quantile(ends, float(plan.plan_on))
    return start / 60, _quantile(ends, 0.5) / 60, planned / 60, max(planned, start + activity.longest_s) / 60


def _drawn(plan: VisitPlan, activity: PlannedActivity, forecast: Forecast) -> tuple[Any, Any]:
    """Drawn starts and ends, in seconds from each visit's own zero."""
    draws, bout = forecast.draws, zero_of(plan)
    zero = 0 if bout is None else draws.starts_s[bout] + draws.lengths_s[bout]
    starts = draws.starts_s[activity.index] - zero
    return starts, starts + draws.lengths_s[activity.index]


def _band(
    plan: VisitPlan, activity: PlannedActivity, forecast: Forecast | None
) -> tuple[float | None, float | None]:
    """Between which minutes the end lies in eight of ten visits."""
    if forecast is None:
        return None, None
    _, ends = _drawn(plan, activity, forecast)
    return _quantile(ends, 0.1) / 60, _quantile(ends, 0.9) / 60


def _quantile(values: Any, share: float) -> float:
    """The value that this share of the draws does not exceed."""
    ordered = values.copy()
    ordered.sort()
    return float(ordered[min(len(ordered) - 1, int(share * len(ordered)))])


def brackets(plan: VisitPlan, forecast: Forecast | None = None) -> list[Bracket]:
    """Every window as laid out, with its chance where there is a forecast."""
    return [_bracket(plan, link, forecast) for link in plan.windows]


def _bracket(plan: VisitPlan, link: Link, forecast: Forecast | None) -> Bracket:
    """A window hangs on its anchor: with `before` on the later moment, else on the earlier one."""
    own = _owner(plan, link)
    backwards = own.index == link.earlier.activity
    anchor = link.later if backwards else link.earlier
    base_s = _moment_s(plan, anchor.activity, anchor.moment) - _zero_s(plan)
    sign = -1 if backwards else 1
    places = [base_s + sign * (value or 0) for value in (link.target_s, link.low_s, link.high_s)]
    chance = None
    if forecast is not None and (known := forecast.chances.get(own.index)):
        chance = known.share
    early, late = sorted(places[1:])
    return Bracket(plan.protocol.step(own.step).title, places[0] / 60, early / 60, late / 60, chance)


def _owner(plan: VisitPlan, link: Link) -> PlannedActivity:
    """The activity whose time point the window is: the one that carries the link's path."""
    for end in (link.earlier, link.later):
        activity = plan.activities[end.activity]
        if activity.path == link.path:
            return activity
    return plan.activities[link.later.activity]


def _moment_s(plan: VisitPlan, index: int, moment: Moment) -> int:
    activity, start_s = plan.activities[index], plan.starts_s[index]
    if moment is Moment.START:
        return start_s
    return start_s + (activity.prepare_s if moment is Moment.FIRST_EFFORT else activity.length_s)
