"""The ruler of the visit in hand: minutes from the end of exercise, moving under a fixed mark for now."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

import altair as alt

from planner.clock import later, seconds_between
from planner.documents.picture import PAGE_INK, page_axis
from planner.documents.texts import say
from planner.record.live import VisitNow
from planner.record.parts import Part, Status
from planner.timing.plan import Kind

BEHIND_S, AHEAD_S = 8 * 60, 22 * 60  # what the ruler shows before and after now
NAMES = 180  # pixels for a class of rig: the page would cut it off sooner


class Stretch(NamedTuple):
    """One part on the ruler; `is_real` where it is recorded, else as it would go from here."""

    part: Part
    start: datetime
    end: datetime
    is_real: bool


def stretches(shown: VisitNow) -> tuple[Stretch, ...]:
    """Every part where it was, or where it would lie if all went on from now as planned."""
    free, bout_start, bout_end = shown.now, shown.now, shown.now
    found = []
    for part in shown.parts:
        if part.status is Status.PASSED:
            continue
        one = _stretch(part, free, bout_start, shown.now)
        if part.activity.kind is Kind.BOUT:
            bout_start, bout_end = one.start, one.end
        elif part.activity.inside is not None and not one.is_real and _is_after(one.end, bout_end):
            continue  # reached only if exercise lasts longer than it will as things are
        found.append(one)
        if part.activity.inside is None and not (one.is_real and part.status is Status.DONE):
            free = one.end
    return tuple(found)


def _stretch(part: Part, free: datetime, bout_start: datetime, now: datetime) -> Stretch:
    length_s, prepare_s = part.activity.length_s, part.activity.prepare_s
    if part.started is not None:
        usual = later(part.started, length_s)
        return Stretch(part, part.started, part.ended or _later_of(usual, now), True)
    start = free
    if part.activity.inside is not None:
        start = later(bout_start, (part.activity.at_s or 0) - prepare_s)
    elif part.due is not None:
        start = _later_of(later(part.due.at, -prepare_s), free)
    return Stretch(part, start, later(start, length_s), False)


def _is_after(one: datetime, other: datetime) -> bool:
    return one.timestamp() > other.timestamp()


def _later_of(one: datetime, other: datetime) -> datetime:
    return max(one, other, key=datetime.timestamp)


def zero(shown: VisitNow, found: Sequence[Stretch]) -> tuple[datetime, str]:
    """The end of the exercise, recorded or to be expected, and its name; without exercise now itself."""
    bouts = [one for one in found if one.part.activity.kind is Kind.BOUT]
    if not bouts:
        return shown.now, ""
    ahead = [one for one in bouts if one.part.ended is None]
    last = [one for one in bouts if one.part.ended is not None]
    chosen = last[-1] if last else ahead[0]
    return chosen.end, chosen.part.title


def now_chart(shown: VisitNow) -> alt.LayerChart:
    """The ruler around now: what is recorded solid, what is to come hollow, windows as brackets."""
    found = stretches(shown)
    at, name = zero(shown, found)
    now = _minutes(at, shown.now)
    domain = [now - BEHIND_S / 60, now + AHEAD_S / 60]
    title = say("chart.minutes_exercise" if name else "chart.minutes_start")
    x = alt.X(
        "start:Q", title=title, scale=alt.Scale(domain=domain, nice=False), axis=page_axis(tickMinStep=1)
    )
    due = "due"
    rows = [due, *dict.fromkeys(rig for one in found for rig in _rows(one.part))]
    y = alt.Y("row:N", title=None, sort=rows, scale=alt.Scale(domain=rows), axis=page_axis(labelLimit=NAMES))
    bars = [
        {
            "row": row, "start": _minutes(at, one.start), "end": _minutes(at, one.end), "real": one.is_real,
            "what": one.part.title, "letter": "" if not one.part.is_block else one.part.title.split(" ")[0],
        }
        for one in found
        for row in _rows(one.part)
    ]  # fmt: skip
    base = alt.Chart(alt.Data(values=bars)).encode(
        x=x, x2=alt.X2("end:Q"), y=y, tooltip=[alt.Tooltip(name) for name in ("what:N", "start:Q", "end:Q")]
    )
    marks = [
        base.transform_filter("datum.real").mark_bar(height=16, clip=True, color=PAGE_INK, stroke=PAGE_INK),
        base.transform_filter("!datum.real").mark_bar(
            height=16, clip=True, color=PAGE_INK, fillOpacity=0.15, stroke=PAGE_INK
        ),
        *_windows(found, at, x, y, due),
        _rule([{"start": now, "row": due, "words": "now"}], x, [6, 3], 3),
    ]
    if name:
        marks.append(_rule([{"start": 0.0, "row": due, "words": ""}], x, [1, 0], 4))
    return alt.layer(*marks).properties(height=alt.Step(30))


def _windows(
    found: Sequence[Stretch], at: datetime, x: alt.X, y: alt.Y, row: str
) -> tuple[alt.Chart, alt.Chart]:
    edges = [
        {"row": row, "start": _minutes(at, moment), "edge": edge}
        for one in found
        if one.part.due and not one.is_real
        for moment, edge in ((one.part.due.not_before, "["), (one.part.due.not_after, "]"))
    ]
    ticks = [
        {"row": row, "start": _minutes(at, one.part.due.at)}
        for one in found
        if one.part.due and not one.is_real
    ]
    return (
        alt.Chart(alt.Data(values=edges))
        .mark_text(fontSize=22, fontWeight="bold", color=PAGE_INK, clip=True)
        .encode(x=x, y=y, text=alt.Text("edge:N")),
        alt.Chart(alt.Data(values=ticks))
        .mark_tick(thickness=2, size=14, color=PAGE_INK, clip=True)
        .encode(x=x, y=y),
    )


def _rule(values: list[dict[str, object]], x: alt.X, dash: list[int], width: int) -> alt.Chart:
    return (
        alt.Chart(alt.Data(values=values))
        .mark_rule(strokeWidth=width, strokeDash=dash, color=PAGE_INK, clip=True)
        .encode(x=x, tooltip=alt.Tooltip("words:N"))
    )


def now_words(shown: VisitNow) -> str:
    """What the ruler shows, for eyes that can't use it."""
    found = stretches(shown)
    at, name = zero(shown, found)
    now = _minutes(at, shown.now)
    side = "after" if now >= 0 else "before"
    head = f"Now is {abs(now):.1f} min {side} the end of {name}. " if name else ""
    near = [
        _to_come(shown, one)
        for one in found
        if not one.is_real and seconds_between(shown.now, one.start) < AHEAD_S
    ]
    return head + (
        f"To come if all goes as planned: {'; '.join(near)}." if near else "Nothing more is to come."
    )


def _to_come(shown: VisitNow, one: Stretch) -> str:
    """When a part that has not begun is to come; of one whose time has gone by, how long ago that was."""
    begins, ends = (_minutes(shown.now, moment) for moment in (one.start, one.end))
    if ends < 0:
        return f"{one.part.title}, whose time ended {_ago(-ends)}"
    if begins < 0:
        return f"{one.part.title}, which should have begun {_ago(-begins)}"
    if f"{begins:.0f}" == f"{ends:.0f}":
        return f"{one.part.title} {'now' if ends < 0.5 else f'{ends:.0f} min from now'}"
    return f"{one.part.title} {begins:.0f} to {ends:.0f} min from now"


def _ago(minutes: float) -> str:
    return "a moment ago" if minutes < 0.5 else f"{minutes:.0f} min ago"


def _rows(part: Part) -> tuple[str, ...]:
    return part.activity.rigs or (say("chart.no_rig"),)


def _minutes(zero_at: datetime, moment: datetime) -> float:
    return round(seconds_between(zero_at, moment) / 60, 2)
