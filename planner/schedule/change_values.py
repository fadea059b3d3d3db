"""What a mended plan's stages are worth, counted from its own list of changes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, time

from planner.clock import at_clock, seconds_between
from planner.schedule.changes import DIFFERENCES, WAITS_LONGER, WINDOW_MISSED, own_changes
from planner.schedule.model import Change, PlacedVisit, Schedule
from planner.study.model import Study

CHANGE_STAGES = ("demands_missed", "participants_touched", "blocks_changed", "shift_s")
Block = tuple[str | None, str | None, str | None, int | None, str | None]


def change_values(schedule: Schedule, study: Study) -> dict[str, int]:
    """The values of CHANGE_STAGES, by name; what an earlier plan has named already costs nothing again.

    `demands_missed`: windows and longest waits that can no longer be kept, and time points and steps of a
    visit with a place that are left out. `participants_touched`:
    those with any difference. `blocks_changed`: activities that are at another time or have another
    rig or person, or are gone; of a visit that has lost its place none. `shift_s`: how far activities
    are moved within their day, in seconds, summed; of a visit on another day nothing.
    """
    own = own_changes(schedule)
    different = [one for one in own if one.kind in DIFFERENCES and one.participant]
    visits = {(visit.participant, visit.file_id): visit for visit in schedule.visits}
    blocks = {block for one in different for block in _blocks(one, visits)}
    return {
        "demands_missed": sum(one.kind in (WINDOW_MISSED, WAITS_LONGER) for one in own) + len(_left_out(own)),
        "participants_touched": len({one.participant for one in different}),
        "blocks_changed": len(blocks),
        "shift_s": sum(_shift_s(one, visits, study) for one in different if one.kind == "moved"),
    }


def visits_on_other_days(schedule: Schedule) -> int:
    """How many visits are on another day than the plan before had them on."""
    return len({(one.participant, one.visit) for one in schedule.changes if _is_to_another_day(one)})


def _is_to_another_day(change: Change) -> bool:
    if change.kind != "moved" or change.participant is None:
        return False
    return _day(change.before) != _day(change.after)


def _day(text: str | None) -> str:
    """The date in front of a clock time; empty where a change within a day has none."""
    return (text or "").rpartition(" ")[0]


def _left_out(own: Sequence[Change]) -> set[Block]:
    """Time points, and steps without any, that are left out of visits that have a place."""
    return {
        (one.participant, one.visit, one.step, one.at_s, None)
        for one in own
        if one.kind == "dropped" and one.step is not None
    }


def _blocks(change: Change, visits: dict[tuple[str, str], PlacedVisit]) -> Iterator[Block]:
    """The activities that a change is about: of a visit moved as a whole, all."""
    who, visit = change.participant, change.visit
    if change.step is not None:
        yield who, visit, change.step, change.at_s, change.manoeuvre
    elif change.kind == "moved":
        placed = visits.get((who or "", visit or ""))
        for one in placed.activities if placed else ():
            yield who, visit, one.step, one.at_s, one.manoeuvre


def _shift_s(change: Change, visits: dict[tuple[str, str], PlacedVisit], study: Study) -> int:
    """Seconds by which it starts sooner or later that day; 0 on another, or where the words do not tell."""
    placed = visits.get((change.participant or "", change.visit or ""))
    if placed is None or _is_to_another_day(change):
        return 0
    before, after = (_start(text, placed, study) for text in (change.before, change.after))
    if before is None or after is None:
        return 0
    each = len(placed.activities) if change.step is None else 1
    return each * abs(seconds_between(before, after))


def _start(text: str | None, placed: PlacedVisit, study: Study) -> datetime | None:
    """The start that is written as `10:00:00-10:05:00`, also with a date before it or without an end."""
    words = (text or "").split(" ")
    try:
        day = date.fromisoformat(words[0]) if len(words) > 1 else placed.date
        return at_clock(day, time.fromisoformat(words[-1].partition("-")[0]), study.zone)
    except ValueError:
        return None
