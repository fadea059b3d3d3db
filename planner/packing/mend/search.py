"""The search for the fewest changes: who must change first, then with ever more others, until it holds."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from planner.packing.mend.aims import AIMS, is_touched
from planner.packing.mend.ring import Found, Ring, RingSearch
from planner.packing.mend.standing import Facts, Standing
from planner.packing.progress import Progress, Report

LARGE_DAY = 8  # visits; a day of up to so many is proven, of a larger one a good plan soon is worth more
LARGE_SHARE = 0.22  # of the time, for such a day,
LARGE_S = 3.3  # or so many seconds, where the time allows
WITHOUT_LOSS_SHARE, NEAR_SHARE = 0.4, 0.15  # for a day without loss; little where pieces soon find one
WIDER = (0, 1, 2, 4, 8)  # others freed with those who must change, the nearest first;
FEW = 4  # on a large day, so many in all; then it goes on by pieces,
ROOM_SHARE = 0.7  # for such a share of the time;
PIECES_SHARE = 0.8  # of all the time there is by pieces where somebody would lose their place,
WHOLE_SHARE = 0.7  # of the rest for all visits at once;
AFTER_S = 1.0  # from then on, on a large day, for fewer changes
KEEP_S = 5.0  # for windows that a large day misses, and need not
KEEP_WIDER, KEEP_SHARE = (3, 5), 0.4
CALL_S, CALL_SHARE = 5.0, 0.4  # for time enough for whoever is called sooner than told, and hardly has it
LEAST_S = 0.5  # for what is lost at least
SURELY_S = 0.6  # for a good way, however little time is left
AT_LAST_S = 5.0  # for any way at all, where none was found: the first one ends it
LOSSES = 4  # aims before this one are about loss, those from it on about change
TOUCHED = LOSSES
PROMISED = AIMS.index("shift_s") + 1  # aims up to here are a plan's stages, or bound them
NOTICE = AIMS.index("short_notice_s")
NO_LOSS = (0,) * LOSSES
EACH_S = 1.0  # for one ring of the enumeration
FEWER_SHARE = 0.3  # of the time left, for a day without one of those who are touched
NEAR_S = 60  # visits that overlap, or all but


@dataclass
class Search:
    """The best mended day so far, and what is known of all days."""

    rings: RingSearch
    until: float
    last: float  # the end of all the time there is
    report: Report | None = None
    best: Found | None = None

    @property
    def left_s(self) -> float:
        """Seconds that remain; none once somebody has asked to stop."""
        return 0.0 if self.rings.is_stopped else self.until - time.monotonic()

    def ring(
        self,
        some: Sequence[Standing],
        seconds: float,
        *,
        caps: Sequence[int] = (),
        aims: int = len(AIMS),
        below: Found | None = None,
    ) -> Ring:
        """What comes of freeing these visits, from the best day so far; what is better is kept."""
        found = self.rings.best(some, seconds, caps=caps, aims=aims, near=self.best, below=below)
        self.take(found)
        return found

    def take(self, ring: Ring) -> None:
        """Keeps what is better."""
        if ring.found and (self.best is None or ring.found.values < self.best.values):
            self.best = ring.found
            self._tell(ring.found)

    def _tell(self, found: Found) -> None:
        if self.report:
            facts = self.rings.facts
            placed = len(facts.frozen) + len(facts.standings) - found.values[0]
            touched, least = found.values[TOUCHED], found.bounds[TOUCHED]
            self.report(Progress(AIMS[TOUCHED], placed, touched, least, max(0.0, self.left_s)))


def mend(rings: RingSearch, seconds: float, report: Report | None = None) -> Found | None:
    """The day with the fewest changes that was found; None where no way was found in that time.

    What waiting alone makes of the day is known at once, and kept until something better is found. Who must
    change is freed first: where they alone lose nothing, no day touches fewer. Else others
    are freed with them to see what is lost at least, and then those who must change with one more, two
    more, ... until as little is lost: the first number that does is the fewest, once all smaller ones
    have been refuted. The bounds of what comes back hold for the whole day; where they do not prove what is
    promised, the time was too short.
    """
    best = _best(rings, seconds, report)
    return best and replace(best, is_cut_short=best.values[:PROMISED] != best.bounds[:PROMISED])


def _best(rings: RingSearch, seconds: float, report: Report | None) -> Found | None:
    forced = [s for s in rings.facts.standings if s.must_change]
    others = _by_nearness(forced, rings.facts)
    now = time.monotonic()
    search = Search(rings, now + _time_for(rings.facts, seconds), now + seconds, report)
    search.take(rings.waiting([*forced, *others]))
    alone = search.ring(forced, search.left_s * (0.3 if others else 1), caps=NO_LOSS)
    if alone.found:
        return _better(alone.found, search.best)
    least = _least_loss(search, forced, others)
    if least == NO_LOSS:
        _without_loss(search, forced, others)
    if search.best is None or search.best.values[:LOSSES] > NO_LOSS:
        least = _with_loss(search, forced, others, least)
        alone = Ring(None, False)
    if search.best is None:  # a way is better than none: without those who must change, else any at all
        search.take(rings.left_out([*forced, *others]))
    if search.best is None:
        search.take(rings.best([*forced, *others], AT_LAST_S, any_will_do=True))
    if search.best is None:
        return None
    if search.best.values[0] > least[0] and not rings.is_stopped:
        _go_on(search, [*forced, *others], least)
    elif search.best.values[:LOSSES] > least and len(rings.facts.standings) > LARGE_DAY:
        _keep_more(search, forced, others, least)
    _call_in_time(search, [*forced, *others])
    _with_fewer(search, forced)
    _polish(search)
    refuted = _with_more(search, forced, others, alone)  # it finds better days on its way
    return _bounded(search.best, least, len(forced), refuted)


def _better(alone: Found, best: Found | None) -> Found:
    """The better of a day in which only who must change does, proven or not, and the best one known."""
    if best is None or alone.values <= best.values:
        return alone
    return replace(best, bounds=tuple(map(min, best.values, alone.bounds)))


def _time_for(facts: Facts, seconds: float) -> float:
    """Seconds of those there are that a day of its size takes."""
    if len(facts.standings) <= LARGE_DAY:
        return seconds
    return min(seconds, max(LARGE_S, LARGE_SHARE * seconds))


def _least_loss(search: Search, forced: Sequence[Standing], others: Sequence[Standing]) -> tuple[int, ...]:
    """No day loses less than counting says, and than those who must change would lose by themselves."""
    alone = replace(search.rings.facts, standings=tuple(forced))
    ring = replace(search.rings, facts=alone, stop=None).best(forced, LEAST_S, aims=LOSSES)
    least = ring.found.bounds[:LOSSES] if ring.found else NO_LOSS
    return max(least, (search.rings.least_lost([*forced, *others]), *NO_LOSS[1:]))


def _without_loss(search: Search, forced: Sequence[Standing], others: Sequence[Standing]) -> None:
    """Frees those near the trouble too, then everybody, for a day that loses nothing."""
    near = [s for s in others if _apart(s, forced) < NEAR_S]
    by_pieces = len(search.rings.facts.standings) > LARGE_DAY and not any(s.begun for s in forced)
    for some in (near, () if by_pieces else others):
        if some:
            share = NEAR_SHARE if by_pieces else WITHOUT_LOSS_SHARE
            ring = search.ring([*forced, *some], share * search.left_s, caps=NO_LOSS, aims=TOUCHED + 1)
            if ring.found:
                return


def _with_loss(
    search: Search, forced: Sequence[Standing], others: Sequence[Standing], least: tuple[int, ...]
) -> tuple[int, ...]:
    """Frees ever more visits, the nearest first, for a day that loses least; what is lost at least.

    A few alone are soon settled; from a day in which they lose little the search with everybody goes on,
    on a large day by pieces. Where who must change has not begun, that day is the one without them. On a
    large day nobody is called too soon as yet: where it saves a place, that comes at the end.
    """
    surely = replace(search.rings, stop=None)  # some way at all is found also after a stop
    is_large = len(search.rings.facts.standings) > LARGE_DAY
    if is_large and not any(s.begun for s in forced):
        search.take(search.rings.left_out([*forced, *others]))
        return least
    few = FEW - len(forced) if is_large else len(others)
    wider = [n for n in WIDER if n < len(others) and (n == 0 or n <= few)]
    for count in wider if is_large else [*wider, len(others)]:
        seconds = max(SURELY_S, (0.6 if count in (len(others), few) else 0.25) * search.left_s)
        rings = surely if search.best is None else search.rings
        some = [*forced, *others[:count]]
        ring = rings.best(some, seconds, aims=TOUCHED + 1, near=search.best, in_time=is_large)
        search.take(ring)
        if search.best and (search.best.values[:LOSSES] == least or search.rings.is_stopped):
            return least
    if is_large:
        seconds = ROOM_SHARE * search.left_s
        search.take(search.rings.by_pieces([*forced, *others], seconds, search.best, least[0]))
        return least
    return max(least, ring.found.bounds[:LOSSES]) if ring.found else least


def _go_on(search: Search, everybody: Sequence[Standing], least: tuple[int, ...]) -> None:
    """All the time there is for a day in which nobody loses their place: by pieces, then all at once.

    On a large day it is over soon after that: whoever stands waiting for the plan gains little by the rest.
    """
    usual, search.until = search.until, search.last
    search.take(search.rings.by_pieces(everybody, PIECES_SHARE * search.left_s, search.best, least[0]))
    if search.best and search.best.values[0] > least[0]:
        search.ring(everybody, WHOLE_SHARE * search.left_s, aims=TOUCHED + 1)
    if len(search.rings.facts.standings) > LARGE_DAY:
        search.until = min(search.last, max(usual, time.monotonic() + AFTER_S))


def _keep_more(
    search: Search, forced: Sequence[Standing], others: Sequence[Standing], least: tuple[int, ...]
) -> None:
    """Some time more for a day that misses fewer windows, with ever more visits freed, the nearest first."""
    search.until = min(search.last, max(search.until, time.monotonic() + KEEP_S))
    for count in (*(n for n in KEEP_WIDER if n < len(others)), len(others)):
        if search.left_s <= 0 or not search.best or search.best.values[:LOSSES] <= least:
            return
        search.ring([*forced, *others[:count]], KEEP_SHARE * search.left_s, aims=TOUCHED + 1)


def _call_in_time(search: Search, everybody: Sequence[Standing]) -> None:
    """Some time for a day in which nobody is called sooner than they can come, and no more is lost."""
    if search.best is None or not search.best.values[NOTICE] or search.rings.is_stopped:
        return
    search.until = min(search.last, max(search.until, time.monotonic() + CALL_S))
    search.take(search.rings.called_in_time(everybody, CALL_SHARE * search.left_s, search.best))
    if search.best.values[NOTICE] and search.left_s > 0:
        caps = (*search.best.values[:NOTICE], search.best.values[NOTICE] - 1)  # some of them, at least
        search.ring(everybody, CALL_SHARE * search.left_s, caps=caps, aims=TOUCHED + 1)


def _with_fewer(search: Search, forced: Sequence[Standing]) -> None:
    """Leaves out by turns each of the others that the best day touches, until none of them can be.

    With only those free that are touched already a day is soon found, or refuted; with all of them, on a
    large day, hardly ever.
    """
    in_vain: set[int] = set(map(id, forced))
    while search.best and search.left_s > 0 and search.best.values[TOUCHED] > len(forced):
        best, touched = search.best, _touched(search.best)
        others = [one for one in touched if id(one) not in in_vain]
        if not others:
            return
        one = max(others, key=lambda standing: _apart(standing, forced))
        caps = (*best.values[:LOSSES], best.values[TOUCHED] - 1)
        rest = [standing for standing in touched if standing is not one]
        search.ring(rest, min(EACH_S, FEWER_SHARE * search.left_s), caps=caps, aims=TOUCHED + 1)
        if search.best is best:
            in_vain.add(id(one))


def _touched(found: Found) -> list[Standing]:
    """The visits that a day touches."""
    return [s for j, s in enumerate(found.day.facts.standings) if is_touched(found.day, found.answer, j)]


def _polish(search: Search) -> None:
    """Frees the visits that the best day touches once more: fewest blocks, smallest shifts."""
    assert search.best is not None
    touched = _touched(search.best)
    search.ring(touched, 0.6 * search.left_s, caps=search.best.values[: TOUCHED + 1])


@dataclass(frozen=True)
class Refuted:
    """How many visits more than the forced ones must be touched; whether all days with so many are known."""

    at_least: int
    is_complete: bool


def _bounded(best: Found, least: tuple[int, ...], forced: int, refuted: Refuted) -> Found:
    """The best day with bounds that hold for all days, whatever its ring."""
    loss = tuple(map(min, best.values[:LOSSES], least))
    if loss != best.values[:LOSSES]:
        return replace(best, bounds=(*loss, forced, *[0] * (len(AIMS) - TOUCHED - 1)))
    if refuted.is_complete:
        return replace(best, bounds=best.values)
    touched = min(best.values[TOUCHED], forced + refuted.at_least)
    return replace(best, bounds=(*loss, touched, *[0] * (len(AIMS) - TOUCHED - 1)))


def _by_nearness(forced: Sequence[Standing], facts: Facts) -> list[Standing]:
    """The others that may still change, those whose visits lie nearest first."""
    others = [s for s in facts.standings if not s.must_change and s.may_change(facts.now)]
    return sorted(others, key=lambda standing: _apart(standing, forced))


def _apart(standing: Standing, forced: Sequence[Standing]) -> float:
    """Seconds between a visit and the nearest of those that must change, as late as they are now."""
    start, end = standing.placed.start.timestamp(), standing.placed.end.timestamp()
    gaps = (max(start - _last(one), one.placed.start.timestamp() - end) for one in forced)
    return min(gaps, default=0.0)


def _last(standing: Standing) -> float:
    """The end of a visit as late as it is now."""
    start, end = standing.placed.start.timestamp(), standing.placed.end.timestamp()
    late = standing.earliest.timestamp() - start if standing.earliest else 0.0
    longer = [e.timestamp() - standing.by_index[i].end.timestamp() for i, e in standing.ends.items()]
    return end + max(0.0, late, *longer)


def _with_more(
    search: Search, forced: Sequence[Standing], others: Sequence[Standing], alone: Ring
) -> Refuted:
    """Frees ever more others until as little is lost as in the best day so far."""
    is_large = len(search.rings.facts.standings) > LARGE_DAY
    for more in range(1 if alone.is_settled else 0, len(others) + 1):
        settled = True
        for some in combinations(others, more):
            assert search.best is not None
            if search.left_s <= 0:
                return Refuted(more, False)
            seconds = min(EACH_S, search.left_s) if is_large else search.left_s / 3
            touched = len(forced) + more
            below = search.best if search.best.values[TOUCHED] == touched else None
            caps = (*search.best.values[:LOSSES], touched)
            settled = search.ring([*forced, *some], seconds, caps=caps, below=below).is_settled and settled
        assert search.best is not None
        if search.best.values[TOUCHED] <= len(forced) + more:
            return Refuted(more, settled)
        if not settled:
            return Refuted(more, False)
    return Refuted(len(others), False)
