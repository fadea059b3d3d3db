"""As many visits as can be: one more is put beyond the end of the day, and the day pressed together."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator
from dataclasses import replace

from planner.packing.core import Answer, Core
from planner.packing.greedy import refill
from planner.packing.search.anyone import Anyone, anyone
from planner.packing.search.growing import Growth
from planner.packing.search.lns import Effort, search
from planner.packing.search.overtime import LongDay, long_day, without_job

PATIENCE = 150  # pieces without a gain, after which another visit is tried as the one more
MOST_TRIES = 3  # of each piece in vain while a day grows, one at first
BEST = 3  # one of so many of the best beginnings is taken


def one_more(core: Core, best: Answer, bound: int, effort: Effort, tell: Callable[[Answer], None]) -> Answer:
    """The best answer found: visits are added one by one until `bound` is met or the time is over.

    At first for visitors without names. Where their places suit nobody, it goes on with names.
    """
    nameless = anyone(core)
    if nameless is not None:
        for answer in _more_and_more(nameless.core, best, bound, effort, _with_names(nameless, tell)):
            named = nameless.with_names(answer)
            if named is None:
                break
            best = named
            tell(best)
        else:
            return best
    for answer in _more_and_more(core, best, bound, effort, tell):
        best = answer
        tell(best)
    return best


def _with_names(nameless: Anyone, tell: Callable[[Answer], None]) -> Callable[[Answer], None]:
    """Tells of days whose places suit somebody each."""

    def tell_named(answer: Answer) -> None:
        if (named := nameless.with_names(answer)) is not None:
            tell(named)

    return tell_named


def _more_and_more(
    core: Core, best: Answer, bound: int, effort: Effort, tell: Callable[[Answer], None]
) -> Iterator[Answer]:
    """Answers each with more visits than the one before: grown anew, or one put into the best.

    `tell` hears of a day while it still grows: it may be enough.

    The way that has gained is gone again, else it is the other's turn.
    """
    draw, number, grows = random.Random(effort.seed), 0, True
    while best.placed(core) < bound and not _is_over(effort, number):
        number += 1
        seconds = effort.seconds / 2 if effort.workers == 1 else effort.until - time.monotonic()
        tried = replace(effort, seconds=seconds, seed=effort.seed + 1000 * number, patience=PATIENCE)
        if grows:
            found = _grown(core, best, bound, tried, min(MOST_TRIES, 1 + number // 2), tell)
        else:
            found = _put_in(core, best, tried, draw)
        if found is not None and found.placed(core) > best.placed(core):
            best = found
            yield best
        else:
            grows = not grows


def _grown(
    core: Core, best: Answer, bound: int, effort: Effort, tries: int, tell: Callable[[Answer], None]
) -> Answer | None:
    """A day grown from its opening on, with what else it has room for."""
    long = _longer(core, best)
    found = Growth(long, effort, most=bound, known=best.placed(core), tries=tries, tell=tell).day()
    return refill(core, found, [j for j in core.visits() if found.starts[j] is None])


def _put_in(core: Core, best: Answer, effort: Effort, draw: random.Random) -> Answer | None:
    """The best day with one visit more, put beyond its end and pressed on until it fits."""
    long = _longer(core, best)
    beginnings = sorted(_beginnings(core, long, best, draw), key=long.score)[:BEST]
    if not beginnings:
        return None
    found = search(long.core, draw.choice(beginnings), long.hunt(), effort)
    return found if long.over(found) == 0 else None


def _is_over(effort: Effort, number: int) -> bool:
    if effort.stop and effort.stop():
        return True
    return number >= 2 if effort.workers == 1 else time.monotonic() >= effort.until


def _longer(core: Core, best: Answer) -> LongDay:
    """The day with room for any one visit more after its end."""
    left = [core.jobs[j] for j in core.visits() if best.starts[j] is None]
    return long_day(core, max((2 * job.alone + (job.stretch or 0) for job in left), default=0))


def _beginnings(core: Core, long: LongDay, best: Answer, draw: random.Random) -> Iterator[Answer]:
    """Answers in which a visit more stands: itself at the end, or in a place whose visit goes to the end."""
    for extra in _candidates(core, best, draw):
        if (joined := refill(long.core, best, [extra])).starts[extra] is not None:
            yield joined
        for other in _could_take(core, best, extra):
            moved = refill(long.core, _in_place_of(best, extra, other), [other])
            if moved.starts[other] is not None:
                yield moved


def _candidates(core: Core, best: Answer, draw: random.Random) -> list[int]:
    """Visits without a place that may come at all, one of each kind; only those that must, if there are."""
    left = [j for j in core.visits() if best.starts[j] is None and core.jobs[j].within]
    left = [j for j in left if core.jobs[j].must] or left
    draw.shuffle(left)
    return list({core.jobs[j].alike or j: j for j in left}.values())


def _could_take(core: Core, best: Answer, extra: int) -> Iterator[int]:
    """Visits of the same kind but for when they may come, in whose place the extra one could come.

    One that is like no other (somebody is wished for) comes in nobody's place.
    """
    job = core.jobs[extra]
    if job.alike is None:
        return
    wants = [replace(use, job=0) for use in core.uses[extra]]
    for j in core.visits():
        other, starts = core.jobs[j], best.starts[j]
        if starts is None or other.alike is None or other.alike == job.alike:
            continue
        begin, end = starts[other.first], starts[other.last] + other.lengths[other.last]
        is_like = (other.lengths, other.gaps, other.stretch) == (job.lengths, job.gaps, job.stretch)
        if (
            is_like
            and wants == [replace(use, job=0) for use in core.uses[j]]
            and any(low <= begin and end <= high for low, high in job.within)
            and any(low <= begin <= high for low, high in job.starts)
        ):
            yield j


def _in_place_of(answer: Answer, extra: int, other: int) -> Answer:
    """The answer with the extra visit where the other one was."""
    starts, given = list(answer.starts), list(answer.given)
    starts[extra], given[extra] = answer.starts[other], answer.given[other]
    return without_job(Answer(tuple(starts), tuple(given)), other)
