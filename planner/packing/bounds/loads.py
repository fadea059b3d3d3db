"""What a visit takes at least of each set of rigs and people."""

from __future__ import annotations

from collections import defaultdict

from planner.packing.core import Core, Use, Wants, closure, stretched

Members = dict[frozenset[int], int]


def needs(core: Core, j: int) -> Members:
    """Steps that a visit takes at least from each set of resources; what may be shared counts nothing."""
    job = core.jobs[j]
    distances = closure(len(job.lengths), stretched(job))
    found: Members = defaultdict(int)
    for use in core.uses[j]:
        if distances is not None and not may_share(core, use):
            run = distances.at_least(use.first, use.last) or 0
            length = use.tail if use.from_end else run + job.lengths[use.last] + use.lead + use.tail
            found[frozenset(use.choices)] += length
    return found


def may_share(core: Core, use: Use) -> bool:
    """A watch may overlap the own visit's blocks; a block in a bout may have what serves the bout."""
    if use.wants is Wants.WATCH:
        return True
    return use.bout is not None and any(
        other.bout is None and other.first <= use.bout <= other.last and set(other.choices) & set(use.choices)
        for other in core.uses[use.job]
    )
