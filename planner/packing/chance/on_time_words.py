"""What packing for a chance has reached, and what it costs in places, in words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from planner.packing.chance.odds import DayOdds


@dataclass(frozen=True)
class Price:
    """So many visits, and how sure they were: all of them, or those of one day."""

    placed: int
    odds: DayOdds | None
    share: float = 0.0
    least: float = 0.0
    day: date | None = None


def on_time_words(
    plain: Price, dropped: tuple[Price, ...], odds: DayOdds, chance: float, below: float, moved: int = 0
) -> tuple[str, ...]:
    """What was reached; what it costs; what more visits would have meant; where the protocol is the limit."""
    least = odds.least.all_windows if odds.least else 1.0
    words = [
        f"Played {odds.draws} times, each visit keeps all windows in at least {percent(least)} of plays; "
        f"over all visits {percent(odds.share)}, with the laboratory to themselves {percent(odds.ceiling)}."
    ]
    if plain.odds is not None:
        unsure = plain.odds.least.all_windows if plain.odds.least else 1.0
        placed = len(odds.visits)
        words.append(
            f"Packed without regard to this: {plain.placed} visits, of which {percent(plain.odds.share)} "
            f"keep all windows, the least sure in {percent(unsure)} of plays. "
            f"Now: {placed} visits, {_places(plain.placed - placed)}."
        )
    if moved:
        words.append(
            f"{moved} visits went to days that hold less, the last of all is on {max(odds.late_end_s)}."
        )
    words += [
        f"With {price.placed} visits those of {price.day} kept all windows in {percent(price.share)} "
        f"of plays, the least sure in {percent(price.least)}."
        for price in dropped
    ]
    low = [visit for visit in odds.visits if visit.ceiling - below < chance]
    if low:
        words.append(
            f"{percent(chance)} is more than the protocol itself allows, or within {below:.0%} "
            f"of it, for {len(low)} visits; they come within {below:.0%} of what it allows."
        )
    return tuple(words)


def percent(share: float) -> str:
    """Rounded down, so that nothing is promised that was not reached."""
    return f"{math.floor(share * 1000 + 1e-9) / 10:.1f} %"


def _places(cost: int) -> str:
    if cost == 0:
        return "as many"
    return f"{abs(cost)} place{'s' if abs(cost) > 1 else ''} {'fewer' if cost > 0 else 'more'}"
