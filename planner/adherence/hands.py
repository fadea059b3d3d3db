"""Were blocks served by the people of the plan?

The record says who wrote a line down, by code. So people can be held against the plan as far as they
write their own lines; a line from a file says nothing of who served. How many blocks were as planned
is counted for the whole study; who it was is told only where a coordinator turns it on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from planner.adherence.asked import Label
from planner.adherence.model import AsPlanned, BlockLine, Deviation
from planner.record.effort import VisitKey
from planner.schedule.model import Activity, Schedule


class Hand(NamedTuple):
    """Who wrote down a line of a block."""

    key: VisitKey
    label: Label
    who: str


Place = tuple[VisitKey, Label]


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


def staff_kept(schedule: Schedule, blocks: Iterable[BlockLine], written: Iterable[Hand]) -> AsPlanned:
    """How many recorded blocks of the plan were written down by its people, by somebody else, by nobody."""
    planned = _planned(schedule)
    who: dict[Place, set[str]] = {}
    for hand in written:
        who.setdefault((hand.key, hand.label), set()).add(hand.who)
    counts = {True: 0, False: 0, None: 0}
    for block in blocks:
        place = block.key, Label(block.step, block.at_s, block.manoeuvre)
        if (activity := planned.get(place)) is not None and activity.staff:
            people = who.get(place)
            counts[people <= set(activity.staff.values()) if people else None] += 1
    return AsPlanned(counts[True], counts[False], counts[None])


def other_hands(
    schedule: Schedule, written: Iterable[Hand], *, turned_on: bool = False
) -> tuple[Deviation, ...]:
    """Blocks written down by somebody whom the plan does not have there; none unless turned on."""
    return tuple(_others(_planned(schedule), written)) if turned_on else ()


def _others(planned: Mapping[Place, Activity], written: Iterable[Hand]) -> Iterator[Deviation]:
    for hand in written:
        activity = planned.get((hand.key, hand.label))
        if activity is not None and activity.staff and hand.who not in activity.staff.values():
            yield _deviation(hand, activity)


def _planned(schedule: Schedule) -> dict[Place, Activity]:
    return {
        (
            VisitKey(visit.participant, visit.visit, visit.number),
            Label(activity.step, activity.at_s, activity.manoeuvre),
        ): activity
        for visit in schedule.visits
        for activity in visit.activities
        if activity.manoeuvre is not None
    }


def _deviation(hand: Hand, activity: Activity) -> Deviation:
    people = ", ".join(dict.fromkeys(activity.staff.values()))
    words = f"written down by {hand.who}; planned for {people}"
    return Deviation(
        "other staff member", hand.key, *hand.label, None, activity.first_effort, None, "", False, words
    )
