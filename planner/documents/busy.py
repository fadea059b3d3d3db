"""Who and what is busy with whom, when: the one list behind boards, sheets and calendars."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from planner.documents.sheet_words import efforts_words
from planner.documents.shown import placed_words, protocol_of
from planner.documents.texts import say
from planner.schedule.model import Activity, PlacedVisit, Schedule
from planner.study.model import Study


class Doing(StrEnum):
    """What a span of time is."""

    EFFORTS = "efforts"
    EXERCISE = "exercise"
    TASK = "task"
    REST = "rest"
    CLEARING = "clearing"
    WATCH = "watch"
    FIRST_USE = "first use"


@dataclass(frozen=True, slots=True)
class Span:
    """One stretch of time of one participant, with the rigs and people in it (`roles`: person -> role)."""

    doing: Doing
    participant: str | None
    visit: str  # as people read it
    file_id: str
    step: str
    at_s: int | None
    manoeuvre: str | None
    what: str
    start: datetime
    end: datetime
    first_effort: datetime | None
    rigs: tuple[str, ...]
    roles: dict[str, str]

    @property
    def people(self) -> tuple[str, ...]:
        """The people in it, in the order of their roles."""
        return tuple(self.roles)


def spans(study: Study, schedule: Schedule) -> tuple[Span, ...]:
    """Every stretch of the plan, by start: parts of visits, clearing, watching, checks before use."""
    found = [span for visit in schedule.visits for span in visit_spans(study, visit)]
    for task in schedule.rig_tasks:
        roles = {person: role for role, person in task.staff.items()}
        what = say("calendar.first_use", rig=task.rig)
        found.append(
            Span(
                Doing.FIRST_USE,
                None,
                "",
                "",
                "",
                None,
                None,
                what,
                task.start,
                task.end,
                None,
                (task.rig,),
                roles,
            )
        )
    return tuple(sorted(found, key=lambda s: (s.start.timestamp(), s.end.timestamp(), s.participant or "")))


def visit_spans(study: Study, visit: PlacedVisit) -> Iterator[Span]:
    """The stretches of one visit."""
    protocol = protocol_of(study, visit)
    shown = placed_words(study, visit)

    def span(
        doing: Doing,
        activity: Activity,
        what: str,
        start: datetime,
        end: datetime,
        rigs: tuple[str, ...],
        roles: dict[str, str],
    ) -> Span:
        return Span(
            doing,
            visit.participant,
            shown,
            visit.file_id,
            activity.step,
            activity.at_s,
            activity.manoeuvre,
            what,
            start,
            end,
            activity.first_effort,
            rigs,
            roles,
        )

    for activity in visit.activities:
        step = protocol.step(activity.step)
        roles = {person: role for role, person in activity.staff.items()}
        if activity.manoeuvre is not None:
            doing, what = Doing.EFFORTS, efforts_words(protocol.manoeuvres[activity.manoeuvre])
        elif step.takes is None:
            doing, what = Doing.REST, step.title
        else:
            doing, what = (Doing.EXERCISE if step.exercise else Doing.TASK), step.title
        yield span(doing, activity, what, activity.start, activity.end, activity.rigs, roles)
        if activity.rig_free > activity.end:
            helpers = _clearing_people(study, visit, activity)
            yield span(
                Doing.CLEARING,
                activity,
                say("boards.clearing"),
                activity.end,
                activity.rig_free,
                activity.rigs,
                helpers,
            )
        if activity.watch is not None:
            watchers = {person: role for role, person in activity.watch.staff.items()}
            yield span(
                Doing.WATCH,
                activity,
                say("calendar.watch"),
                activity.end,
                activity.watch.end,
                (),
                watchers,
            )


def _clearing_people(study: Study, visit: PlacedVisit, activity: Activity) -> dict[str, str]:
    """Who clears: the block's own people of the clearing roles, and those named for clearing only."""
    protocol = protocol_of(study, visit)
    if activity.manoeuvre is not None:
        clear = protocol.manoeuvres[activity.manoeuvre].clear
    else:
        clear = protocol.step(activity.step).clear
    wanted = clear.staff if clear else ()
    found = {person: role for role, person in activity.staff.items() if role in wanted}
    found.update({person: role for role, person in activity.clear_staff.items()})
    return found


def of_rig(found: tuple[Span, ...], rig: str) -> tuple[Span, ...]:
    """The spans of one rig."""
    return tuple(span for span in found if rig in span.rigs)


def of_person(found: tuple[Span, ...], person: str) -> tuple[Span, ...]:
    """The spans of one person."""
    return tuple(span for span in found if person in span.roles)


def of_participant(found: tuple[Span, ...], participant: str) -> tuple[Span, ...]:
    """What one participant does; clearing and watching are not theirs."""
    own = {Doing.EFFORTS, Doing.EXERCISE, Doing.TASK, Doing.REST}
    return tuple(span for span in found if span.participant == participant and span.doing in own)
