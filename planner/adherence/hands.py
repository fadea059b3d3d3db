"""Were blocks served by the people of the plan? Judged only where a coordinator turns it on.

The record says who wrote a line down, by code; it does not say which device gave a reading. So people
can be held against the plan, as far as they write their own lines; devices cannot.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from planner.adherence.asked import Label
from planner.adherence.model import Deviation
from planner.record.effort import VisitKey
from planner.schedule.model import Activity, Schedule


class Hand(NamedTuple):
    """Who wrote down a line of a block."""

    key: VisitKey
    label: Label
    who: str


def hands(rows: Iterable[Any]) -> tuple[Hand, ...]:
    """One for each block and person, from rows of the store; rows without block or person say nothing."""
    found = {
        Hand(
            VisitKey(row.participant, row.visit, row.number),
            Label(row.step, row.at_s, row.manoeuvre),
            row.who,
        ): None
        for row in rows
        if row.manoeuvre and row.who
    }
    return tuple(found)


def other_hands(
    schedule: Schedule, written: Iterable[Hand], *, turned_on: bool = False
) -> tuple[Deviation, ...]:
    """Blocks written down by somebody whom the plan does not have there; none unless turned on."""
    if not turned_on:
        return ()
    planned = {
        (
            VisitKey(visit.participant, visit.visit, visit.number),
            Label(activity.step, activity.at_s, activity.manoeuvre),
        ): activity
        for visit in schedule.visits
        for activity in visit.activities
        if activity.manoeuvre is not None
    }
    return tuple(
        _deviation(hand, planned[hand.key, hand.label])
        for hand in written
        if (hand.key, hand.label) in planned and hand.who not in planned[hand.key, hand.label].staff.values()
    )


def _deviation(hand: Hand, activity: Activity) -> Deviation:
    people = ", ".join(dict.fromkeys(activity.staff.values()))
    words = f"written down by {hand.who}; planned for {people}"
    return Deviation(
        "other staff member", hand.key, *hand.label, None, activity.first_effort, None, "", False, words
    )
