"""One visit as planned and as kept, on a ruler of minutes from the end of exercise."""

from __future__ import annotations

from typing import Any

import altair as alt

from planner.adherence.model import Kept
from planner.adherence.timeline import Stretch, Timeline, Window
from planner.clock import duration_words
from planner.documents.picture import INK, Picture, picture
from planner.documents.shown import visit_words
from planner.documents.texts import say
from planner.protocol.model import Protocol
from planner.study.model import Study

_STEP = 26  # pixels a row


def visit_picture(study: Study, line: Timeline) -> Picture:
    """Planned above, kept below, a pair of rows for each manoeuvre; windows as brackets in the kept row."""
    protocol = _protocol(study, line)
    order = _rows(protocol, line)
    stretches = [_stretch(protocol, one) for one in line.stretches]
    windows = [_window(protocol, one) for one in line.windows]
    title = say("adherence.visit_axis") if line.zero else say("adherence.visit_axis_start")
    x = alt.X("start:Q", title=title, scale=alt.Scale(zero=False, nice=True))
    y = alt.Y("row:N", title=None, sort=order, scale=alt.Scale(domain=order), axis=alt.Axis(labelLimit=320))
    chart = alt.layer(*_bars(stretches, x, y), *_brackets(windows, y), _zero(x))
    chart = chart.properties(width=760, height=alt.Step(_STEP))
    visit = visit_words(study, line.key.visit, line.key.number, None)
    heading = say("adherence.visit_title", participant=line.key.participant, visit=visit)
    rows = [*({"is": "bar", **row} for row in stretches), *({"is": "window", **row} for row in windows)]
    name = f"visit_{line.key.participant}_{line.key.visit}"
    name += "" if line.key.number is None else f"-{line.key.number}"
    return picture(name, heading, _words(study, protocol, line), chart, rows)


def _protocol(study: Study, line: Timeline) -> Protocol:
    for visit in study.asked[line.key.participant]:
        if (visit.kind, visit.number) == (line.key.visit, line.key.number):
            return study.protocols[visit.protocol]
    raise KeyError(line.key)


def _rows(protocol: Protocol, line: Timeline) -> list[str]:
    """Rows from top to bottom: tasks first, then by when they first come; variants of one title together."""
    found = sorted(line.stretches, key=lambda one: (one.row != "", not one.planned, one.start_s))
    titles = dict.fromkeys(_row(protocol, one.row, True) for one in found)
    names = {_row(protocol, one.row, True): one.row for one in found}
    seen = {_row(protocol, one.row, one.planned) for one in found}
    pairs = [(_row(protocol, names[t], True), _row(protocol, names[t], False)) for t in titles]
    return [row for pair in pairs for row in pair if row in seen]


def _row(protocol: Protocol, name: str, planned: bool) -> str:
    manoeuvre = protocol.manoeuvres.get(name)
    title = say("adherence.visit_tasks") if name == "" else manoeuvre.title if manoeuvre else name
    return say("adherence.visit_planned" if planned else "adherence.visit_kept", what=title)


def _stretch(protocol: Protocol, one: Stretch) -> dict[str, Any]:
    return {
        "row": _row(protocol, one.row, one.planned),
        "what": one.what,
        "effort": one.effort,
        "start": one.start_s / 60,
        "end": one.end_s / 60,
        "look": "planned" if one.planned else "kept",
    }


def _window(protocol: Protocol, one: Window) -> dict[str, Any]:
    return {
        "row": _row(protocol, one.row, False),
        "at": one.at_s / 60,
        "early": one.low_s / 60,
        "late": one.high_s / 60,
        "happened": None if one.happened_s is None else one.happened_s / 60,
        "kept": one.kept.value,
        "label": "" if one.kept is Kept.ON_TIME else one.kept.value,
    }


def _bars(stretches: list[dict[str, Any]], x: alt.X, y: alt.Y) -> list[alt.Chart]:
    base = alt.Chart(alt.Data(values=stretches)).encode(y=y)
    planned = base.transform_filter("datum.look == 'planned'")
    kept = base.transform_filter("datum.look == 'kept'")
    return [
        planned.mark_bar(height=12, color="white", stroke=INK, strokeWidth=1).encode(x=x, x2="end:Q"),
        kept.mark_bar(height=12, color=INK).encode(x=x, x2="end:Q"),
    ]


def _brackets(windows: list[dict[str, Any]], y: alt.Y) -> list[alt.Chart]:
    if not windows:
        return []
    base = alt.Chart(alt.Data(values=windows)).encode(y=y)
    return [
        base.mark_text(text="[", fontSize=22, align="right", baseline="middle", dx=2).encode(x="early:Q"),
        base.mark_text(text="]", fontSize=22, align="left", baseline="middle", dx=-2).encode(x="late:Q"),
        base.mark_tick(thickness=1.5, color=INK, size=20).encode(x="at:Q"),
        base.mark_text(dy=15, fontSize=10).encode(x="late:Q", text="label:N"),
    ]


def _zero(x: alt.X) -> alt.Chart:
    return alt.Chart(alt.Data(values=[{"start": 0}])).mark_rule(strokeWidth=3, color=INK).encode(x=x)


def _words(study: Study, protocol: Protocol, line: Timeline) -> str:
    visit = visit_words(study, line.key.visit, line.key.number, None)
    head = say("adherence.visit_words", participant=line.key.participant, visit=visit)
    zero = "" if line.zero_recorded else say("adherence.visit_no_zero")
    return " ".join([head, zero, *(_window_words(protocol, one) for one in line.windows)]).replace("  ", " ")


def _window_words(protocol: Protocol, one: Window) -> str:
    manoeuvre = protocol.manoeuvres.get(one.row)
    what = manoeuvre.title if manoeuvre else one.row
    happened = say("adherence.visit_never") if one.happened_s is None else _minutes(one.happened_s)
    return say(
        "adherence.visit_window",
        what=what,
        early=_minutes(one.low_s),
        late=_minutes(one.high_s),
        happened=happened,
        kept=one.kept.value,
    )


def _minutes(seconds: int) -> str:
    words = duration_words(abs(seconds))
    return say("adherence.visit_before" if seconds < 0 else "adherence.visit_after", length=words)
