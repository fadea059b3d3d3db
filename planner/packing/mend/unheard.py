"""Troubles that can hit nothing: said before anything is mended, for whoever told them meant something."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from planner.clock import later
from planner.packing.mend.facts import visit_meant
from planner.packing.mend.troubles import Span, Troubles
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study


@dataclass(frozen=True, slots=True)
class Unheard:
    """A trouble that hits nothing, by the option that tells it, and why.

    `is_slip`: what it says of a participant fits no visit of the day; somebody else or another day is meant.
    """

    option: str
    words: str
    is_slip: bool = False

    def __str__(self) -> str:
        return f"{self.option} {self.words}"


def unheard(troubles: Troubles, schedule: Schedule, study: Study, now: datetime) -> tuple[Unheard, ...]:
    """Each trouble that can change nothing of the plan from `now` on, whatever else is told."""
    return (
        *_late(troubles, schedule, now),
        *_late_and_ended(troubles, schedule, now),
        *_ended(troubles, schedule, now),
        *_cancelled(troubles, schedule, now),
        *_spans("--out-of-use", troubles.out_of_use, study, now),
        *_spans("--absent", troubles.absent, study, now),
    )


def on_another_day(troubles: Troubles, schedule: Schedule, now: datetime) -> Iterator[str]:
    """Who is cancelled for another day than that of `now`: the visit that is taken for it, in words."""
    for who in troubles.cancelled:
        meant = visit_meant(schedule, who, now)
        if meant is not None and meant.date != now.date():
            yield (
                f"--cancelled {who}: no visit on {now.date()}; {meant.file_id} on {meant.date} is taken as "
                "the one that is cancelled"
            )


def _today(schedule: Schedule, who: str, now: datetime) -> list[PlacedVisit]:
    return [visit for visit in schedule.on(now.date()) if visit.participant == who]


def _late(troubles: Troubles, schedule: Schedule, now: datetime) -> Iterator[Unheard]:
    for who, minutes in troubles.late.items():
        today = _today(schedule, who, now)
        ends = [moment for v in today for moment in (v.end, later(v.start, 60 * minutes))]
        if not any(now.timestamp() < moment.timestamp() for moment in ends):
            words = f"{who} has no visit on {now.date()} that could still be late"
            yield Unheard("--late", words + _next(schedule, who, now), is_slip=True)


def _late_and_ended(troubles: Troubles, schedule: Schedule, now: datetime) -> Iterator[Unheard]:
    """Who is said to come late to a visit of which a step has an end told: only one of them can be heard."""
    for (who, step), end in troubles.ended.items():
        minutes = troubles.late.get(who, 0)
        with_it = (v for v in _today(schedule, who, now) if any(a.step == step for a in v.activities))
        ends = next(with_it, None)
        if minutes and ends is not None and visit_meant(schedule, who, now, 60 * minutes) is ends:
            words = (
                f"{who}={minutes} and --ended {who}/{step}={end:%Y-%m-%dT%H:%M} are of the same visit "
                f"({ends.file_id}): who has yet to come has ended nothing; tell the one that is true"
            )
            yield Unheard("--late", words, is_slip=True)


def _ended(troubles: Troubles, schedule: Schedule, now: datetime) -> Iterator[Unheard]:
    for (who, step), end in troubles.ended.items():
        has_it = any(one.step == step for visit in _today(schedule, who, now) for one in visit.activities)
        if not has_it or end.date() != now.date():
            words = (
                f"{who} has no {step} on {now.date()}" if not has_it else f"{who}/{step} ends on {end.date()}"
            )
            told = "" if not has_it else f", and --now is on {now.date()}"
            yield Unheard("--ended", words + told, is_slip=True)


def _cancelled(troubles: Troubles, schedule: Schedule, now: datetime) -> Iterator[Unheard]:
    for who in troubles.cancelled:
        today, meant = _today(schedule, who, now), visit_meant(schedule, who, now)
        is_over = bool(today) and (meant is None or meant.date != now.date())
        if is_over:
            words = f"{who}: the visit of {now.date()} is over and cannot be cancelled any more"
            yield Unheard("--cancelled", words + _next(schedule, who, now), is_slip=True)
        elif meant is None:
            yield Unheard("--cancelled", f"{who} has no visit from {now.date()} on", is_slip=True)


def _next(schedule: Schedule, who: str, now: datetime) -> str:
    """The visit that may have been meant, and how to say so."""
    ahead = [v for v in schedule.visits if v.participant == who and v.date > now.date()]
    if not ahead:
        return ""
    first = min(ahead, key=lambda visit: visit.start.timestamp())
    return f"; {first.file_id} comes on {first.date}: to speak of it, give a --now of that day"


def _spans(option: str, spans: tuple[Span, ...], study: Study, now: datetime) -> Iterator[Unheard]:
    for name, start, end in spans:
        if end.timestamp() <= now.timestamp():
            yield Unheard(
                option, f"{name}: it is over at {end:%Y-%m-%d %H:%M}, before --now ({now:%Y-%m-%d %H:%M})"
            )
        elif not any(start.date() <= day <= (end - timedelta(seconds=1)).date() for day in study.open):
            words = f"{name}: the study has no open day from {start.date()} to {end.date()}"
            yield Unheard(option, f"{words} (its days: {study.first_day} to {study.last_day})")
