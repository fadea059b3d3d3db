"""Every visit of a plan on one time line that can be dragged and zoomed: `whole_chart`, `whole_words`."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import altair as alt

from planner.documents.boards import PALETTE, By
from planner.documents.shown import date_words, hhmm, placed_words
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study

_ROW = 20  # pixels
_TICKS = "ceil(width / 110)"  # so many find room for their words, on a narrow screen too
# The day, and above it the time where a day is zoomed into.
_LABEL = """hours(datum.value) + minutes(datum.value) > 0
  ? [timeFormat(datum.value, '%H:%M'), timeFormat(datum.value, '%a %-d %b')]
  : timeFormat(datum.value, '%a %-d %b')"""


def whole_chart(schedule: Schedule, study: Study, *, by: By = "rig") -> alt.Chart:
    """A bar for each visit in each row that it needs; dragged and zoomed along time, in the browser alone."""
    marks = [mark for visit in schedule.visits for mark in _marks(study, visit, by)]
    order = _order(study, schedule, by)
    kinds = [kind.id for kind in study.kinds]
    colours = [PALETTE[n % len(PALETTE)] for n in range(len(kinds))]
    chart = alt.Chart(alt.Data(values=marks)).mark_bar(stroke="black", strokeWidth=0.4)
    return (
        chart.encode(
            x=alt.X("start:T", title=None, axis=_axis()),
            x2=alt.X2("end:T"),
            y=alt.Y("row:N", title=None, sort=order, scale=alt.Scale(domain=order)),
            color=alt.Color(
                "kind:N",
                scale=alt.Scale(domain=kinds, range=colours),
                legend=alt.Legend(title=None, orient="bottom", symbolStrokeWidth=0),
            ),
            tooltip=[alt.Tooltip(f"{name}:N") for name in ("participant", "visit", "day", "time")],
        )
        .properties(width="container", height=alt.Step(_ROW))
        .interactive(bind_y=False)
    )


def _axis() -> alt.Axis:
    return alt.Axis(labelExpr=_LABEL, tickCount=alt.ExprRef(_TICKS), labelOverlap="greedy")


def whole_words(schedule: Schedule, study: Study, *, by: By = "rig") -> str:
    """What the picture of the whole plan shows: each row with its visits and days."""
    rows: dict[str, set[tuple[str, date]]] = {row: set() for row in _order(study, schedule, by)}
    for visit in schedule.visits:
        for row in _rows(visit, by):
            rows.setdefault(row, set()).add((f"{visit.participant} {visit.file_id}", visit.date))
    first, last = schedule.dates[0], schedule.dates[-1]
    head = (
        f"{schedule.placed} visits on {len(schedule.dates)} days, {date_words(first)} to {date_words(last)}."
    )
    parts = [f"{row}: {len(v)} visits on {len({day for _, day in v})} days." for row, v in rows.items()]
    return " ".join([head, *parts])


def _order(study: Study, schedule: Schedule, by: By) -> list[str]:
    if by == "rig":
        return [rig.id for rig in study.rigs]
    if by == "person":
        return [person.id for person in study.people]
    placed = {visit.participant for visit in schedule.visits}
    return [name for name in study.participants if name in placed]


def _rows(visit: PlacedVisit, by: By) -> set[str]:
    if by == "rig":
        return {rig for activity in visit.activities for rig in activity.rigs}
    if by == "person":
        own = {who for activity in visit.activities for who in activity.staff.values()}
        watching = {who for a in visit.activities if a.watch for who in a.watch.staff.values()}
        return own | watching
    return {visit.participant}


def _marks(study: Study, visit: PlacedVisit, by: By) -> Iterator[dict[str, object]]:
    for row in sorted(_rows(visit, by)):
        yield {
            "row": row,
            "start": f"{visit.start:%Y-%m-%dT%H:%M:%S}",
            "end": f"{visit.end:%Y-%m-%dT%H:%M:%S}",
            "kind": visit.visit,
            "participant": visit.participant,
            "visit": placed_words(study, visit),
            "day": date_words(visit.date),
            "time": f"{hhmm(visit.start)}–{hhmm(visit.end)}",
        }
