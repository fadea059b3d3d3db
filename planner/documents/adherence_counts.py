"""Counts: rests against the least asked for, numbers of efforts and time points against the forecast."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Mapping, Sequence
from statistics import median
from typing import Any

import altair as alt

from planner.adherence.measure_names import measure_names
from planner.adherence.model import Adherence
from planner.adherence.numbers import EffortNumber, effort_numbers
from planner.adherence.recorded import protocol_files
from planner.adherence.scores import Bin, Forecasts, calibration, chances_and_kept
from planner.documents.picture import INK, Picture, Row, picture
from planner.documents.texts import say
from planner.study.model import Study

_BIN_S = 5
_HEIGHT = 120
_LETTERS = 24  # of a head, above a drawing of a third of the page


def rests(study: Study, found: Adherence) -> Picture:
    """How many rests were so many seconds longer (or shorter) than the least asked for, by measure."""
    names, files = measure_names(study), protocol_files(study)
    rows = [
        {
            "measure": names[files[line.key], line.manoeuvre],
            "manoeuvre": line.manoeuvre,
            "participant": line.key.participant,
            "visit": found.visit_name(line.key, None),
            "effort": line.effort,
            "rest_s": line.rest_s,
            "asked_s": line.asked_s,
            "over_s": line.rest_s - line.asked_s,
        }
        for line in found.rests
    ]
    bins, heads = _rest_bins(rows)
    x = alt.X("from:Q", title=None, scale=alt.Scale(nice=False, padding=4))
    cut = alt.condition("datum.from < 0", alt.value(INK), alt.value("white"))
    layers = [
        alt.Chart()
        .mark_bar(stroke=INK, strokeWidth=1)
        .encode(
            x=x,
            x2="to:Q",
            y2=alt.datum(0),
            y=alt.Y("count:Q", title=None, axis=alt.Axis(tickCount=3)),
            color=cut,
        ),
        alt.Chart().mark_rule(strokeWidth=2).encode(x=alt.datum(0)),
    ]
    chart = _side_by_side(alt.layer(*layers, data=alt.Data(values=bins)), "head", list(heads))
    words = " ".join([say("adherence.rests_words"), *(f"{words}." for words in heads.values())])
    return picture("rests", say("adherence.rests_title"), words, chart, rows)


def _rest_bins(rows: Sequence[Row]) -> tuple[list[dict[str, Any]], dict[str, str]]:
    """Bins of 5 s by measure, what is far off in the outermost ones; and a sentence for each head."""
    bins: list[dict[str, Any]] = []
    heads: dict[str, str] = {}
    for measure in dict.fromkeys(row["measure"] for row in rows):
        own = [row for row in rows if row["measure"] == measure]
        values = {"name": measure, "of": len(own), "cut": sum(row["over_s"] < 0 for row in own)}
        head = _wrapped(say("adherence.rests_head", **values))
        middle = f"{median(row['rest_s'] for row in own):g}"
        heads[head] = say("adherence.rests_row", **values, median=middle, asked=own[0]["asked_s"])
        counts: dict[int, int] = {}
        for row in own:
            start = min(120, max(-60, row["over_s"])) // _BIN_S * _BIN_S
            counts[start] = counts.get(start, 0) + 1
        bins += [
            {"head": head, "from": start, "to": start + _BIN_S, "count": count}
            for start, count in sorted(counts.items())
        ]
    return bins, heads


def _wrapped(head: str) -> str:
    """Lines that are no wider than the small drawing below them."""
    return "\n".join(textwrap.wrap(head, _LETTERS, break_long_words=False))


def _side_by_side(chart: alt.LayerChart, field: str, heads: Sequence[str]) -> alt.FacetChart:
    """A small drawing for each head, in two to four columns."""
    facet = alt.Facet(
        f"{field}:N",
        sort=list(heads),
        title=None,
        header=alt.Header(
            labelAnchor="start", labelAlign="left", labelLimit=200, labelExpr="split(datum.label, '\\n')"
        ),
    )
    columns = min(4, max(2, len(heads)))
    small = chart.properties(width=112, height=56)
    return small.facet(facet=facet, columns=columns, spacing={"column": 22, "row": 8})


def numbers(study: Study, found: Adherence, ahead: Forecasts) -> Picture:
    """How many efforts measures took (bars) against the forecast (diamonds), a drawing for each of them."""
    lines = effort_numbers(study, found, ahead)
    names = numbers_names(study, lines)
    rows = [
        {
            "measure": names[line.protocol, line.manoeuvre],
            **line._asdict(),
            "seen_share": 100 * line.seen / line.of,
            "forecast_share": 100 * line.forecast,
        }
        for line in lines
    ]
    heads = numbers_heads(lines, names)
    drawn = [
        {**row, "head": heads[key]} for row in rows if (key := (row["protocol"], row["manoeuvre"])) in heads
    ]
    x = alt.X("efforts:O", title=None, axis=alt.Axis(labelAngle=0))
    y = alt.Y("seen_share:Q", title=None, scale=alt.Scale(domain=[0, 100]), axis=alt.Axis(tickCount=3))
    layers = [
        alt.Chart().mark_bar(color="white", stroke=INK, strokeWidth=1).encode(x=x, y=y),
        alt.Chart()
        .mark_point(shape="diamond", filled=True, size=70, color=INK)
        .encode(x=x, y=alt.Y("forecast_share:Q", title=None)),
    ]
    chart = _side_by_side(alt.layer(*layers, data=alt.Data(values=drawn)), "head", list(heads.values()))
    parts = [
        say(
            "adherence.numbers_line",
            name=row["measure"],
            **{k: row[k] for k in ("efforts", "seen", "of")},
            forecast=f"{row['forecast_share']:.0f}",
        )
        for row in rows
    ]
    words = " ".join([say("adherence.numbers_words"), *parts])
    return picture("efforts", say("adherence.numbers_title"), words, chart, rows)


def numbers_names(study: Study, lines: Sequence[EffortNumber]) -> dict[tuple[str, str], str]:
    """A name for each measure by its protocol's name; the protocol's title before it where two read alike."""
    by_name = {protocol.name: protocol for protocol in study.protocols.values()}
    known = measure_names(study)
    names = {
        (line.protocol, line.manoeuvre): known[by_name[line.protocol].file, line.manoeuvre] for line in lines
    }
    alike = Counter(names.values())
    return {
        key: f"{by_name[key[0]].title}: {name}" if alike[name] > 1 else name for key, name in names.items()
    }


def numbers_heads(
    lines: Sequence[EffortNumber], names: Mapping[tuple[str, str], str]
) -> dict[tuple[str, str], str]:
    """Headings of what is worth a drawing, by protocol and manoeuvre: more than one number seen or forecast.

    Where every measure has one number for certain, all are drawn.
    """
    counts = Counter((line.protocol, line.manoeuvre) for line in lines)
    open_ones = {key for key, count in counts.items() if count > 1} or set(counts)
    return {
        (line.protocol, line.manoeuvre): _wrapped(
            say("adherence.numbers_row", name=names[line.protocol, line.manoeuvre], of=line.of)
        )
        for line in lines
        if (line.protocol, line.manoeuvre) in open_ones
    }


def forecasts_kept(study: Study, found: Adherence, ahead: Forecasts) -> Picture:
    """Of the time points forecast at such a chance (diamonds), how many were kept (circles)."""
    bins = [one for one in calibration(chances_and_kept(study, found, ahead)) if one.kept.of]
    rows = [_bin_row(one) for one in bins]
    x = alt.X("bin:O", title=say("adherence.forecast_axis"), sort=None, axis=alt.Axis(labelAngle=0))
    axis = say("adherence.weeks_axis")
    y = alt.Y("kept_share:Q", title=axis, scale=alt.Scale(domain=[0, 100]))
    base = alt.Chart(alt.Data(values=rows)).encode(x=x)
    chart = alt.layer(
        base.mark_rule(strokeWidth=1.5).encode(y=alt.Y("low:Q", title=axis), y2="high:Q"),
        base.mark_point(size=60, filled=True, fill="white", stroke=INK, strokeWidth=1.5).encode(y=y),
        base.mark_point(shape="diamond", filled=True, size=60, color=INK, xOffset=14).encode(
            y=alt.Y("forecast:Q", title=axis)
        ),
        base.mark_text(baseline="bottom", dy=-4, fontSize=11).encode(y=alt.value(_HEIGHT), text="label:N"),
    ).properties(width=max(200, 90 * len(rows)), height=_HEIGHT)
    parts = [say("adherence.forecast_line", **{k: row[k] for k in ("bin", "kept", "of")}) for row in rows]
    words = " ".join([say("adherence.forecast_words"), *parts])
    return picture("forecasts", say("adherence.forecast_title"), words, chart, rows)


def _bin_row(one: Bin) -> dict[str, Any]:
    share, low, high = one.kept.share, one.kept.low, one.kept.high
    assert share is not None  # only bins with time points are drawn
    assert low is not None
    assert high is not None
    return {
        "bin": say("adherence.forecast_bin", low=f"{100 * one.low:.0f}", high=f"{100 * one.high:.0f}"),
        "forecast": 100 * (one.forecast or 0.0),
        "kept": one.kept.kept,
        "of": one.kept.of,
        "kept_share": 100 * share,
        "low": 100 * low,
        "high": 100 * high,
        "label": f"{one.kept.kept}/{one.kept.of}",
    }
