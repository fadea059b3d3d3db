"""Pictures of a schedule for screens: a day by rig, person or participant, a week; with their words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import Literal

import altair as alt

from planner.clock import seconds_between
from planner.documents.busy import Doing, Span, of_participant, of_person, of_rig, spans
from planner.documents.day_board import letters_of
from planner.documents.shown import date_words, hhmm, placed_words
from planner.documents.texts import lines, say
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study

By = Literal["rig", "person", "participant"]
# Okabe and Ito (2008): a palette for colour-blind readers; always beside a letter.
# The light ones first: black letters lie on them, on white pages and on dark ones.
PALETTE = ("#56B4E9", "#E69F00", "#009E73", "#CC79A7", "#F0E442", "#D55E00", "#999999", "#0072B2")
_ROW = 30  # pixels
_AT_ONCE_S = 60
_QUIET = (Doing.CLEARING, Doing.WATCH, Doing.REST)


def day_chart(schedule: Schedule, study: Study, day: date, *, by: By = "rig") -> alt.LayerChart:
    """Who is where on one day: a row for each rig, person or participant, times local and 24-hour."""
    rows = _rows(study, schedule, day, by)
    letters = letters_of(schedule, day)
    marks = [mark for row, found in rows for mark in _row_marks(row, found, letters, study)]
    order = [row for row, _ in rows]
    base = alt.Chart(alt.Data(values=marks)).encode(y=_row_axis(order))
    bars = base.mark_bar(stroke="black", strokeWidth=0.6).encode(
        x=_clock_axis("start"),
        x2=alt.X2("end:T"),
        color=_class_colours(study),
        opacity=alt.Opacity("strength:Q", scale=None, legend=None),
        tooltip=[
            alt.Tooltip(f"{name}:N") for name in ("participant", "visit", "what", "time", "devices", "staff")
        ],
    )
    names = base.mark_text(align="left", dx=2, fontWeight="bold", color="black").encode(
        x=_clock_axis("start"), text=alt.Text("letter:N")
    )
    named = ", ".join(f"{letter} {name}" for name, letter in letters.items())
    return (bars + names).properties(
        width="container", height=alt.Step(_ROW), title=alt.Title(named, anchor="start", fontSize=12)
    )


def week_chart(schedule: Schedule, study: Study, first_day: date) -> alt.LayerChart:
    """Seven days from `first_day`, a row for each open day: every visit a bar with its participant's code."""
    days = [first_day + timedelta(days=n) for n in range(7)]
    shown = [day for day in days if day in study.open or schedule.on(day)]
    marks = [mark for day in shown for mark in _week_marks(study, schedule, day)]
    base = alt.Chart(alt.Data(values=marks)).encode(
        y=_row_axis([_day_name(day) for day in shown]), yOffset=alt.YOffset("lane:O")
    )
    edges = [float(mark[name]) for mark in marks for name in ("from", "to")]  # type: ignore[arg-type]
    hours = list(range(int(min(edges, default=8)), int(max(edges, default=17)) + 2))
    x = alt.X(
        "from:Q",
        title=say("chart.clock"),
        axis=alt.Axis(labelExpr=_HOURS, values=hours),
        scale=alt.Scale(domain=[hours[0], hours[-1]]),
    )
    bars = base.mark_bar(fill="white", stroke="black", strokeWidth=0.8).encode(
        x=x,
        x2=alt.X2("to:Q"),
        tooltip=[alt.Tooltip(f"{name}:N") for name in ("participant", "visit", "time")],
    )
    names = base.mark_text(align="left", dx=3).encode(x=x, text=alt.Text("participant:N"))
    return (bars + names).properties(width="container", height=alt.Step(18))


_HOURS = "pad(floor(datum.value), 2, '0', 'left') + ':' + pad(round(60 * (datum.value % 1)), 2, '0', 'left')"


def day_words(schedule: Schedule, study: Study, day: date, *, by: By = "rig") -> str:
    """What the picture of a day shows, row by row."""
    parts = [say("boards.words_head", date=date_words(day), count=len(schedule.on(day)))]
    for row, found in _rows(study, schedule, day, by):
        listed = ", ".join(
            say("chart.busy", participant=s.participant or s.what, start=hhmm(s.start), end=hhmm(s.end))
            for s in found
            if s.doing is not Doing.CLEARING
        )
        parts.append(say("chart.day_rig", rig=row, list=listed or say("boards.none")))
    return " ".join(parts)


def week_words(schedule: Schedule, study: Study, first_day: date) -> str:
    """What the picture of a week shows, day by day."""
    days = [first_day + timedelta(days=n) for n in range(7)]
    visits = {day: schedule.on(day) for day in days}
    parts = [say("chart.week_words_head", date=date_words(first_day), count=sum(map(len, visits.values())))]
    for day, found in visits.items():
        listed = ", ".join(
            f"{v.participant} {placed_words(study, v)} {hhmm(v.start)}–{hhmm(v.end)}" for v in found
        )
        if listed:
            parts.append(say("chart.week_words_day", date=date_words(day), visits=listed))
    return " ".join(parts)


def _rows(study: Study, schedule: Schedule, day: date, by: By) -> list[tuple[str, tuple[Span, ...]]]:
    found = tuple(span for span in spans(study, schedule) if span.start.date() == day)
    if by == "rig":
        return [(rig.id, of_rig(found, rig.id)) for rig in study.rigs]
    if by == "person":
        return [(person.id, of_person(found, person.id)) for person in study.people]
    names = dict.fromkeys(visit.participant for visit in schedule.on(day))
    return [(name, of_participant(found, name)) for name in names]


def _row_marks(
    row: str, found: Sequence[Span], letters: dict[str, str], study: Study
) -> Iterator[dict[str, object]]:
    """The bars of one row; one letter serves stretches of a participant that follow each other at once."""
    last: Span | None = None
    for span in found:
        mark = _bar(row, span, letters, study)
        if mark["letter"] and last is not None and last.participant == span.participant:
            follows = 0 <= seconds_between(last.end, span.start) <= _AT_ONCE_S
            mark["letter"] = "" if follows else mark["letter"]
        last = span if span.doing not in _QUIET else last
        yield mark


def _bar(row: str, span: Span, letters: dict[str, str], study: Study) -> dict[str, object]:
    quiet = span.doing in _QUIET
    classes = study.rig(span.rigs[0]).classes if span.rigs else (say("chart.no_rig"),)
    return {
        "row": row,
        "start": f"{span.start:%Y-%m-%dT%H:%M:%S}",
        "end": f"{span.end:%Y-%m-%dT%H:%M:%S}",
        "class": classes[0],
        "strength": 0.35 if quiet else 1.0,
        "letter": "" if quiet else letters.get(span.participant or "", ""),
        "participant": span.participant or "",
        "visit": span.visit,
        "what": span.what,
        "time": f"{span.start:%H:%M:%S}–{span.end:%H:%M:%S}",
        "devices": ", ".join(span.rigs),
        "staff": ", ".join(f"{role} {person}" for person, role in span.roles.items()),
    }


def _week_marks(study: Study, schedule: Schedule, day: date) -> list[dict[str, object]]:
    lanes: list[float] = []
    found = []
    for visit in schedule.on(day):
        start, end = _hours(visit.start, day), _hours(visit.end, day)
        lane = next((n for n, free in enumerate(lanes) if free <= start), len(lanes))
        lanes[lane : lane + 1] = [end]
        found.append(
            {"row": _day_name(day), "from": start, "to": end, "lane": lane, **_visit_mark(study, visit)}
        )
    return found


def _visit_mark(study: Study, visit: PlacedVisit) -> dict[str, object]:
    return {
        "participant": visit.participant,
        "visit": placed_words(study, visit),
        "time": f"{hhmm(visit.start)}–{hhmm(visit.end)}",
    }


def _hours(moment: datetime, day: date) -> float:
    """Wall-clock hours since the day's midnight."""
    return (moment.date() - day).days * 24 + moment.hour + moment.minute / 60 + moment.second / 3600


def _day_name(day: date) -> str:
    weekday, month = lines("common.weekdays")[day.weekday()], lines("common.months")[day.month - 1]
    return say("chart.week_day", weekday=weekday[:3], day=day.day, month=month[:3])


def _row_axis(order: Sequence[str]) -> alt.Y:
    return alt.Y("row:N", title=None, sort=list(order), scale=alt.Scale(domain=list(order)))


def _clock_axis(field: str) -> alt.X:
    return alt.X(f"{field}:T", title=say("chart.clock"), axis=alt.Axis(format="%H:%M"))


def _class_colours(study: Study) -> alt.Color:
    classes = list(dict.fromkeys(rig.classes[0] for rig in study.rigs))
    domain = [*classes, say("chart.no_rig")]
    colours = [PALETTE[n % len(PALETTE)] for n in range(len(classes))] + ["#DDDDDD"]
    return alt.Color(
        "class:N",
        scale=alt.Scale(domain=domain, range=colours),
        legend=alt.Legend(title=None, orient="bottom", symbolStrokeWidth=0),
    )
