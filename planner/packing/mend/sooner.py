"""Who must come sooner than they were told: at the head of the changes, and said in the words of one.

So is how long they have until then, where that is less than somebody who is called needs.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from planner.clock import seconds_between
from planner.packing.mend.core import NOTICE_S
from planner.packing.problem import key
from planner.schedule.changes import key_of
from planner.schedule.model import Change, PlacedVisit, Schedule
from planner.schedule.rules.case import span_words

AT_ONCE_S = 60  # nobody tells a shorter notice from none
Name = tuple[str | None, str | None]
WHOLE = (None, None, None)  # of a visit that is moved as a whole


def with_sooner_first(found: Iterable[Change], before: Schedule, after: Schedule) -> tuple[Change, ...]:
    """The changes, with how much sooner a visit starts than was told; those of such visits come first."""
    told = {key(visit): visit for visit in before.visits}
    sooner: dict[Name, tuple[PlacedVisit, int]] = {}
    for visit in after.visits:
        old = told.get(key(visit))
        if old is not None and (seconds := seconds_between(visit.start, old.start)) > 0:
            sooner[key(visit)] = visit, seconds
    said = [_said(change, sooner, after.made) for change in found]
    return tuple(sorted(said, key=lambda one: (one.participant, one.visit) not in sooner))


def _said(change: Change, sooner: dict[Name, tuple[PlacedVisit, int]], now: datetime) -> Change:
    """The change, with the words where it is the one that moves a visit's start."""
    visit, seconds = sooner.get((change.participant, change.visit), (None, 0))
    if visit is None or change.kind != "moved":
        return change
    first = min(visit.activities, key=lambda one: one.start.timestamp())
    if (change.step, change.at_s, change.manoeuvre) not in (WHOLE, key_of(first)):
        return change
    words = f"{span_words(seconds)} earlier than told{_notice(seconds_between(now, visit.start))}"
    return replace(change, message=f"{change.message}, {words}")


def _notice(seconds: int) -> str:
    """How soon they must be there, from the moment of the mend; nothing where there is time to call them."""
    if seconds < AT_ONCE_S:
        return ": at once, no notice"
    return f": {span_words(seconds)} notice" if seconds < NOTICE_S else ""
