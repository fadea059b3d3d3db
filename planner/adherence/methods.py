"""The paragraph for the methods section of a paper, computed from the record."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from planner.adherence.groups import Clustered, anchor_title, clustered, judged
from planner.adherence.model import Adherence, Kept, PointLine
from planner.adherence.recorded import protocol_files
from planner.adherence.shares import Share, percent
from planner.clock import duration_words
from planner.protocol.model import Protocol
from planner.study.model import Study

_TWO_MINUTES = 120


@dataclass(frozen=True, slots=True)
class Measured:
    """How one kind of time point was kept: seconds from its anchor (the gap, where it lies before)."""

    protocol: str
    step: str
    at_s: int
    side: str
    anchor: str
    anchored: str
    manoeuvres: tuple[str, ...]
    seconds: tuple[int, ...]  # of those measured, rising
    share: Share

    @property
    def quartiles(self) -> tuple[float, float, float] | None:
        """First quartile, median, third quartile; None where nothing was measured."""
        return quartiles(self.seconds)


def quartiles(values: Sequence[float]) -> tuple[float, float, float] | None:
    """First quartile, median and third quartile, interpolated between the nearest two values.

    Hyndman & Fan's definition 7 (Am Stat 1996;50:361-365), the default of NumPy, R and spreadsheets.
    """
    if not values:
        return None
    if len(values) == 1:
        return (float(values[0]),) * 3
    low, middle, high = statistics.quantiles(values, n=4, method="inclusive")
    return low, middle, high


def measured(study: Study, found: Adherence) -> tuple[Measured, ...]:
    """Every kind of time point that was judged, in the order of the visit, protocol by protocol."""
    protocols = protocol_files(study)
    groups: dict[tuple[str, str, int], list[PointLine]] = {}
    for point in judged(found):
        protocol = protocols[point.key]
        groups.setdefault((protocol, point.step, point.at_s), []).append(point)
    return tuple(_measured(study, protocol, points) for (protocol, _, _), points in groups.items())


def _measured(study: Study, protocol: str, points: Sequence[PointLine]) -> Measured:
    first = points[0]
    step = study.protocols[protocol].step(first.step)
    seconds = sorted(p.happened_after_s for p in points if p.happened_after_s is not None)
    kept = sum(point.kept is Kept.ON_TIME for point in points)
    during = [d.measure for d in step.during if any(t.at_s == first.at_s for t in d.time_points)]
    names = during[0] if first.side == "during" and during else step.measure
    return Measured(
        study.protocols[protocol].name,
        first.step,
        first.at_s,
        first.side,
        first.anchor,
        first.anchored,
        names,
        tuple(seconds),
        Share(kept, len(points)),
    )


def methods_paragraph(study: Study, found: Adherence) -> str:
    """Sentences on every kind of time point, the whole, the number of efforts and the rests."""
    kinds = measured(study, found)
    if not kinds:
        return "No time point has been recorded yet."
    sentences = [_sentence(study, one) for one in kinds]
    sentences += [_whole(found), *_efforts(found), *_rests(found)]
    made_up = "These numbers come from a dry run and are made up. " if found.rehearsed else ""
    return made_up + " ".join(sentences)


def _sentence(study: Study, one: Measured) -> str:
    name = _title(study, one)
    share = _percent(one.share)
    if one.quartiles is None:
        return f"{name}, due {_where(study, one, duration_words(one.at_s))}, was never measured."
    low, middle, high = (_seconds(value, one.quartiles[1]) for value in one.quartiles)
    unit = "s" if one.quartiles[1] < _TWO_MINUTES else "min"
    spread = f"{_half(low, high, unit)}; {share}"
    return f"{name} was measured at a median of {_where(study, one, f'{middle} {unit}', f'({spread})')}."


def _half(low: str, high: str, unit: str) -> str:
    """Between which two the middle half of the values lies: first and third quartile, in plain words."""
    return "half of them just that" if low == high else f"half of them between {low} and {high} {unit}"


def _where(study: Study, one: Measured, when: str, brackets: str = "") -> str:
    title = anchor_title(_protocol(study, one), one.anchor)
    when = f"{when} {brackets}".strip()
    if one.side == "before":
        return f"{when} before the start of {title}"
    if one.side == "during":
        return f"{when} after the start of {title}"
    return f"{when} after the {one.anchored} of {title}"


def _title(study: Study, one: Measured) -> str:
    """What is measured; its place in the visit, which follows, tells it from others of the same title."""
    protocol = _protocol(study, one)
    if not one.manoeuvres:
        return f"“{protocol.step(one.step).title}”"
    name, rest = protocol.manoeuvres[one.manoeuvres[0]].title, len(one.manoeuvres) - 1
    return f"{name}{f', the first of {rest + 1} measures,' if rest else ''}"


def _protocol(study: Study, one: Measured) -> Protocol:
    return next(p for p in study.protocols.values() if p.name == one.protocol)


def _seconds(value: float, median: float) -> str:
    if median < _TWO_MINUTES:
        return f"{value:.0f}"
    minutes, seconds = divmod(round(value), 60)
    return f"{minutes}:{seconds:02d}"


def _percent(share: Share) -> str:
    low, high = share.low, share.high
    assert share.share is not None  # a kind of time point has at least one
    assert low is not None
    assert high is not None
    return (
        f"{percent(share.share)} % within the window, 95 % range {percent(low)} to {percent(high)} %, "
        f"{share.kept} of {share.of}"
    )


def _whole(found: Adherence) -> str:
    kept = found.kept
    share = percent(kept.share or 0.0)
    low, high = kept.low or 0.0, kept.high or 0.0  # of none there is no paragraph
    whole = f"Of all {kept.of} time points, {kept.kept} ({share} %, {_range(low, high)}) were on time."
    drawn = cluster_words(clustered(found))
    method = "cluster bootstrap by participant for the second" if drawn else ""
    methods = "; ".join(filter(None, ("Wilson's for ranges of shares", method)))
    return " ".join(filter(None, (whole, drawn, f"Methods: {methods}.")))


def cluster_words(range_: Clustered) -> str:
    """The range that takes participants whole, in words; empty where there is none or it tells nothing."""
    if range_.low is None or range_.high is None or range_.low == range_.high:
        return ""  # all on time, or none: whoever is drawn, the share is the same
    return (
        "Time points of one participant are not independent of each other: taking each of the "
        f"{range_.participants} participants as a whole, it is a {_range(range_.low, range_.high)}."
    )


def _range(low: float, high: float) -> str:
    return f"95 % range {percent(low)} to {percent(high)} %"


def _efforts(found: Adherence) -> Iterable[str]:
    counts = sorted(block.efforts for block in found.blocks)
    if found_quartiles := quartiles(counts):
        low, middle, high = (f"{value:g}" for value in found_quartiles)
        half = _half(low, high, "efforts")
        yield f"A measure took a median of {middle} efforts ({half}; at most {counts[-1]})."


def _rests(found: Adherence) -> Iterable[str]:
    rests = sorted(line.rest_s for line in found.rests)
    if found_quartiles := quartiles(rests):
        low, middle, high = (f"{value:.0f}" for value in found_quartiles)
        cut = sum(line.rest_s < line.asked_s for line in found.rests)
        half = _half(low, high, "s")
        yield f"Rests had a median of {middle} s ({half}); {cut} of {len(rests)} were cut short."
