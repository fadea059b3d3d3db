"""What the plan before named already as lost: later plans name it as well, and it costs nothing again."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace

from planner.packing.mend.standing import Standing
from planner.packing.problem import VisitKey, key
from planner.schedule.beside_asked import link_s
from planner.schedule.changes import (
    ENDED_EARLY,
    RUN_BROKEN,
    RUNS_OVER,
    WAITS_LONGER,
    WINDOW_MISSED,
    Key,
    key_of,
)
from planner.schedule.model import Activity, Change, PlacedVisit, Schedule
from planner.timing.plan import Link, Why

NAMED = (WINDOW_MISSED, ENDED_EARLY, WAITS_LONGER, RUN_BROKEN, RUNS_OVER)


def known_of(schedule: Schedule) -> tuple[Change, ...]:
    """What later plans must name too, with the plan that named it first: what cannot be kept, or happen."""
    return tuple(
        one if one.since is not None else replace(one, since=schedule.version)
        for one in schedule.changes
        if one.kind in NAMED or (one.kind == "dropped" and one.step is not None)
    )


def still_known(
    known: Iterable[Change],
    named: Iterable[Change],
    anew: Collection[VisitKey],
    visits: Iterable[PlacedVisit],
) -> Iterator[Change]:
    """What is known and not named once more, nor in its place again in these `visits`.

    Of the visits of `anew`, `named` says all that they cannot keep.
    """
    again = set(map(_what, named))
    back = {(*key(visit), *key_of(one)) for visit in visits for one in visit.activities}
    for one in known:
        whose = (one.participant or "", one.visit or "")
        is_over = whose in anew if one.kind in NAMED else (*whose, *_key(one)) in back
        if not is_over and _what(one) not in again:
            yield one


def dated(named: Iterable[Change], known: Iterable[Change]) -> Iterator[Change]:
    """What is named, that which the plan before says in the same words with the plan that said it first."""
    since = {(_what(one), one.message): one.since for one in known}
    for one in named:
        first = since.get((_what(one), one.message))
        yield one if first is None else replace(one, since=first)


def _what(change: Change) -> tuple[object, ...]:
    return (change.participant, change.visit, change.kind, change.step, change.at_s, change.manoeuvre)


def known_miss(standing: Standing, link: Link) -> Change | None:
    """What the plan before says of the window, where it misses it already."""
    if not any(beyond_s(link, standing.by_index)):
        return None
    whose = key_of(owner(link, standing.by_index))
    return next((c for c in standing.known if c.kind == WINDOW_MISSED and _key(c) == whose), None)


def known_wait(standing: Standing) -> Change | None:
    """What the plan before says of a visit that lasts longer than is asked for."""
    return next((one for one in standing.known if one.kind == WAITS_LONGER), None)


def _key(change: Change) -> Key:
    return (change.step or "", change.at_s, change.manoeuvre)


def beyond_s(link: Link, by_index: Mapping[int, Activity]) -> tuple[int, int]:
    """Seconds by which a distance is too short, and too long; none where an end is missing."""
    seconds = link_s(link, by_index)
    if seconds is None:
        return 0, 0
    short_s = 0 if link.low_s is None else max(0, link.low_s - seconds)
    return short_s, 0 if link.high_s is None else max(0, seconds - link.high_s)


def owner(link: Link, by_index: Mapping[int, Activity]) -> Activity:
    """The activity whose window a link is: with a time of its own, else the one that follows."""
    one, two = by_index[link.earlier.activity], by_index[link.later.activity]
    return one if two.at_s is None and one.at_s is not None and link.why is not Why.STARTS_WITHIN else two


def as_missed(link: Link, standing: Standing) -> Link:
    """The link no tighter than the plan before keeps it."""
    short_s, long_s = beyond_s(link, standing.by_index)
    return replace(
        link,
        low_s=None if link.low_s is None else link.low_s - short_s,
        high_s=None if link.high_s is None else link.high_s + long_s,
    )
