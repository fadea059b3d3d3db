"""How sure is a packed day? `play(study, plans, schedule) -> DayOdds`: every day played many times."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from planner.clock import Interval
from planner.packing.played import A_HAIR, Played, Role, in_order, play_day, point
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study
from planner.timing.plan import Link, Moment, VisitPlan
from planner.timing.simulate import Player

LATE_SD_S = 300  # arrivals: minutes late as the positive half of a normal curve (assumed, no source)
RULE = (
    "Each rig and person serves in the planned order. What is not due begins at its planned time or as soon "
    "after as can be; a due block at its planned distance from the actual end of the bout."
)


@dataclass(frozen=True)
class WindowOdds:
    """The chance of one window of one visit; `alone` is that of a visit with the laboratory to itself."""

    step: str
    at_s: int | None
    chance: float | None  # None where no draw reached it
    alone: float | None


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


@dataclass(frozen=True)
class Waits:
    """Mean minutes a day that others wait for this rig or person."""

    name: str
    minutes: float


@dataclass(frozen=True)
class DayOdds:
    """What comes of a plan when it is played. `late_end_s`: seconds past the planned end, mean and 90 %."""

    draws: int
    seed: int
    late_sd_s: int
    visits: tuple[VisitOdds, ...]
    late_end_s: Mapping[date, tuple[int, int]]
    waits: tuple[Waits, ...]  # the longest first

    @property
    def share(self) -> float:
        """The share of visits that keep all their windows."""
        return sum(v.all_windows for v in self.visits) / len(self.visits) if self.visits else 1.0

    @property
    def ceiling(self) -> float:
        """The same, where every visit has the laboratory to itself: no plan can do better."""
        return sum(v.ceiling for v in self.visits) / len(self.visits) if self.visits else 1.0

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
            "ceiling": round(self.ceiling, 4),
            "visits": [_visit_json(visit) for visit in self.visits],
            "late_end_s": {
                str(day): {"mean": mean, "in_one_of_ten": high}
                for day, (mean, high) in self.late_end_s.items()
            },
            "waits_min": {wait.name: round(wait.minutes, 2) for wait in self.waits},
        }

    def words(self) -> str:
        """The same in a few lines."""
        lines = [
            f"Played {self.draws} times: {self.share:.1%} of visits keep all windows; "
            f"with the laboratory to themselves {self.ceiling:.1%}."
        ]
        if self.visits:
            worst = min(self.visits, key=lambda v: v.all_windows)
            name = f"{worst.participant} {worst.visit}"
            lines.append(f"Least sure: {name}, {worst.all_windows:.1%} (alone {worst.ceiling:.1%}).")
        for day, (mean, high) in self.late_end_s.items():
            lines.append(f"{day} ends {mean / 60:.0f} min late, in one of ten {high / 60:.0f} min or more.")
        if self.bottleneck is not None:
            lines.append(
                f"Most is waited for {self.bottleneck.name}: {self.bottleneck.minutes:.1f} min in all."
            )
        if any(v.left_alone > 0 for v in self.visits):
            most = max(v.left_alone for v in self.visits)
            lines.append(f"Whoever watches after exercise comes late in up to {most:.1%} of plays.")
        return "\n".join((*lines, RULE))


def _visit_json(odds: VisitOdds) -> dict[str, object]:
    return {
        "participant": odds.participant,
        "visit": odds.visit,
        "date": str(odds.date),
        "all_windows": round(odds.all_windows, 4),
        "ceiling": round(odds.ceiling, 4),
        "left_alone": round(odds.left_alone, 4),
        "windows": [
            {"step": w.step, "at_s": w.at_s, "chance": w.chance, "alone": w.alone} for w in odds.windows
        ],
    }


def play(
    study: Study,
    plans: Mapping[str, VisitPlan],
    schedule: Schedule,
    *,
    draws: int = 2000,
    seed: int = 1,
    late_sd_s: int = LATE_SD_S,
) -> DayOdds:
    """Each day of the plan played `draws` times; the same plan and seed give the same odds."""
    visits: list[VisitOdds] = []
    late: dict[date, tuple[int, int]] = {}
    waits: Counter[str] = Counter()
    for day in schedule.dates:
        roles = _roles(study, plans, schedule.on(day), draws, seed, late_sd_s)
        tasks = [task for task in schedule.rig_tasks if task.start.date() == day]
        played = play_day(roles, tasks, _off(study, day), draws)
        visits += [_odds(played, role, number) for number, role in enumerate(roles)]
        late[day] = _late_end(played, roles)
        waits.update(played.waits_s)
    ordered = sorted(waits.items(), key=lambda item: (-item[1], item[0]))
    return DayOdds(
        draws, seed, late_sd_s, tuple(visits), late, tuple(Waits(name, s / 60) for name, s in ordered)
    )


def _roles(
    study: Study,
    plans: Mapping[str, VisitPlan],
    visits: tuple[PlacedVisit, ...],
    draws: int,
    seed: int,
    late_sd_s: int,
) -> list[Role]:
    """Each visit with random numbers of its own, named by who and what it is: another plan draws the same."""
    asked = {(v.participant, v.file_id): v for several in study.asked.values() for v in several}
    order = {visit: number for number, visit in enumerate(asked)}
    players: dict[str, Player] = {}
    roles = []
    for visit in visits:
        name = asked[visit.participant, visit.file_id].protocol
        player = players.setdefault(name, Player(plans[name].protocol))
        number = order[visit.participant, visit.file_id]
        efforts, arrival = np.random.SeedSequence([seed, number]).spawn(2)
        late = np.abs(np.random.Generator(np.random.PCG64(arrival)).normal(0.0, 1.0, draws)) * late_sd_s
        roles.append(
            Role(visit, plans[name], player.play(efforts, draws), late, in_order(visit, plans[name]))
        )
    return roles


def _off(study: Study, day: date) -> dict[str, list[Interval]]:
    off = {f"person {p.id}": list(p.breaks.get(day, ())) for p in study.people}
    for rig in study.rigs:
        off[f"rig {rig.id}"] = [out for out in rig.out if out.start.date() <= day <= out.end.date()]
    return off


def _odds(played: Played, role: Role, number: int) -> VisitOdds:
    """Chances of the windows that were reached."""
    kept_all = np.ones(played.draws, np.bool_)
    windows = []
    for row, link in enumerate(role.plan.windows):
        kept, reached = _kept(played, role, number, link), role.draws.reached[row]
        kept_all &= kept | ~reached
        chance = round(float(kept[reached].mean()), 4) if reached.any() else None
        alone = role.draws.chance(row)
        owner = role.plan.activities[_owner(link)]
        windows.append(WindowOdds(owner.step, owner.at_s, chance, round(alone.share, 4) if alone else None))
    visit, alone_after = role.visit, played.alone.get(number)
    return VisitOdds(
        visit.participant,
        visit.file_id,
        visit.date,
        tuple(windows),
        float(kept_all.mean()),
        role.draws.chance_of_all().share,
        0.0 if alone_after is None else float(alone_after.mean()),
    )


def _owner(link: Link) -> int:
    """The activity whose time point a window is: the earlier one where it is due before the other."""
    return (link.earlier if link.later.moment is Moment.START else link.later).activity


def _kept(played: Played, role: Role, number: int, link: Link) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    gap = point(played, role, number, link.later) - point(played, role, number, link.earlier)
    low = -np.inf if link.low_s is None else link.low_s
    high = np.inf if link.high_s is None else link.high_s
    kept: np.ndarray[tuple[int], np.dtype[np.bool_]] = (gap >= low - A_HAIR) & (gap <= high + A_HAIR)
    return kept


def _late_end(played: Played, roles: list[Role]) -> tuple[int, int]:
    """Seconds past the planned last end: mean and the ninetieth percentile."""
    planned = max(role.visit.end.timestamp() for role in roles)
    ends = np.max(np.array(list(played.ends.values())), axis=0)
    late = np.maximum(ends - planned, 0.0)
    return round(float(late.mean())), round(float(np.quantile(late, 0.9)))
