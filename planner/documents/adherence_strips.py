"""Strips: every time point with its window and a mark for each participant; the weeks with their numbers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import altair as alt

from planner.adherence.groups import by_week, judged, point_names
from planner.adherence.model import Adherence, Kept
from planner.documents.picture import INK, Picture, Row, picture
from planner.documents.texts import say
from planner.study.model import Study

_WEEKS_HEIGHT = 120
_FEW = 12  # marks of one row that are drawn large


def time_points(study: Study, found: Adherence) -> Picture:
    """Every time point as a strip: its window, and a mark for each visit, the first on top."""
    rows = _point_rows(study, found)
    limit = _limit(rows)
    drawn = [
        {
            **row,
            "shown": None if row["off_at_s"] is None else max(-limit, min(limit, row["off_at_s"])),
            "beyond": _beyond(row["off_at_s"], limit),
        }
        for row in rows
    ]
    names = list(dict.fromkeys(row["time_point"] for row in rows))
    heads = {name: _head(name, [row for row in rows if row["time_point"] == name]) for name in names}
    for row in drawn:
        row["time_point"] = heads[str(row["time_point"])]
    chart = _strips(drawn, list(heads.values()), limit)
    words = " ".join([say("adherence.points_words"), *(f"{head}." for head in heads.values())])
    return picture("time-points", say("adherence.points_title"), words, chart, rows)


def _point_rows(study: Study, found: Adherence) -> list[dict[str, Any]]:
    order: dict[str, int] = {}
    rows, name_of = [], point_names(study)
    for point in sorted(judged(found), key=lambda p: p.happened.timestamp() if p.happened else 0.0):
        name = name_of(point)
        sign = -1 if point.side == "before" else 1
        after_s = point.happened_after_s
        order[name] = order.get(name, 0) + 1
        bounds = sorted(sign * (edge - point.at_s) for edge in (point.low_s, point.high_s))
        rows.append(
            {
                "time_point": name,
                "participant": point.key.participant,
                "visit": found.visit_name(point.key, None),
                "happened_after_s": after_s,
                "off_at_s": None if after_s is None else sign * (after_s - point.at_s),
                "early_s": bounds[0],
                "late_s": bounds[1],
                "kept": point.kept.value,
                "order": order[name],
            }
        )
    names = list(dict.fromkeys(name_of(point) for point in found.time_points))
    return sorted(rows, key=lambda row: (names.index(str(row["time_point"])), row["order"]))


def _limit(rows: Sequence[Row]) -> int:
    """How far the strips reach, in seconds; what lies beyond is drawn at the edge, with its size."""
    widest = max((max(abs(row["early_s"]), abs(row["late_s"])) for row in rows), default=60)
    furthest = max((abs(row["off_at_s"]) for row in rows if row["off_at_s"] is not None), default=0)
    return round(max(60, min(2 * widest, max(1.2 * widest, 1.1 * furthest))))


def _beyond(off_s: int | None, limit: int) -> str:
    if off_s is None or abs(off_s) <= limit:
        return ""
    return f"{'+' if off_s > 0 else '-'}{abs(off_s) // 60}:{abs(off_s) % 60:02d}"


def _head(name: str, rows: Sequence[Row]) -> str:
    kept = sum(row["kept"] == Kept.ON_TIME for row in rows)
    never = sum(row["kept"] == Kept.NEVER for row in rows)
    words = say("adherence.points_row", name=name, kept=kept, of=len(rows))
    return words + (say("adherence.points_never", never=never) if never else "")


def _strips(rows: Sequence[Row], heads: Sequence[str], limit: int) -> alt.TopLevelMixin:
    most = max((row["order"] for row in rows), default=1)
    x = alt.X("shown:Q", title=say("adherence.points_axis"), scale=alt.Scale(domain=[-limit, limit]))
    y = alt.Y("order:Q", axis=None, scale=alt.Scale(domain=[0, most + 1], reverse=True))
    base = alt.Chart().encode(y=y)
    size = 50 if most > _FEW else 80
    height = max(34, min(72, 7 * most))
    shape = alt.Shape(
        "kept:N",
        scale=alt.Scale(
            domain=[Kept.ON_TIME, Kept.EARLY, Kept.LATE], range=["circle", "triangle-left", "triangle-right"]
        ),
        legend=None,
    )
    filled = alt.condition(f"datum.kept == '{Kept.ON_TIME}'", alt.value("white"), alt.value(INK))
    layers = [
        alt.Chart().mark_rule(strokeWidth=1, strokeDash=[3, 3]).encode(x=alt.datum(0)),
        base.mark_point(size=size, stroke=INK, strokeWidth=1).encode(x=x, shape=shape, fill=filled),
        base.mark_text(dx=-9, align="right", fontSize=11).encode(x=x, text="beyond:N"),
        *_brackets(limit, height),  # over the marks: where all lie at an end of the window, it shows still
    ]
    facet = alt.Row(
        "time_point:N",
        sort=list(heads),
        title=None,
        header=alt.Header(labelAngle=0, labelAnchor="start", labelAlign="left", labelOrient="top"),
    )
    data = alt.Data(values=list(rows))
    return alt.layer(*layers, data=data).properties(width=560, height=height).facet(row=facet)


def _brackets(limit: int, height: int) -> list[alt.Chart]:
    """The window's two ends, each a line with short arms inwards, as tall as the row."""
    base = alt.Chart().transform_filter("datum.order == 1")
    layers = []
    for edge, way in (("early_s", 1), ("late_s", -1)):
        arm = base.transform_calculate(arm=f"datum.{edge} + {way * limit / 60}")
        layers.append(base.mark_rule(strokeWidth=2).encode(x=f"{edge}:Q"))
        layers += [
            arm.mark_rule(strokeWidth=2).encode(x=f"{edge}:Q", x2="arm:Q", y=alt.value(y))
            for y in (0, height)
        ]
    return layers


def weeks(found: Adherence) -> Picture:
    """A strip of weeks: numbers and a mark with its range for each."""
    groups = by_week(found)
    rows = [
        {
            "week": group.name,
            "on_time": group.share.kept,
            "of": group.share.of,
            "share": _percent(group.share.share),
            "low": _percent(group.share.low),
            "high": _percent(group.share.high),
            "label": f"{group.share.kept}/{group.share.of}",
        }
        for group in groups
    ]
    x = alt.X("week:O", title=None, axis=alt.Axis(labelAngle=0, labelOverlap="greedy", grid=False))
    y = alt.Y("share:Q", title=say("adherence.weeks_axis"), scale=alt.Scale(domain=[0, 100]))
    base = alt.Chart(alt.Data(values=rows)).encode(x=x)
    chart = alt.layer(
        base.mark_rule(strokeWidth=1.5).encode(
            y=alt.Y("low:Q", title=say("adherence.weeks_axis")), y2="high:Q"
        ),
        base.mark_point(size=60, filled=True, fill="white", stroke=INK, strokeWidth=1.5).encode(y=y),
        base.mark_text(dy=-4, baseline="bottom", fontSize=11).encode(
            y=alt.value(_WEEKS_HEIGHT), text="label:N"
        ),
    )
    words = say("adherence.weeks_words") + " ".join(
        f"{row['week']}: {row['label']} ({row['share']:.0f} %)." for row in rows
    )
    chart = chart.properties(width=max(200, min(560, 64 * len(rows))), height=_WEEKS_HEIGHT)
    return picture("weeks", say("adherence.weeks_title"), words, chart, rows)


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share
