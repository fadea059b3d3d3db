"""What comes of a plan when it is played, in words: what was assumed, then chances and minutes."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator

from planner.clock import duration_words
from planner.packing.chance.odds import RULE, DayOdds, VisitOdds, WindowOdds

MEAN_OF_SD = math.sqrt(2 / math.pi)  # of the positive half of a normal curve


def odds_words(odds: DayOdds) -> str:
    """All of it, a line each."""
    lines = [
        f"Played {odds.draws} times: {odds.share:.1%} of visits keep all windows "
        f"({give_or_take(2 * odds.error)}); with the laboratory to themselves {odds.ceiling:.1%}.",
        late_words(odds.late_sd_s),
    ]
    if odds.unplayed:
        lines.append(
            f"Stopped early: {odds.unplayed} of {odds.unplayed + len(odds.late_end_s)} days not played."
        )
    if odds.least is not None:
        lines.append(f"Least sure: {_visit(odds.least, odds.draws)}.")
    lines += _windows(odds)
    for day, (mean, high) in odds.late_end_s.items():
        lines.append(f"{day} ends {mean / 60:.0f} min late, in one of ten {high / 60:.0f} min or more.")
    if odds.bottleneck is not None:
        lines.append(f"Most is waited for {odds.bottleneck.name}: {odds.bottleneck.minutes:.1f} min in all.")
    if odds.past_shift and odds.past_shift[0].minutes >= 1:
        over = odds.past_shift[0]
        lines.append(
            f"Longest past the end of a shift: {over.name} on {over.day}, {over.minutes:.1f} min on average."
        )
    if any(v.left_alone > 0 for v in odds.visits):
        most = max(v.left_alone for v in odds.visits)
        lines.append(f"Whoever watches after exercise comes late in up to {most:.1%} of plays.")
    return "\n".join((*lines, RULE))


def late_words(late_sd_s: int) -> str:
    """What is assumed of arrivals."""
    if not late_sd_s:
        return "Assumed: every participant arrives on time."
    mean, most = (f"{factor * late_sd_s / 60:.0f} min" for factor in (MEAN_OF_SD, 1.645))
    return (
        "Assumed, not measured: participants arrive late, never early, as the positive half of a normal "
        f"curve with SD {duration_words(late_sd_s)}: {mean} on average, one of ten {most} or more."
    )


def give_or_take(error: float) -> str:
    """Twice a standard error in words; where no draw differed it is small, not nothing."""
    return f"give or take {error:.1%}" if error >= 0.0005 else "give or take less than 0.1%"


def _visit(visit: VisitOdds, draws: int) -> str:
    alone = 2 * math.sqrt(visit.ceiling * (1 - visit.ceiling) / draws)
    return (
        f"{visit.participant} {visit.visit}, {visit.all_windows:.1%} ({give_or_take(2 * visit.error)}); "
        f"alone {visit.ceiling:.1%} ({give_or_take(alone)})"
    )


def _windows(odds: DayOdds) -> Iterator[str]:
    """Each time point over all visits that have it: its chance, and that of the visit with the least."""
    found: dict[tuple[str, int | None], list[tuple[float, VisitOdds, WindowOdds]]] = defaultdict(list)
    for visit in odds.visits:
        for window in visit.windows:
            if window.chance is not None:
                found[window.step, window.at_s].append((window.chance, visit, window))
    for (step, at_s), its in found.items():
        least, visit, _ = min(its, key=lambda one: one[0])
        at = "" if at_s is None else f" at {duration_words(at_s)}"
        mean = sum(chance for chance, _, _ in its) / len(its)
        yield (
            f"  {step}{at}: {mean:.1%} on time over {len(its)} visits, "
            f"least {least:.1%} ({visit.participant} {visit.visit})"
        )
