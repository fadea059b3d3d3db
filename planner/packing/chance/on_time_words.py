"""What packing for a chance has reached, and what it costs in places, in words."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from planner.packing.chance.aiming import aim, share_words
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
    plain: Price, dropped: tuple[Price, ...], odds: DayOdds, chance: float, moved: int = 0
) -> tuple[str, ...]:
    """What was asked and reached; where the protocol is the limit; what it costs as far as was found."""
    least = odds.least.all_windows if odds.least else 1.0
    words = [
        f"Asked for: each visit keeps all windows in {share_words(chance)} of plays. "
        f"Played {odds.draws} times, each does in at least {percent(least)}; "
        f"over all visits {percent(odds.share)}, with the laboratory to themselves {percent(odds.ceiling)}.",
        *_limited(odds, chance),
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
    return tuple(words)


def _limited(odds: DayOdds, chance: float) -> Iterator[str]:
    """For how many visits less was aimed at than was asked, and why."""
    low = [visit for visit in odds.visits if aim(visit, chance) < chance]
    for some, why in (
        ([v for v in low if v.ceiling < chance], "less than was asked for"),
        ([v for v in low if v.ceiling >= chance], "too little more than was asked for"),
    ):
        if some:
            alone = min(visit.ceiling for visit in some)
            yield (
                f"{len(some)} of {len(odds.visits)} visits could not be much surer with the laboratory to "
                f"themselves, {percent(alone)} at least, {why}: each was packed for 2 points below what it "
                "reaches alone."
            )


def percent(share: float) -> str:
    """Rounded down, so that nothing is promised that was not reached."""
    return f"{math.floor(share * 1000 + 1e-9) / 10:.1f} %"


def _places(cost: int) -> str:
    """The price as it was found, and what of it is known for sure: nothing but that it need not be more."""
    if cost == 0:
        return "as many"
    if cost < 0:
        return f"{-cost} more"
    return (
        f"{cost} fewer found in this time; that it must cost so many is not proven, "
        "and with more time it may be fewer or none"
    )
