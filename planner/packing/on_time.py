"""A plan whose visits keep all their windows with a given chance, and what that costs in places."""

from __future__ import annotations

import math
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from planner.packing.pack import pack
from planner.packing.play import LATE_SD_S, DayOdds, VisitOdds, play
from planner.schedule.model import NotPlaced, Outcome, PlacedVisit, Reason, Schedule, Stage
from planner.schedule.values import stage_values
from planner.study.model import Study
from planner.timing.plan import VisitPlan

HOLDS_S = (
    0,
    120,
    60,
    240,
)  # for how long rigs and people are held before windowed blocks; the plain plan first
BELOW_CEILING = 0.02  # where the ceiling is lower than what is asked, a visit is to come this near to it


@dataclass(frozen=True)
class Try:
    """One plan, how it was packed, and what comes of it when it is played."""

    hold_s: int
    schedule: Schedule
    odds: DayOdds


def pack_on_time(
    study: Study,
    plans: Mapping[str, VisitPlan],
    *,
    chance: float,
    seconds: float,
    now: datetime,
    version: int,
    late_sd_s: int = LATE_SD_S,
) -> Schedule:
    """The plan with the most visits that all keep their windows with that chance.

    Where a visit's own ceiling is lower, it is to come within two points of that. Plans with rigs and
    people held before windowed blocks are tried; then visits that keep others from it are left out,
    and named. Reasons say what was reached and what it costs. Arrivals are late as `play`
    assumes unless `late_sd_s` says otherwise. `seconds` limit the whole call.
    """
    until = time.monotonic() + seconds
    best: Try | None = None
    plain: Try | None = None
    for number, hold_s in enumerate(HOLDS_S):
        left_s = until - time.monotonic()
        if best is not None and left_s < 0.5 * seconds / len(HOLDS_S):
            break
        share_s = left_s / (len(HOLDS_S) - number)
        made = pack(study, plans, seconds=share_s, now=now, version=version, guard_s=hold_s)
        tried = Try(hold_s, made, play(study, plans, made, late_sd_s=late_sd_s))
        plain = plain or tried
        mended = _leave_out(study, plans, tried, chance, late_sd_s)
        if best is None or _worth(mended) > _worth(best):
            best = mended
        if best.schedule.placed == made.asked:
            break
    assert best is not None
    assert plain is not None
    return _with_words(best, plain, chance)


def _worth(tried: Try) -> tuple[int, float]:
    return tried.schedule.placed, tried.odds.share


def aim(odds: VisitOdds, chance: float) -> float:
    """What a visit is to reach: the chance asked for, or almost its own ceiling where that is lower."""
    return min(chance, odds.ceiling - BELOW_CEILING)


def _leave_out(
    study: Study, plans: Mapping[str, VisitPlan], tried: Try, chance: float, late_sd_s: int
) -> Try:
    """Without the visits that keep others, or themselves, from the chance: one by one, the best first."""
    while short := [v for v in tried.odds.visits if v.all_windows < aim(v, chance)]:
        days = {odds.date for odds in short}
        candidates = [v for v in tried.schedule.visits if v.date in days]
        options = [_without(study, plans, tried.schedule, visit) for visit in candidates]
        played = [
            Try(tried.hold_s, option, play(study, plans, option, draws=1000, late_sd_s=late_sd_s))
            for option in options
        ]
        chosen = min(played, key=lambda one: _missing(one.odds, chance)).schedule
        tried = Try(tried.hold_s, chosen, play(study, plans, chosen, late_sd_s=late_sd_s))
    return tried


def _missing(odds: DayOdds, chance: float) -> float:
    """How much is missing to what each visit is to reach, summed."""
    return sum(max(0.0, aim(v, chance) - v.all_windows) for v in odds.visits)


def _without(
    study: Study, plans: Mapping[str, VisitPlan], schedule: Schedule, visit: PlacedVisit
) -> Schedule:
    """The plan without one visit, which is named, and without the later ones of its participant."""
    gone = [
        other
        for other in schedule.visits
        if other.participant == visit.participant and other.start.timestamp() >= visit.start.timestamp()
    ]
    words = "left out, so that the visits of its day keep their windows with the chance asked for"
    smaller = replace(
        schedule,
        visits=tuple(v for v in schedule.visits if v not in gone),
        not_placed=(*schedule.not_placed, *(NotPlaced(v.participant, v.file_id, words) for v in gone)),
        status=Outcome.FEASIBLE,
    )
    return replace(smaller, stages=_stages(smaller, study, plans))


def _stages(schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]) -> tuple[Stage, ...]:
    """Only what is still sure of fewer visits: the bound of the places holds, no other does."""
    values = stage_values(schedule, study, plans)
    placed = next((stage for stage in schedule.stages if stage.name == "placed"), None)
    if placed is None:
        return ()
    sure = Outcome.OPTIMAL if placed.bound == values["placed"] else Outcome.FEASIBLE
    return (Stage("placed", values["placed"], placed.bound, sure),)


def _with_words(best: Try, plain: Try, chance: float) -> Schedule:
    """The plan with what was reached and what it costs as its last reasons."""
    odds = best.odds
    least = min((visit.all_windows for visit in odds.visits), default=1.0)
    low = [visit for visit in odds.visits if visit.ceiling - BELOW_CEILING < chance]
    reached = (
        f"Played {odds.draws} times, each visit keeps all windows in at least {_percent(least)} of plays; "
        f"over all visits {_percent(odds.share)}, with the laboratory to themselves {_percent(odds.ceiling)}."
    )
    cost = plain.schedule.placed - best.schedule.placed
    price = (
        f"Packed without regard to this: {plain.schedule.placed} visits, of which "
        f"{_percent(plain.odds.share)} keep all windows. Now: {best.schedule.placed} visits, {_places(cost)}"
        + (f", rigs and people held {best.hold_s} s before windowed blocks." if best.hold_s else ".")
    )
    words = [reached, price]
    if low:
        words.append(
            f"{_percent(chance)} is more than the protocol itself allows, or within {BELOW_CEILING:.0%} "
            f"of it, for {len(low)} visits; they come within {BELOW_CEILING:.0%} of what it allows."
        )
    reasons = (*best.schedule.reasons, *(Reason(line) for line in words))
    return replace(best.schedule, reasons=reasons)


def _percent(share: float) -> str:
    """Rounded down, so that nothing is promised that was not reached."""
    return f"{math.floor(share * 1000) / 10:.1f} %"


def _places(cost: int) -> str:
    if cost == 0:
        return "as many"
    return f"{abs(cost)} place{'s' if abs(cost) > 1 else ''} {'fewer' if cost > 0 else 'more'}"
