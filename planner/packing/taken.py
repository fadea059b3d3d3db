"""When an answer takes which rig or person."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.packing.core import Core, Span, Use


def use_times(core: Core, use: Use, starts: Sequence[int]) -> Span:
    """Start and end of a use of a job whose activities start so."""
    lengths = core.jobs[use.job].lengths
    if use.from_end:
        end = starts[use.first] + lengths[use.first]
        return end, end + use.tail
    return starts[use.first] - use.lead, starts[use.last] + lengths[use.last] + use.tail


def busy(
    core: Core, j: int, starts: Sequence[int] | None, given: Sequence[int] | None
) -> Iterator[tuple[Use, int, Span]]:
    """Each use of a placed job, who serves it and when; a block in its own bout only beyond the bout."""
    for n, use in enumerate(core.uses[j]) if starts and given else ():
        assert starts
        assert given
        start, end = use_times(core, use, starts)
        for m, other in enumerate(core.uses[j]):
            if given[m] == given[n] and holds(other, use):
                start = max(start, use_times(core, other, starts)[1])
        if start < end:
            yield use, given[n], (start, end)


def holds(bout: Use, block: Use) -> bool:
    """Whether `bout` is a use of the bout around the block of `block`."""
    return (
        block.bout is not None
        and bout.bout is None
        and not bout.from_end
        and bout.first <= block.bout <= bout.last
    )


def needs_another(one: Use, other: Use) -> bool:
    """Whether two uses of one activity are two persons; who clears after it may stay meanwhile."""
    if one.from_end and other.from_end:
        return one.wants is other.wants
    return one.from_end == other.from_end


def overlaps(one: Use, other: Use) -> bool:
    """Whether two uses of one visit want something at the same time: in one activity, or as runs of them."""
    return one.from_end == other.from_end and one.first <= other.last and other.first <= one.last
