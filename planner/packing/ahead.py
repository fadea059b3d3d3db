"""Of several visits of one participant on a day, none comes unless those ahead of it do: practice first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from planner.packing.core import Core
from planner.packing.insertion import Visitor


def out_of_turn(core: Core, starts: Sequence[tuple[int, ...] | None]) -> set[int]:
    """The jobs that have a place though one ahead of them has none."""
    return {b for a, b in core.in_turn if starts[a] is None and starts[b] is not None}


def ahead_first(core: Core, order: Sequence[int]) -> list[int]:
    """The same jobs, each after those of them that are ahead of it; else in their order."""
    ahead: dict[int, list[int]] = defaultdict(list)
    for a, b in core.in_turn:
        ahead[b].append(a)
    asked, found = set(order), dict[int, None]()
    for j in order:
        its = [a for a in ahead[j] if a in asked]
        found.update(dict.fromkeys([*sorted(its, key=lambda a: len(ahead[a])), j]))
    return list(found)


def only_in_turn(core: Core) -> Core:
    """The day without visits behind one that cannot come at all, or after which they may never come."""
    those_ahead = {a for a, _ in core.in_turn}
    never = {a for a in those_ahead if not Visitor(core, a).spans()}
    never |= {b for _, b, most in core.near if most < 0}
    behind = {b for a, b in core.in_turn if a in never}
    behind |= {b for _, b, most in core.near if most < 0}
    jobs = tuple(replace(job, within=()) if j in behind else job for j, job in enumerate(core.jobs))
    return replace(core, jobs=jobs) if behind else core
