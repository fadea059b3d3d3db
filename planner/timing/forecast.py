"""The timed plan of one visit with its chances: `forecast(protocol, plan_on) -> Forecast`."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from planner.protocol.model import Protocol
from planner.timing.lay_out import lay_out
from planner.timing.learned import Learned
from planner.timing.plan import VisitPlan
from planner.timing.simulate import Chance, Draws, chance_of, simulate, window_paths

_FEWEST, _MOST = 32_768, 1_048_576  # drawn visits


@dataclass(frozen=True, slots=True)
class EffortForecast:
    """A manoeuvre's number of efforts: mean, chance of agreement by each number, and of none at all."""

    mean: float
    mean_error: float
    done_by: dict[int, Chance]
    without_agreement: Chance


@dataclass(frozen=True, slots=True)
class Forecast:
    """A plan, its drawn visits, and what follows from them; `lengths_s` by name, in seconds."""

    plan: VisitPlan
    draws: Draws
    seed: int
    lengths_s: dict[str, int]
    chances: dict[int, Chance]  # of the plan's activities that have a time point, by index
    efforts: dict[str, EffortForecast]

    def as_json(self) -> dict[str, object]:
        """The document that `time --json` prints."""
        protocol = self.plan.protocol
        return {
            "protocol": protocol.name,
            "version": protocol.version,
            "length_s": self.lengths_s,
            "blocks": [self._block(i) for i, a in enumerate(self.plan.activities) if a.manoeuvre],
            "tasks": [self._task(i) for i, a in enumerate(self.plan.activities) if not a.manoeuvre],
            "efforts": {name: _efforts_json(found) for name, found in self.efforts.items()},
            "draws": self.draws.visit_s.size,
            "seed": self.seed,
        }

    def _block(self, index: int) -> dict[str, object]:
        activity, start = self.plan.activities[index], self.plan.starts_s[index]
        return {
            "step": activity.step,
            "at_s": activity.at_s,
            "manoeuvre": activity.manoeuvre,
            "start_s": start,
            "first_effort_s": start + activity.prepare_s,
            "end_s": start + activity.length_s,
            "planned_efforts": activity.planned_efforts,
            **self._chance(index),
        }

    def _task(self, index: int) -> dict[str, object]:
        activity, start = self.plan.activities[index], self.plan.starts_s[index]
        return {
            "step": activity.step,
            "at_s": activity.at_s,
            "kind": activity.kind.value,
            "start_s": start,
            "end_s": start + activity.length_s,
            **self._chance(index),
        }

    def _chance(self, index: int) -> dict[str, object]:
        found = self.chances.get(index)
        return {
            "chance_on_time": round(found.share, 6) if found else None,
            "standard_error": round(found.error, 6) if found else None,
        }


def forecast(
    protocol: Protocol,
    plan_on: Decimal,
    *,
    seed: int = 1,
    learned: Learned | None = None,
    error: float = 0.002,
) -> Forecast:
    """The visit laid out at `plan_on` (a share), and what drawn visits say about it.

    Draws are doubled until no chance has a standard error above `error` (at most 1 048 576 draws).
    """
    plan = lay_out(protocol, plan_on, learned)
    number = _FEWEST
    draws = simulate(protocol, seed=seed, draws=number, learned=learned)
    while _largest_error(draws) > error and number < _MOST:
        number *= 2
        draws = simulate(protocol, seed=seed, draws=number, learned=learned)
    rows = window_paths(draws.outline)
    found = {a.index: draws.chance(rows[a.path]) for a in plan.activities if a.path in rows}
    return Forecast(
        plan=plan,
        draws=draws,
        seed=seed,
        lengths_s={
            "shortest": plan.shortest_s,
            "p50": draws.quantile_s(0.5),
            "p80": draws.quantile_s(0.8),
            "p90": draws.quantile_s(0.9),
            "longest": plan.longest_s,
        },
        chances={index: chance for index, chance in found.items() if chance is not None},
        efforts=_efforts(protocol, draws),
    )


def _largest_error(draws: Draws) -> float:
    """The largest standard error of all chances of time points and of agreement."""
    rows = [draws.chance(row) for row in range(len(draws.outline.windows))]
    found = [chance for chance in rows if chance is not None]
    for forecast_of in _efforts(draws.outline.protocol, draws).values():
        found += [*forecast_of.done_by.values(), forecast_of.without_agreement]
    return max((chance.error for chance in found), default=0.0)


def _efforts(protocol: Protocol, draws: Draws) -> dict[str, EffortForecast]:
    found = {}
    for name, manoeuvre in protocol.manoeuvres.items():
        rows = [s.index for s in draws.outline.spots if s.manoeuvre and s.manoeuvre.id == name]
        if not rows:
            continue
        efforts, agreed = draws.efforts[rows], draws.agreed[rows]
        numbers = range(manoeuvre.at_least, manoeuvre.at_most + 1) if manoeuvre.enough else ()
        found[name] = EffortForecast(
            mean=float(efforts.mean()),
            mean_error=float(efforts.std() / np.sqrt(efforts.size)),
            done_by={n: chance_of(int((agreed & (efforts <= n)).sum()), agreed.size) for n in numbers},
            without_agreement=chance_of(int((~agreed).sum()) if manoeuvre.enough else 0, agreed.size),
        )
    return found


def _efforts_json(found: EffortForecast) -> dict[str, object]:
    return {
        "mean": round(found.mean, 4),
        "mean_standard_error": round(found.mean_error, 6),
        "chance_done_by": {str(n): round(chance.share, 6) for n, chance in found.done_by.items()},
        "chance_without_agreement": round(found.without_agreement.share, 6),
    }
