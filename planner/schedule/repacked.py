"""The judge of a mended plan: what has begun stays, and the list of changes is complete.

What can no longer be kept must be named in the plan's `changes`, by kind: "window missed" (a time
point), "ended early" (a step shorter than planned), "waits longer" (a visit over `at_most_waiting`)
and "dropped" (an activity that cannot happen any more). Named, it is warned of; unnamed, it is broken.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator
from datetime import datetime

from planner.schedule.changes import changes
from planner.schedule.model import Activity, Broken, Change, PlacedVisit, Schedule

Waiting = Collection[tuple[str, str, str]]  # (participant, file_id, step) of what cannot have begun yet
DIFFERENCES = ("moved", "other rig", "other person", "dropped", "added")


def has_begun(visit: PlacedVisit, activity: Activity, now: datetime, waiting: Waiting = ()) -> bool:
    """Whether the plan starts it before `now`, and it does not wait for something that has not ended."""
    waits = (visit.participant, visit.file_id, activity.step) in waiting
    return activity.start.timestamp() < now.timestamp() and not waits


def verify_repacked(
    before: Schedule, after: Schedule, now: datetime, waiting: Waiting = ()
) -> tuple[Broken, ...]:
    """What a mended plan breaks against the one that it replaces; the rules of any plan are `verify`'s."""
    return (*_begun(before, after, now, waiting), *_listed(before, after), *_version(before, after))


def _begun(before: Schedule, after: Schedule, now: datetime, waiting: Waiting) -> Iterator[Broken]:
    """Everything begun keeps its start, rigs and people; its end may have been reported anew."""
    new = {(v.participant, v.file_id): {_key(a): a for a in v.activities} for v in after.visits}
    for visit in before.visits:
        for activity in visit.activities:
            if not has_begun(visit, activity, now, waiting):
                continue
            same = new.get((visit.participant, visit.file_id), {}).get(_key(activity))
            if same is None or _fixed(same) != _fixed(activity):
                words = (
                    f"{visit.participant}, {visit.file_id}: {activity.step} began at {activity.start:%H:%M} "
                    f"and must stay as it was"
                )
                yield Broken("begun", visit.participant, visit.file_id, words)


def _key(activity: Activity) -> tuple[str, int | None, str | None]:
    return (activity.step, activity.at_s, activity.manoeuvre)


def _fixed(activity: Activity) -> tuple[object, ...]:
    return (activity.start.timestamp(), activity.rigs, dict(activity.staff))


def _listed(before: Schedule, after: Schedule) -> Iterator[Broken]:
    """The plan's own list of changes holds each difference once, and nothing else."""
    said = Counter(_what(change) for change in after.changes if change.kind in DIFFERENCES)
    true = Counter(_what(change) for change in changes(before, after))
    for what, number in (true - said).items():
        yield Broken("changes", what[0], what[1], f"not listed, {number} time(s): {_words(what)}")
    for what, number in (said - true).items():
        yield Broken(
            "changes", what[0], what[1], f"listed, and did not happen, {number} time(s): {_words(what)}"
        )


def _what(change: Change) -> tuple[str | None, ...]:
    return (change.participant, change.visit, change.kind, change.step, change.manoeuvre, str(change.at_s))


def _words(what: tuple[str | None, ...]) -> str:
    return ", ".join(word for word in what if word and word != "None")


def _version(before: Schedule, after: Schedule) -> Iterator[Broken]:
    if (after.version, after.replaces) != (before.version + 1, before.version):
        wanted = f"it must be version {before.version + 1}, replacing {before.version}"
        words = f"version {after.version} replaces {after.replaces}; {wanted}"
        yield Broken("version", None, None, words)


def is_listed(
    schedule: Schedule, kind: str, visit: PlacedVisit, step: str | None = None, at_s: int | None = None
) -> bool:
    """Whether a mended plan names this as what it cannot keep; no other plan may."""
    return schedule.replaces is not None and any(
        (one.kind, one.participant, one.visit) == (kind, visit.participant, visit.file_id)
        and (step is None or (one.step, one.at_s) == (step, at_s))
        for one in schedule.changes
    )
