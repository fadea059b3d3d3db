"""What differs between two plans of one study, in words and as values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime

from planner.clock import seconds_between
from planner.schedule.model import Activity, Change, PlacedVisit, RigTask, Schedule

Key = tuple[str, int | None, str | None]
WINDOW_MISSED = "window missed"  # these five are noted by repack itself: what can no longer be kept
ENDED_EARLY = "ended early"
WAITS_LONGER = "waits longer"
RUN_BROKEN = "run broken"  # a rig failed between two blocks that were to have the same one
RUNS_OVER = "runs over"  # it has begun, and lasts into hours that its people, rig or participant have not
DIFFERENCES = ("moved", "other rig", "other person", "dropped", "added")  # what two plans compared show


def changes(before: Schedule, after: Schedule) -> tuple[Change, ...]:
    """Every difference, by visit: dropped, added, moved, other rig, other person; then checks of rigs.

    A visit that is moved as a whole is one change; otherwise each moved activity is one. The same
    plan twice gives none.
    """
    old, new = _by_name(before), _by_name(after)
    found: list[Change] = []
    for name in sorted({*old, *new}):
        found += _of_visit(old.get(name), new.get(name))
    return (*found, *_of_checks(before, after))


def is_known(change: Change, schedule: Schedule) -> bool:
    """Whether an earlier plan has named it already: this one keeps it in mind, and did not bring it about."""
    return change.since is not None and change.since < schedule.version


def own_changes(schedule: Schedule) -> tuple[Change, ...]:
    """The changes that this plan has brought about itself."""
    return tuple(one for one in schedule.changes if not is_known(one, schedule))


def change_words(change: Change, schedule: Schedule) -> str:
    """What it says, after the plan that named it first where that is an earlier one."""
    return (
        f"known since plan {change.since}: {change.message}" if is_known(change, schedule) else change.message
    )


def _by_name(schedule: Schedule) -> dict[tuple[str, str], PlacedVisit]:
    return {(visit.participant, visit.file_id): visit for visit in schedule.visits}


def _of_visit(old: PlacedVisit | None, new: PlacedVisit | None) -> Iterator[Change]:
    if old is None or new is None:
        one = old or new
        assert one is not None
        kind = "dropped" if new is None else "added"
        when = f"{one.start:%Y-%m-%d %H:%M}"
        words = f"{one.participant}, {one.file_id}: visit {kind} ({when}-{one.end:%H:%M})"
        before, after = (when, None) if new is None else (None, when)
        yield Change(one.participant, one.file_id, words, kind, before=before, after=after)
        return
    shift = seconds_between(old.start, new.start)
    pairs = list(_pairs(old, new))
    if shift and all(_moved(a, b) == (shift, shift) for a, b in pairs):
        words = (
            f"{new.participant}, {new.file_id}: {old.start:%Y-%m-%d %H:%M} becomes {new.start:%Y-%m-%d %H:%M}"
        )
        before, after = f"{old.start:%Y-%m-%d %H:%M:%S}", f"{new.start:%Y-%m-%d %H:%M:%S}"
        yield Change(new.participant, new.file_id, words, "moved", before=before, after=after)
    else:
        yield from (_move(new, a, b) for a, b in pairs if _moved(a, b) != (0, 0))
    for a, b in pairs:
        yield from _served(new, a, b)
    yield from _came_and_went(old, new)


def _pairs(old: PlacedVisit, new: PlacedVisit) -> Iterator[tuple[Activity, Activity]]:
    by_key = {key_of(one): one for one in new.activities}
    yield from ((one, by_key[key_of(one)]) for one in old.activities if key_of(one) in by_key)


def key_of(activity: Activity) -> Key:
    """By what an activity of a visit is known in every version of a plan."""
    return (activity.step, activity.at_s, activity.manoeuvre)


def _moved(old: Activity, new: Activity) -> tuple[int, int]:
    """Seconds by which start and end differ."""
    return seconds_between(old.start, new.start), seconds_between(old.end, new.end)


def _move(visit: PlacedVisit, old: Activity, new: Activity) -> Change:
    days = ("", "")
    if old.start.date() != new.start.date():
        days = (f"{old.start:%Y-%m-%d} ", f"{new.start:%Y-%m-%d} ")
    before, after = days[0] + _span(old.start, old.end), days[1] + _span(new.start, new.end)
    words = f"{_words(visit, new)}: {before} becomes {after}"
    return _change(visit, new, words, "moved", before, after)


def _served(visit: PlacedVisit, old: Activity, new: Activity) -> Iterator[Change]:
    if old.rigs != new.rigs:
        before, after = " and ".join(old.rigs), " and ".join(new.rigs)
        yield _change(
            visit, new, f"{_words(visit, new)}: {after} instead of {before}", "other rig", before, after
        )
    for role, before, after in _other_people(_people(old), _people(new)):
        words = f"{_words(visit, new)}: {after} instead of {before} as {role}"
        yield _change(visit, new, words, "other person", before, after)


def _people(activity: Activity) -> dict[str, str]:
    """Who serves, by role; who stays and who clears under names of their own."""
    watch = activity.watch.staff if activity.watch else {}
    return {
        **activity.staff,
        **{f"{role} (staying)": person for role, person in watch.items()},
        **{f"{role} (clearing)": person for role, person in activity.clear_staff.items()},
    }


def _other_people(old: Mapping[str, str], new: Mapping[str, str]) -> Iterator[tuple[str, str, str]]:
    for role in dict.fromkeys((*old, *new)):
        if old.get(role) != new.get(role):
            yield role, old.get(role, "nobody"), new.get(role, "nobody")


def _came_and_went(old: PlacedVisit, new: PlacedVisit) -> Iterator[Change]:
    """Activities that only one of the two has, as when a protocol was changed."""
    before, after = {key_of(one) for one in old.activities}, {key_of(one) for one in new.activities}
    for visit, other, kind in ((old, after, "dropped"), (new, before, "added")):
        for one in visit.activities:
            if key_of(one) not in other:
                when = f"{one.start:%Y-%m-%d} {_span(one.start, one.end)}"
                span = (when, None) if kind == "dropped" else (None, when)
                yield _change(visit, one, f"{_words(visit, one)}: {kind} ({when})", kind, *span)


def _of_checks(before: Schedule, after: Schedule) -> Iterator[Change]:
    """Checks before first use that are moved, dropped, added or done by somebody else."""
    old, new = (list(schedule.rig_tasks) for schedule in (before, after))
    for task in [one for one in old if one in new]:
        old.remove(task)
        new.remove(task)
    for task in old:
        twin = next((one for one in new if _place(one) == _place(task)), None)
        if twin is None:
            yield Change(None, None, f"{_check(task)}: dropped", "dropped", before=_check(task))
        else:
            new.remove(twin)
            words = f"{_check(task)} becomes {_check(twin)}"
            yield Change(None, None, words, "moved", before=_check(task), after=_check(twin))
    for task in new:
        yield Change(None, None, f"{_check(task)}: added", "added", after=_check(task))


def _place(task: RigTask) -> tuple[str, object]:
    return task.rig, task.start.date()


def _check(task: RigTask) -> str:
    who = " and ".join(task.staff.values()) or "nobody"
    return f"check of {task.rig} {task.start:%Y-%m-%d %H:%M} by {who}"


def _change(
    visit: PlacedVisit, activity: Activity, words: str, kind: str, before: str | None, after: str | None
) -> Change:
    step, at_s, manoeuvre = key_of(activity)
    return Change(visit.participant, visit.file_id, words, kind, step, at_s, manoeuvre, before, after)


def _words(visit: PlacedVisit, activity: Activity) -> str:
    what = f"{activity.manoeuvre} of {activity.step}" if activity.manoeuvre else activity.step
    at = "" if activity.at_s is None else f" ({activity.at_s // 60} min)"
    return f"{visit.participant}, {visit.file_id}, {what}{at}"


def _span(start: datetime, end: datetime) -> str:
    return f"{start:%H:%M:%S}-{end:%H:%M:%S}"
