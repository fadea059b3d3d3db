"""Were our forecasts right? Calibration, Brier and pinball scores, before learning and after it.

A score is only fair on visits that taught nothing: the record is split by date, the earlier visits
teach, the later ones judge both the forecast as assumed and the one that has learned.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import fmean
from typing import NamedTuple

from planner.adherence.asked import Asked, asked
from planner.adherence.compare import compare
from planner.adherence.groups import judged
from planner.adherence.learn import learn
from planner.adherence.model import Adherence, Kept
from planner.adherence.moments import RecordedMoments
from planner.adherence.observed import free_after
from planner.adherence.recorded import VisitRecord, by_visit, protocol_files
from planner.adherence.shares import Share
from planner.record.effort import Happened, VisitKey
from planner.schedule.model import Schedule
from planner.study.model import Study
from planner.timing.forecast import Forecast, forecast
from planner.timing.learned import Learned

EDGES = (0.0, 0.5, 0.8, 0.9, 0.95, 1.0)
QUANTILES = (0.5, 0.8, 0.9)


class Bin(NamedTuple):
    """Time points whose chance was forecast within (low, high]: the mean forecast, and how many were kept."""

    low: float
    high: float
    forecast: float | None
    kept: Share


class Score(NamedTuple):
    """Brier score of time points, pinball score of visit lengths (s): less is better, None of nothing."""

    brier: float | None
    points: int
    pinball_s: float | None
    visits: int


@dataclass(frozen=True, slots=True)
class Scores:
    """Scores as assumed and after learning on the same later visits, and the calibration of both."""

    taught_by: int  # visits
    before: Score
    after: Score
    bins_before: tuple[Bin, ...]
    bins_after: tuple[Bin, ...]


Forecasts = Mapping[str, Forecast]


def forecasts(study: Study, learned: Learned | None = None) -> Forecasts:
    """The forecast of each protocol's visit, by the name of its file."""
    return {
        name: forecast(protocol, study.plan_on, seed=study.seed, learned=learned)
        for name, protocol in study.protocols.items()
    }


def brier(pairs: Sequence[tuple[float, bool]]) -> float | None:
    """The mean squared distance of forecast chances from what happened (Brier, Mon Weather Rev 1950)."""
    return fmean((chance - happened) ** 2 for chance, happened in pairs) if pairs else None


def pinball(pairs: Sequence[tuple[float, float]], quantile: float) -> float | None:
    """The mean pinball loss of forecast quantiles against what happened (Koenker & Bassett 1978).

    Going over costs `quantile` a unit, staying under costs the rest.
    """
    if not pairs:
        return None
    return fmean(max(quantile * (y - q), (quantile - 1) * (y - q)) for q, y in pairs)


def calibration(pairs: Sequence[tuple[float, bool]]) -> tuple[Bin, ...]:
    """Of the time points forecast within each range of chances, how many were kept."""
    found = []
    for low, high in pairwise(EDGES):
        inside = [(c, kept) for c, kept in pairs if low < c <= high or (low == 0 and c == 0)]
        mean = fmean(chance for chance, _ in inside) if inside else None
        found.append(Bin(low, high, mean, Share(sum(kept for _, kept in inside), len(inside))))
    return tuple(found)


def chances_and_kept(study: Study, found: Adherence, ahead: Forecasts) -> list[tuple[float, bool]]:
    """For each judged time point its forecast chance, and whether it was kept."""
    protocols = protocol_files(study)
    tables = {name: _chances(one) for name, one in ahead.items()}
    pairs = []
    for point in judged(found):
        chance = tables[protocols[point.key]].get((point.step, point.at_s))
        if chance is not None:
            pairs.append((chance, point.kept is Kept.ON_TIME))
    return pairs


def _chances(ahead: Forecast) -> dict[tuple[str, int], float]:
    activities = ahead.plan.activities
    return {
        (activities[index].step, at_s): chance.share
        for index, chance in reversed(ahead.chances.items())
        if (at_s := activities[index].at_s) is not None
    }


def lengths_s(study: Study, happened: Happened) -> dict[VisitKey, float]:
    """Seconds of each whole recorded visit; those that were stopped or break off are left out."""
    protocols = protocol_files(study)
    wanted = {name: asked(protocol) for name, protocol in study.protocols.items()}
    found = {}
    for key, record in by_visit(happened).items():
        if key in protocols and record.stopped is None:
            length_s = _length_s(wanted[protocols[key]], record)
            if length_s is not None:
                found[key] = length_s
    return found


def _length_s(visit: Asked, record: VisitRecord) -> float | None:
    moments = RecordedMoments(visit, record)
    steps = visit.protocol.visit
    start = free = moments.start(steps[0].id)
    for step in steps:
        free = free_after(step, moments, free)
    return None if start is None or free is None else free - start


def score(study: Study, happened: Happened, ahead: Forecasts) -> Score:
    """How far the forecasts were off for these visits."""
    pairs = chances_and_kept(study, compare(study, None, happened), ahead)
    protocols = protocol_files(study)
    lengths = [(protocols[key], length_s) for key, length_s in lengths_s(study, happened).items()]
    losses = [
        loss
        for quantile in QUANTILES
        if (loss := pinball([(ahead[n].draws.quantile_s(quantile), y) for n, y in lengths], quantile))
        is not None
    ]
    return Score(brier(pairs), len(pairs), fmean(losses) if losses else None, len(lengths))


def scores(
    study: Study, happened: Happened, schedule: Schedule | None = None, *, teach: float = 0.5
) -> Scores:
    """Scores on the later visits, as assumed and after learning from the earlier share `teach` of visits."""
    earlier, later = split(happened, teach)
    before, after = forecasts(study), forecasts(study, learn(study, earlier, schedule))
    judged_on = compare(study, None, later)
    return Scores(
        taught_by=len(by_visit(earlier)),
        before=score(study, later, before),
        after=score(study, later, after),
        bins_before=calibration(chances_and_kept(study, judged_on, before)),
        bins_after=calibration(chances_and_kept(study, judged_on, after)),
    )


def split(happened: Happened, teach: float) -> tuple[Happened, Happened]:
    """The record in two by whole visits, the earlier ones first."""
    records = by_visit(happened)
    order = sorted(records, key=lambda key: _begun(records[key]))
    first = set(order[: round(teach * len(order))])
    return _only(happened, first), _only(happened, set(order) - first)


def _begun(record: VisitRecord) -> float:
    moments = [mark.at.timestamp() for mark in record.marks.values()]
    began = record.began()
    return min([*moments, *([] if began is None else [began])], default=0.0)


def _only(happened: Happened, keys: set[VisitKey]) -> Happened:
    return replace(
        happened,
        efforts=tuple(effort for effort in happened.efforts if effort.key in keys),
        marks=tuple(mark for mark in happened.marks if mark.key in keys),
    )
