"""What ran on a rig, or with a person, that was not there, and was over before anybody told of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from planner.clock import Interval
from planner.packing.mend.facts import afterwards
from planner.packing.mend.standing import Facts, Standing
from planner.packing.mend.troubles import Span
from planner.schedule.model import Reason, RigTask
from planner.schedule.rules.case import activity_words, clock

COUNTS = "it counts as done; the person in charge decides whether it is done again"
Use = tuple[str, Interval, str]  # a rig or a person, when, and what for


def told_late(known: Facts, tasks: Sequence[RigTask]) -> Iterator[Reason]:
    """Work that was done without what it needs, as far as is known only now: somebody must judge it.

    What still runs when a rig or a person is told of is none of it: that is broken off, or taken over.
    """
    uses = [*_of_checks(tasks, known.now)]
    for standing in known.standings:
        uses += (use for i in sorted(standing.begun) for use in _of_work(standing, i, known.now))
    for spans, words in (
        (known.troubles.out_of_use, "out of use"),
        (known.troubles.absent, "away"),
    ):
        for span in spans:
            for name, when, what in uses:
                if name == span[0] and _was_gone(span, when, known.now):
                    yield Reason(f"{what}: {name} was {words} from {clock(span[1])}; {COUNTS}")


def _was_gone(span: Span, when: Interval, now: datetime) -> bool:
    """Whether somebody was gone in that time, and whatever it was is over, or they are back."""
    _, start, end = span
    first, last = max(start, when.start, key=_second), min(end, when.end, now, key=_second)
    is_over = min(end.timestamp(), when.end.timestamp()) <= now.timestamp()
    return first.timestamp() < last.timestamp() and is_over


def _second(moment: datetime) -> float:
    return moment.timestamp()


def _of_work(standing: Standing, index: int, now: datetime) -> Iterator[Use]:
    """The rigs and people of something that has begun, and who cleared or stayed once it had ended."""
    activity, end = standing.by_index[index], standing.end(index)
    who = f"{standing.placed.participant}, {standing.placed.file_id}"
    runs = Interval(activity.start, end)
    what = f"{who}: {activity_words(activity)}, {clock(runs.start)}-{clock(runs.end)}"
    for name in dict.fromkeys((*activity.rigs, *activity.staff.values())):
        yield name, runs, what
    if end.timestamp() < now.timestamp():
        for name, after in afterwards(standing, index):
            yield (
                name,
                after,
                f"{who}: after {activity_words(activity)}, {clock(after.start)}-{clock(after.end)}",
            )


def _of_checks(tasks: Sequence[RigTask], now: datetime) -> Iterator[Use]:
    for task in tasks:
        if task.start.timestamp() < now.timestamp():
            what = f"check of {task.rig}, {clock(task.start)}-{clock(task.end)}"
            yield from (
                (name, task.interval, what) for name in dict.fromkeys((task.rig, *task.staff.values()))
            )
