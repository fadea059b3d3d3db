"""The ruler: one visit along the minutes from the end of exercise, with its windows as brackets.

Bars are solid to the end that half of all visits need, lighter to the planned quantile, with a thin
tail to the longest. Without a forecast the planned layout stands alone, its bars solid to the shortest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from planner.documents.boards import PALETTE
from planner.documents.picture import Picture, picture
from planner.documents.ruler_marks import Bar, Bracket, bars, brackets, zero_of
from planner.documents.shown import length_words
from planner.documents.texts import say
from planner.timing.forecast import Forecast
from planner.timing.plan import Kind, VisitPlan

_ROW = 38  # pixels: a bar with a name over or under it
_NAME_MIN = 5  # minutes that a name over a bar takes
_CROWDED = 0.9  # a chance below this is hatched
_STROKES = 150  # of a hatch over the whole ruler
_STROKE_AREA = 20**2  # square pixels around one


def visit_chart(plan: VisitPlan, forecast: Forecast | None = None) -> alt.LayerChart:
    """The ruler of one visit; with a forecast its quantiles and chances."""
    found = bars(plan, forecast)
    windows = brackets(plan, forecast)
    order = [say("chart.due"), *dict.fromkeys(bar.row for bar in found)]
    title = say("chart.minutes_exercise" if zero_of(plan) is not None else "chart.minutes_start")
    x = alt.X("start:Q", title=title, scale=alt.Scale(nice=True, zero=False))
    y = alt.Y("row:N", title=None, sort=order, scale=alt.Scale(domain=order))
    layers = [*_bar_layers(found, x, y), *_window_layers(windows, _span(found), y)]
    if zero_of(plan) is not None:
        zero = alt.Chart(alt.Data(values=[{"start": 0}])).mark_rule(strokeWidth=3, color="black")
        layers.append(zero.encode(x=x))
    return alt.layer(*layers).properties(width="container", height=alt.Step(_ROW))


def _span(found: list[Bar]) -> float:
    """Minutes from the first start to the last end."""
    return max(1.0, max(bar.longest for bar in found) - min(bar.start for bar in found)) if found else 1.0


def visit_picture(plan: VisitPlan, forecast: Forecast | None = None, *, width: int = 680) -> Picture:
    """The ruler for a paper: SVG, PNG and PDF in the face of all documents, with its words and its rows."""
    chart = visit_chart(plan, forecast).properties(width=width)
    rows: list[dict[str, object]] = [
        {**bar._asdict(), "kind": bar.kind.value} for bar in bars(plan, forecast)
    ]
    rows += [bracket._asdict() for bracket in brackets(plan, forecast)]
    name = f"ruler_{plan.protocol.name}"
    return picture(name, plan.protocol.title, visit_words(plan, forecast), chart, rows)


def visit_words(plan: VisitPlan, forecast: Forecast | None = None) -> str:
    """What the ruler shows, for eyes that can't use it."""
    length = {
        "least": length_words(plan.shortest_s),
        "most": length_words(plan.longest_s),
        "planned": length_words(plan.alone_s),
    }
    parts = [say("chart.ruler_head", **length)]
    for bar in bars(plan, forecast):
        parts.append(
            say("chart.ruler_block", what=bar.what, start=_minutes(bar.start), end=_minutes(bar.planned))
        )
    for window in brackets(plan, forecast):
        chance = "" if window.chance is None else say("chart.ruler_chance", kept=_of_100(window.chance))
        times = {"at": _minutes(window.at), "early": _minutes(window.early), "late": _minutes(window.late)}
        parts.append(say("chart.ruler_window", what=window.what, chance=chance, **times))
    return " ".join(parts)


def _minutes(value: float) -> str:
    return f"{value:.1f}".replace("-", "−").removesuffix(".0")


def _of_100(chance: float) -> int:
    """Cut, not rounded: 100 of 100 is said only where every simulated visit was on time."""
    return int(100 * chance + 1e-9)


def _bar_layers(found: list[Bar], x: alt.X, y: alt.Y) -> list[alt.Chart]:
    rows = list(dict.fromkeys(bar.row for bar in found))
    colours = alt.Color(
        "row:N",
        scale=alt.Scale(domain=rows, range=[_colour(row, n) for n, row in enumerate(rows)]),
        legend=None,
    )
    values = _bar_values(found)
    base = alt.Chart(alt.Data(values=values)).encode(y=y)
    tip = [
        alt.Tooltip("what:N"),
        *(alt.Tooltip(f"{n}:Q", format=".1f") for n in ("start", "p10", "half", "planned", "p90", "longest")),
    ]
    return [
        base.mark_rule(strokeWidth=2, color="black").encode(x=x, x2=alt.X2("longest:Q")),
        base.mark_bar(height=18, opacity=0.45, stroke="black").encode(
            x=x, x2=alt.X2("planned:Q"), color=colours, tooltip=tip
        ),
        base.mark_bar(height=18, stroke="black").encode(x=x, x2=alt.X2("half:Q"), color=colours, tooltip=tip),
        base.transform_filter("datum.p90 > datum.p10")  # where the end lies in eight of ten visits
        .mark_bar(height=4, color="black", aria=False)
        .encode(x=alt.X("p10:Q"), x2=alt.X2("p90:Q")),
        *(
            base.transform_filter(f"datum.under == {str(under).lower()}")
            .mark_text(align="left", dx=2, dy=14 if under else -14, fontWeight="bold")
            .encode(x=x, text=alt.Text("letter:N"))
            for under in (False, True)
        ),
    ]


def _bar_values(found: list[Bar]) -> list[dict[str, object]]:
    """The bars as values; names that would run into the one before stand under their bar."""
    values: list[dict[str, object]] = []
    last: dict[tuple[str, bool], float] = {}  # where the last name of a row began, over and under its bars
    for bar in sorted(found, key=lambda bar: bar.start):
        over, below = (bar.start - last.get((bar.row, side), -1e9) for side in (False, True))
        under = over < _NAME_MIN and below > over
        if _letter(bar):
            last[bar.row, under] = bar.start
        values.append(bar._asdict() | {"kind": bar.kind.value, "letter": _letter(bar), "under": under})
    return values


def _letter(bar: Bar) -> str:
    return "" if bar.kind in (Kind.REST, Kind.TASK) else bar.what.split(" ")[0]


def _colour(row: str, place: int) -> str:
    return "#DDDDDD" if row == say("chart.no_rig") else PALETTE[place % len(PALETTE)]


def _window_layers(windows: list[Bracket], span: float, y: alt.Y) -> list[alt.Chart]:
    values = [
        {
            **w._asdict(),
            "row": say("chart.due"),
            "words": "" if w.chance is None else say("chart.chance", kept=_of_100(w.chance)),
            "crowded": w.chance is not None and w.chance < _CROWDED,
        }
        for w in windows
    ]
    base = alt.Chart(alt.Data(values=values)).encode(y=y)
    return [
        *_crowded_layers(values, span, y),
        base.mark_text(text="[", fontSize=22, aria=False, align="right", dx=3).encode(x=alt.X("early:Q")),
        base.mark_text(text="]", fontSize=22, aria=False, align="left", dx=-3).encode(x=alt.X("late:Q")),
        base.mark_tick(thickness=2, color="black", size=16).encode(x=alt.X("at:Q")),
        base.mark_text(dy=-16, fontSize=11).encode(x=alt.X("at:Q"), text=alt.Text("words:N")),
    ]


def _crowded_layers(values: Sequence[Mapping[str, Any]], span: float, y: alt.Y) -> list[alt.Chart]:
    """Slanted strokes across each crowded window, side by side at one distance on the whole ruler."""
    step = span / _STROKES
    strokes = [
        {"row": value["row"], "x": value["early"] + step * (n + 0.5)}
        for value in values
        if value["crowded"]
        for n in range(max(1, round((value["late"] - value["early"]) / step)))
    ]
    if not strokes:
        return []
    chart = alt.Chart(alt.Data(values=strokes))
    mark = chart.mark_point(shape="M-.3,1L.3,-1", size=_STROKE_AREA, stroke="black", aria=False)
    return [mark.encode(x=alt.X("x:Q"), y=y)]
