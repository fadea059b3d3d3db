"""What a mended visit can no longer keep, each named: windows, lengths, a rig that was to stay, waiting."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from planner.clock import seconds_between
from planner.packing.mend.core import soft_links
from planner.packing.mend.known import beyond_s, known_miss, known_wait, owner
from planner.packing.mend.standing import Standing
from planner.schedule.beside_asked import matched
from planner.schedule.changes import ENDED_EARLY, RUN_BROKEN, WAITS_LONGER, WINDOW_MISSED
from planner.schedule.model import Activity, Change, PlacedVisit
from planner.schedule.rules.case import activity_words, clock, span_words
from planner.timing.plan import Link, Why


def misses(standing: Standing, visit: PlacedVisit, most_s: int | None) -> Iterator[Change]:
    """What of the study's rules a mended visit cannot keep, each named; `most_s` is its longest waiting."""
    by_index = matched(visit, standing.plan)
    for link in soft_links(standing):
        if off_s := max(beyond_s(link, by_index)):
            own = owner(link, by_index)
            words = f"{activity_words(own)} {_missed(link, own, by_index)} by {span_words(off_s)}"
            yield _since(known_miss(standing, link), _change(visit, own, WINDOW_MISSED, words))
    for i, one in by_index.items():
        planned_s = standing.plan.activities[i].length_s
        if (length := seconds_between(one.start, one.end)) < planned_s:
            short = span_words(planned_s - length)
            yield _change(visit, one, ENDED_EARLY, f"{activity_words(one)} ended {short} early")
    yield from _run_broken(standing, visit, by_index)
    length = seconds_between(visit.start, visit.end) - standing.plan.alone_s
    if standing.begun and most_s is not None and length > most_s:
        words = f"waits {span_words(length)} in all; at most {span_words(most_s)} is asked for"
        message = f"{visit.participant}, {visit.file_id}: {words}"
        yield _since(known_wait(standing), Change(visit.participant, visit.file_id, message, WAITS_LONGER))


def _since(known: Change | None, change: Change) -> Change:
    """The change, with the plan that named it first where it is known."""
    return change if known is None else replace(change, since=known.since)


def _missed(link: Link, own: Activity, by_index: Mapping[int, Activity]) -> str:
    """What becomes of a window."""
    if link.why is Why.STARTS_WITHIN:
        before = by_index[link.earlier.activity]
        return f"at {clock(own.start)} comes too long after {activity_words(before)},"
    return f"at {clock(own.first_effort or own.start)} misses its window"


def _run_broken(standing: Standing, visit: PlacedVisit, by_index: Mapping[int, Activity]) -> Iterator[Change]:
    """Blocks that go on with another rig than the one that failed."""
    for i in sorted(standing.split):
        inside = standing.plan.activities[i].inside
        after = next(a for a in standing.plan.activities[i + 1 :] if a.inside == inside)
        one, two = by_index.get(i), by_index.get(after.index)
        if one and two and one.rigs != two.rigs:
            words = f"{activity_words(two)} is on {' and '.join(two.rigs)}, and {activity_words(one)} was on "
            yield _change(visit, two, RUN_BROKEN, words + " and ".join(one.rigs))


def _change(visit: PlacedVisit, one: Activity, kind: str, words: str) -> Change:
    message = f"{visit.participant}, {visit.file_id}: {words}"
    return Change(visit.participant, visit.file_id, message, kind, one.step, one.at_s, one.manoeuvre)
