"""Who is there when: a ruler of a study's open days; a row for each device, staff member and participant.

Every open day has the same width, whatever its hours; closed days have none. The top row counts how many
participants may come. Above `MOST_ROWS` participants the counts stand for them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import altair as alt

from planner.clock import Interval, seconds_between, without
from planner.documents.picture import screen_spec
from planner.documents.shown import date_words
from planner.study.model import Study

MOST_ROWS = 24  # participants that get a row each
COUNTS, OUT = "may come", "out of use"
_ROW, _MOST_COUNTS = 17, 45  # pixels; days that get a number each
_FILLS = {"device": "#56B4E9", "staff": "#E69F00", "participant": "#DDDDDD"}  # Okabe and Ito (2008), and grey


@dataclass(frozen=True, slots=True)
class Stretch:
    """One bar: which row, what it is, from when to when."""

    row: str
    kind: str
    span: Interval


def coming(study: Study) -> dict[date, int]:
    """How many participants may come on each open day, for any of their visits."""
    return {
        day: sum(any(study.may_come(visit, day) for visit in study.asked[who]) for who in study.participants)
        for day in study.open
    }


def stretches(study: Study) -> tuple[Stretch, ...]:
    """When each device can be used or cannot, each staff member works, each participant may come."""
    return tuple(
        found
        for day, hours in study.open.items()
        for found in (*_devices(study, hours), *_staff(study, day), *_comers(study, day))
    )


def _devices(study: Study, hours: Sequence[Interval]) -> Iterator[Stretch]:
    for rig in study.rigs:
        yield from (Stretch(rig.id, "device", span) for span in without(hours, rig.out))
        for gone in rig.out:
            for hour in hours:
                if gone.meets(hour):
                    cut = Interval(max(gone.start, hour.start), min(gone.end, hour.end))
                    yield Stretch(rig.id, OUT, cut)


def _staff(study: Study, day: date) -> Iterator[Stretch]:
    for person in study.people:
        yield from (Stretch(person.id, "staff", span) for span in person.works.get(day, ()))


def _comers(study: Study, day: date) -> Iterator[Stretch]:
    if len(study.participants) <= MOST_ROWS:
        for who in study.participants:
            yield from (Stretch(who, "participant", span) for span in _hours_of(study, who, day))


def _hours_of(study: Study, who: str, day: date) -> tuple[Interval, ...]:
    return tuple(dict.fromkeys(span for visit in study.asked[who] for span in study.may_come(visit, day)))


def presence(study: Study) -> tuple[str, str]:
    """The ruler as JSON for a page (bars where somebody or something is there, dates at the first open day of
    each week), and what it shows in words.
    """
    days, counts = list(study.open), coming(study)
    rows = {"stretches": [_bar(study, days, one) for one in stretches(study)]} | _told(days, counts)
    return screen_spec(lambda: _chart(study, days), rows), _words(study, counts)


def _chart(study: Study, days: Sequence[date]) -> alt.LayerChart:
    """The ruler without its rows."""
    order = [COUNTS, *(rig.id for rig in study.rigs), *(person.id for person in study.people)]
    if len(study.participants) <= MOST_ROWS:
        order += study.participants
    y = alt.Y("row:N", title=None, sort=order, scale=alt.Scale(domain=order))
    axis = alt.Axis(values=list(range(len(days) + 1)), labels=False, ticks=False)
    x = alt.X("from:Q", title=None, axis=axis, scale=alt.Scale(domain=[0, max(1, len(days))], nice=False))
    bars = alt.Chart(alt.NamedData("stretches")).encode(x=x, y=y)
    there = bars.transform_filter("datum.fill").mark_bar(stroke="black", strokeWidth=0.4)
    gone = bars.transform_filter("!datum.fill").mark_bar(fill="white", stroke="black", strokeDash=[2, 2])
    tips = [alt.Tooltip(f"{name}:N") for name in ("row", "what", "day", "time")]
    layers = [
        there.encode(x2=alt.X2("to:Q"), fill=alt.Fill("fill:N", scale=None), tooltip=tips),
        gone.encode(x2=alt.X2("to:Q"), tooltip=tips),
        *_numbers(x, y),
    ]
    return alt.layer(*layers).properties(width="container", height=alt.Step(_ROW))


def _bar(study: Study, days: Sequence[date], one: Stretch) -> dict[str, object]:
    span = one.span
    number = days.index(span.start.date())
    opening = study.open[days[number]]
    return {
        "row": one.row,
        "what": one.kind,
        "from": number + _place(span.start, opening),
        "to": number + _place(span.end, opening),
        "fill": _FILLS.get(one.kind, ""),
        "day": date_words(days[number]),
        "time": f"{span.start:%H:%M}–{span.end:%H:%M}",
    }


def _place(moment: datetime, opening: Sequence[Interval]) -> float:
    """Where that moment stands between the first opening and the last closing of its day, 0 to 1."""
    first, last = opening[0].start, opening[-1].end
    share = seconds_between(first, moment) / seconds_between(first, last)
    return min(1.0, max(0.0, share))


def _told(days: Sequence[date], counts: Mapping[date, int]) -> dict[str, list[dict[str, object]]]:
    """How many may come on each day (each week, where days are many), and the date each week begins with."""
    weeks = _weeks(days)
    if len(days) <= _MOST_COUNTS:
        told: list[dict[str, object]] = [
            {"row": COUNTS, "from": n + 0.5, "words": str(counts[day])} for n, day in enumerate(days)
        ]
    else:
        told = [
            {"row": COUNTS, "from": n + len(week) / 2, "words": _least_and_most([counts[d] for d in week])}
            for n, week in weeks.items()
        ]
    return {
        "counts": told,
        "weeks": [{"from": n, "words": f"{week[0]:%a %d %b}"} for n, week in weeks.items()],
    }


def _numbers(x: alt.X, y: alt.Y) -> list[alt.Chart]:
    """The counts as text, and a rule with a date at the beginning of each week."""
    of_weeks = alt.Chart(alt.NamedData("weeks")).encode(x=x)
    return [
        alt.Chart(alt.NamedData("counts")).mark_text(fontSize=11).encode(x=x, y=y, text=alt.Text("words:N")),
        of_weeks.mark_rule(color="black"),
        of_weeks.mark_text(align="left", dx=3, dy=-8, fontSize=11).encode(
            y=alt.YValue(0), text=alt.Text("words:N")
        ),
    ]


def _weeks(days: Sequence[date]) -> dict[int, list[date]]:
    """The open days of each week, by the place of its first."""
    found: dict[tuple[int, int], list[date]] = {}
    for day in days:
        found.setdefault(day.isocalendar()[:2], []).append(day)
    return {days.index(week[0]): week for week in found.values()}


def _least_and_most(counts: Sequence[int]) -> str:
    return f"{min(counts)}" if min(counts) == max(counts) else f"{min(counts)}–{max(counts)}"


def _words(study: Study, counts: Mapping[date, int]) -> str:
    """What the ruler shows: open days, the thinnest day, each device out of use, each staff member's days."""
    if not counts:
        return "No day is open."
    thin = min(counts, key=lambda day: (counts[day], day))
    parts = [
        f"{len(counts)} open days. {_least_and_most(list(counts.values()))} of {len(study.participants)} "
        f"participants may come on a day; the fewest, {counts[thin]}, on {date_words(thin)}."
    ]
    parts += [_out_words(rig.id, rig.out) for rig in study.rigs if rig.out]
    parts += [f"{who} works on {count} days." for who, count in _days_of_staff(study).items()]
    return " ".join(parts)


def _out_words(rig: str, gone: Sequence[Interval]) -> str:
    spans = [(_moment_words(span.start), _moment_words(span.end)) for span in gone]
    return f"{rig} is out of use: {', '.join(f'{start} to {end}' for start, end in spans)}."


def _moment_words(moment: datetime) -> str:
    return f"{date_words(moment.date())} {moment:%H:%M}"


def _days_of_staff(study: Study) -> Mapping[str, int]:
    return {who.id: sum(1 for day in study.open if who.works.get(day)) for who in study.people}
