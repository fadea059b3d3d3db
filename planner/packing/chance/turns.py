"""A day whose turns are kept: rigs and people go from duty to duty in the same order, only moments move.

What is left to choose is then the start of each activity, and every rule is a least distance
between two of them: soon solved, and exact in whole steps.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from planner.packing.core import Answer, Core, Span, Use, stretched
from planner.packing.taken import use_times

Node = tuple[int, int]  # job, activity
Duty = tuple[int, int, Use]  # start, end, use


@dataclass(frozen=True, slots=True)
class Apart:
    """start of `later` - start of `earlier` >= low."""

    earlier: Node
    later: Node
    low: int


def spans(core: Core, answer: Answer) -> dict[Node, Span]:
    """The earliest and latest start of every placed activity, within the free times that it uses now."""
    found: dict[Node, Span] = {}
    for j, (job, starts) in enumerate(zip(core.jobs, answer.starts, strict=True)):
        if starts is None:
            continue
        begin, end = starts[job.first], starts[job.last] + job.lengths[job.last]
        low, high = next(s for s in job.within if s[0] <= begin and end <= s[1])
        first, latest = next(s for s in job.starts if s[0] <= begin <= s[1])
        for i, length in enumerate(job.lengths):
            found[j, i] = low, high - length
        found[j, job.first] = max(low, first), min(found[j, job.first][1], latest)
    for r, duties in duties_of(core, answer).items():
        for start, end, use in duties:
            low, high = next(s for s in core.resources[r].free if s[0] <= start and end <= s[1])
            _narrow(found, (use.job, use.first), low + lead_of(core, use), None)
            _narrow(found, (use.job, use.last), None, high - tail_of(core, use))
    return found


def _narrow(found: dict[Node, Span], node: Node, low: int | None, high: int | None) -> None:
    before = found[node]
    found[node] = (
        before[0] if low is None else max(low, before[0]),
        before[1] if high is None else min(high, before[1]),
    )


def apart(core: Core, answer: Answer) -> Iterator[Apart]:
    """Every least distance: within visits, between visits of one participant, between duties."""
    for j, job in enumerate(core.jobs):
        if answer.starts[j] is None:
            continue
        for gap in stretched(job):
            yield Apart((j, gap.earlier), (j, gap.later), gap.low)
            if gap.high is not None:
                yield Apart((j, gap.later), (j, gap.earlier), -gap.high)
    for a, b in core.in_turn:
        if answer.starts[a] is not None and answer.starts[b] is not None:
            job = core.jobs[a]
            yield Apart((a, job.last), (b, core.jobs[b].first), job.lengths[job.last])
    for a, b, most in core.near:
        if answer.starts[a] is not None and answer.starts[b] is not None:
            yield Apart((b, core.jobs[b].first), (a, core.jobs[a].first), -most)
    for duties in duties_of(core, answer).values():
        yield from _in_turn(core, duties)


def _in_turn(core: Core, duties: list[Duty]) -> Iterator[Apart]:
    """Duties one after another; what overlaps (a watch, a block in its bout) stays as far apart as it is."""
    pairs = list(pairwise(duties))
    if any(one[1] > other[0] for one, other in pairs):
        pairs = [(one, other) for place, one in enumerate(duties) for other in duties[place + 1 :]]
    for (start, end, one), (other_start, _, other) in pairs:
        if end <= other_start:
            low = tail_of(core, one) + lead_of(core, other)
            yield Apart((one.job, one.last), (other.job, other.first), low)
            continue
        ahead, behind = (one.job, one.first), (other.job, other.first)
        low = other_start - start - lead_of(core, one) + lead_of(core, other)
        yield Apart(ahead, behind, low)
        yield Apart(behind, ahead, -low)


def duties_of(core: Core, answer: Answer) -> dict[int, list[Duty]]:
    """The uses of each rig and person, by start."""
    found: dict[int, list[Duty]] = defaultdict(list)
    for j, (starts, given) in enumerate(zip(answer.starts, answer.given, strict=True)):
        for use, r in zip(core.uses[j], given or (), strict=False):
            if starts is not None:
                found[r].append((*use_times(core, use, starts), use))
    return {r: sorted(duties, key=lambda duty: duty[:2]) for r, duties in found.items()}


def lead_of(core: Core, use: Use) -> int:
    """By how much the start of its first activity lies after the beginning of a use (below 0: before)."""
    return -core.jobs[use.job].lengths[use.first] if use.from_end else use.lead


def tail_of(core: Core, use: Use) -> int:
    """By how much the end of a use lies after the start of its last activity."""
    return core.jobs[use.job].lengths[use.last] + use.tail
