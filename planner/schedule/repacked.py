"""The judge of a mended plan: what has begun stays, and the list of changes is complete.

What can no longer be kept must be named in the plan's `changes`, by kind: "window missed" (a time
point), "ended early" (a step shorter than planned), "waits longer" (a visit over `at_most_waiting`),
"runs over" (what has begun lasts into a break, beyond a shift, into an outage, beyond hours) and "dropped"
(an activity that cannot happen any more). Named, it is warned of; unnamed, it is broken.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import datetime

from planner.schedule.changes import DIFFERENCES, changes, is_known, own_changes
from planner.schedule.model import Activity, Broken, Change, PlacedVisit, Schedule

_Key = tuple[str, int | None, str | None]
_Span = tuple[float, float]  # on the clock, in seconds
Waiting = Collection[tuple[str, str, str]]  # (participant, file_id, step) of what cannot have begun yet


def has_begun(visit: PlacedVisit, activity: Activity, now: datetime, waiting: Waiting = ()) -> bool:
    """Whether the plan starts it before `now`, and it does not wait for something that has not ended."""
    waits = (visit.participant, visit.file_id, activity.step) in waiting
    return activity.start.timestamp() < now.timestamp() and not waits


def waiting_in(before: Schedule, after: Schedule, late: Sequence[str] = ()) -> Waiting:
    """What could not begin as planned: the two plans show that something it needs lasted longer.

    That is an earlier step of the same visit, or its rig or person elsewhere. `late`: participants of
    whom it is known that they came late.
    """
    new = {(v.participant, v.file_id): {_key(a): a for a in v.activities} for v in after.visits}
    held = _held(before, new)
    found: set[tuple[str, str, str]] = set()
    for visit in before.visits:
        known, waits = new.get((visit.participant, visit.file_id), {}), visit.participant in late
        for activity in visit.activities:
            waits = waits or (
                not _is_same(activity, known)
                and any(
                    start <= activity.start.timestamp() < end
                    for what in (visit.participant, *_needs(activity))
                    for start, end in held.get(what, ())
                )
            )
            if waits:
                found.add((visit.participant, visit.file_id, activity.step))
    return found


def broken_off(
    before: Schedule,
    now: datetime,
    cancelled: Collection[str] = (),
    out_of_use: Sequence[tuple[str, datetime, datetime]] = (),
) -> Waiting:
    """What the plan starts before `now` and need not stay: a visit nobody came to, a block whose rig failed.

    `cancelled`: participants who did not come on that day. `out_of_use`: (rig, from, to); what runs on the
    rig when it fails is broken off with all that follows it, and may be done again.
    """
    found: set[tuple[str, str, str]] = set()
    for visit in before.visits:
        is_away = visit.participant in cancelled and visit.date == now.date()
        for activity in visit.activities:
            is_away = is_away or any(
                _fails_in(activity, rig, start, end, now) for rig, start, end in out_of_use
            )
            if is_away:
                found.add((visit.participant, visit.file_id, activity.step))
    return found


def _fails_in(activity: Activity, rig: str, start: datetime, end: datetime, now: datetime) -> bool:
    """Whether the activity has begun, and still runs on that rig when it fails."""
    since = max(start.timestamp(), now.timestamp())
    runs = (
        activity.start.timestamp() < min(now.timestamp(), end.timestamp())
        and since < activity.end.timestamp()
    )
    return rig in activity.rigs and runs


def _held(before: Schedule, new: Mapping[tuple[str, str], Mapping[_Key, Activity]]) -> dict[str, list[_Span]]:
    """Participants, rigs and people with the spans for which an activity kept them longer than planned."""
    held: dict[str, list[_Span]] = {}
    for visit in before.visits:
        known = new.get((visit.participant, visit.file_id), {})
        for planned in visit.activities:
            mended = known.get(_key(planned))
            if mended is None or not _is_same(planned, known) or mended.end <= planned.end:
                continue
            for what, span in _kept_by(visit.participant, planned, mended):
                held.setdefault(what, []).append(span)
    return held


def _kept_by(participant: str, planned: Activity, mended: Activity) -> Iterator[tuple[str, _Span]]:
    """Each with the span; who clears or stays afterwards was to be there from the planned end only."""
    start, end, free = planned.start.timestamp(), planned.end.timestamp(), mended.rig_free.timestamp()
    for what in (participant, *_needs(planned)):
        yield what, (start, free)
    for person in planned.clear_staff.values():
        yield person, (end, free)
    if planned.watch and mended.watch:
        for person in planned.watch.staff.values():
            yield person, (end, mended.watch.end.timestamp())


def _needs(activity: Activity) -> tuple[str, ...]:
    """The rigs and people that it cannot begin without."""
    return (*activity.rigs, *activity.staff.values())


def _is_same(activity: Activity, known: Mapping[_Key, Activity]) -> bool:
    return _key(activity) in known and _fixed(known[_key(activity)]) == _fixed(activity)


def verify_repacked(
    before: Schedule, after: Schedule, now: datetime, waiting: Waiting = ()
) -> tuple[Broken, ...]:
    """What a mended plan breaks against the one that it replaces; the rules of any plan are `verify`'s."""
    return (
        *_begun(before, after, now, waiting),
        *_listed(before, after),
        *_known(before, after),
        *_version(before, after),
    )


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


def _key(activity: Activity) -> _Key:
    return (activity.step, activity.at_s, activity.manoeuvre)


def _fixed(activity: Activity) -> tuple[object, ...]:
    return (activity.start.timestamp(), activity.rigs, dict(activity.staff))


def _listed(before: Schedule, after: Schedule) -> Iterator[Broken]:
    """The plan's own list of changes holds each difference once, and nothing else but what was known."""
    said = Counter(_what(change) for change in own_changes(after) if change.kind in DIFFERENCES)
    true = Counter(_what(change) for change in changes(before, after))
    for what, number in (true - said).items():
        yield Broken("changes", what[0], what[1], f"not listed, {number} time(s): {_words(what)}")
    for what, number in (said - true).items():
        yield Broken(
            "changes", what[0], what[1], f"listed, and did not happen, {number} time(s): {_words(what)}"
        )


def _known(before: Schedule, after: Schedule) -> Iterator[Broken]:
    """What the plan says was known already, the plan before names: nothing new is passed off as old."""
    named = Counter(map(_what, before.changes))
    for change in (one for one in after.changes if is_known(one, after)):
        what = _what(change)
        if named[what] < 1:
            words = f"named as known since plan {change.since}, and the plan before does not name it"
            yield Broken("changes", change.participant, change.visit, f"{words}: {_words(what)}")
        named[what] -= 1


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
