"""What comes of a plan when it is played: chances, minutes late, who is waited for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

RULE = (
    "Each device and person serves in the planned order. What is not due begins at its planned time or as "
    "soon after as can be; a due block at its planned distance from the actual end of the bout."
)


LateEnd = tuple[int, int]  # seconds past the planned end: mean, and what one day in ten exceeds


def error_of(share: float, draws: int) -> float:
    """The Monte Carlo standard error of a share of so many draws."""
    return float((share * (1 - share) / draws) ** 0.5)


@dataclass(frozen=True)
class WindowOdds:
    """The chance of one window of one visit; `alone` is that of a visit with the laboratory to itself."""

    step: str
    at_s: int | None
    chance: float | None  # None where no draw reached it
    alone: float | None
    error: float | None = None  # Monte Carlo standard error of `chance`


@dataclass(frozen=True)
class VisitOdds:
    """The chances of one visit; `ceiling` is that of all its windows where the laboratory is its own."""

    participant: str
    visit: str  # file_id
    date: date
    windows: tuple[WindowOdds, ...]
    all_windows: float
    ceiling: float
    left_alone: float  # the chance that whoever should watch after exercise comes late
    error: float = 0.0  # Monte Carlo standard error of `all_windows`


@dataclass(frozen=True)
class Waits:
    """Mean minutes of this rig or person: others wait for it so long, or (on `day`) it stays too long."""

    name: str
    minutes: float
    day: date | None = None


@dataclass(frozen=True)
class DayOdds:
    """What comes of a plan when it is played. `late_end_s`: seconds past the planned end, mean and 90 %.

    `past_shift` are mean minutes for which people work past the end of their shift, of each on the day
    with most; `error` is the Monte Carlo standard error of `share`. `unplayed` days were left out.
    """

    draws: int
    seed: int
    late_sd_s: int
    visits: tuple[VisitOdds, ...]
    late_end_s: Mapping[date, LateEnd]
    waits: tuple[Waits, ...]  # the longest first
    past_shift: tuple[Waits, ...] = ()  # the longest first
    error: float = 0.0
    unplayed: int = 0

    @property
    def share(self) -> float:
        """The share of visits that keep all their windows."""
        return sum(v.all_windows for v in self.visits) / len(self.visits) if self.visits else 1.0

    @property
    def ceiling(self) -> float:
        """The same, where every visit has the laboratory to itself: no plan can do better."""
        return sum(v.ceiling for v in self.visits) / len(self.visits) if self.visits else 1.0

    @property
    def least(self) -> VisitOdds | None:
        """The visit that is least sure."""
        return min(self.visits, key=lambda v: v.all_windows, default=None)

    @property
    def bottleneck(self) -> Waits | None:
        """The rig or person that others wait for the longest."""
        return self.waits[0] if self.waits and self.waits[0].minutes > 0 else None

    def as_json(self) -> dict[str, object]:
        """All of it as one document; shares from 0 to 1, times in seconds or minutes as named."""
        return {
            "draws": self.draws,
            "seed": self.seed,
            "arrivals_late_sd_s": self.late_sd_s,
            "rule": RULE,
            "all_windows": round(self.share, 4),
            "error": round(self.error, 5),
            "ceiling": round(self.ceiling, 4),
            "visits": [_visit_json(visit) for visit in self.visits],
            "late_end_s": {
                str(day): {"mean": mean, "in_one_of_ten": high}
                for day, (mean, high) in self.late_end_s.items()
            },
            "waits_min": {wait.name: round(wait.minutes, 2) for wait in self.waits},
            "unplayed_days": self.unplayed,
            "past_shift_min": {over.name: round(over.minutes, 2) for over in self.past_shift},
        }


def _visit_json(odds: VisitOdds) -> dict[str, object]:
    return {
        "participant": odds.participant,
        "visit": odds.visit,
        "date": str(odds.date),
        "all_windows": round(odds.all_windows, 4),
        "error": round(odds.error, 5),
        "ceiling": round(odds.ceiling, 4),
        "left_alone": round(odds.left_alone, 4),
        "windows": [
            {
                "step": w.step,
                "at_s": w.at_s,
                "chance": w.chance,
                "error": None if w.error is None else round(w.error, 5),
                "alone": w.alone,
            }
            for w in odds.windows
        ],
    }
