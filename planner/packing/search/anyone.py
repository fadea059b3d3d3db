"""Visits that differ only in when they may come, taken for one another until the day is packed.

Whether a full day holds one visit more hardly ever hangs on who comes when. So the day is packed for
visitors without names, each free whenever any of them is, and the places are handed out afterwards:
a matching, which is exact. All these visits are alike then, and a search has far less to tell apart.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, replace

import numpy as np
from ortools.graph.python import max_flow

from planner.packing.core import Answer, Core, Job, Span


@dataclass(frozen=True)
class Anyone:
    """The day without names (`core`), and the groups of jobs that may stand for one another in it."""

    named: Core
    core: Core
    groups: tuple[tuple[int, ...], ...]

    def with_names(self, answer: Answer) -> Answer | None:
        """The answer with its places handed out to those who may come then; None: one suits nobody."""
        starts, given = list(answer.starts), list(answer.given)
        for group in self.groups:
            places = [j for j in group if answer.starts[j] is not None]
            takers = self._takers(answer, places, group)
            if takers is None:
                return None
            for j in group:
                starts[j] = given[j] = None
            for j, place in takers.items():
                starts[j], given[j] = answer.starts[place], answer.given[place]
        return Answer(tuple(starts), tuple(given))

    def _takers(self, answer: Answer, places: list[int], group: tuple[int, ...]) -> dict[int, int] | None:
        """Who takes which place, all places taken."""
        could = [
            (n, m)
            for n, place in enumerate(places)
            for m, j in enumerate(group)
            if _may_take(self.named.jobs[j], answer.starts[place])
        ]
        matched = _matching(could, len(places), len(group))
        return {group[m]: places[n] for n, m in matched} if len(matched) == len(places) else None


def anyone(core: Core) -> Anyone | None:
    """The day without names; None where all visits of a kind may come at the same times anyway."""
    kinds: dict[Hashable, list[int]] = defaultdict(list)
    for j in core.visits():
        if core.jobs[j].alike is not None and core.jobs[j].within and core.jobs[j].starts:
            kinds[_kind(core, j)].append(j)
    groups = [tuple(its) for its in kinds.values() if len({core.jobs[j].alike for j in its}) > 1]
    if not groups:
        return None
    jobs = list(core.jobs)
    for number, group in enumerate(groups):
        within = _joined((span for j in group for span in core.jobs[j].within), apart=0)
        starts = _joined((span for j in group for span in core.jobs[j].starts), apart=1)
        for j in group:
            jobs[j] = replace(jobs[j], within=within, starts=starts, alike=("anyone", number))
    return Anyone(core, replace(core, jobs=tuple(jobs)), tuple(groups))


def _kind(core: Core, j: int) -> Hashable:
    """All there is of a visit but who it is and when it may come."""
    job = replace(core.jobs[j], key=None, within=(), starts=(), alike=None)
    return job, tuple(replace(use, job=0) for use in core.uses[j])


def _joined(spans: Iterable[Span], apart: int) -> tuple[Span, ...]:
    """The union; spans that are no further apart than that become one."""
    found: list[Span] = []
    for low, high in sorted(spans):
        if found and low <= found[-1][1] + apart:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        else:
            found.append((low, high))
    return tuple(found)


def _may_take(job: Job, starts: tuple[int, ...] | None) -> bool:
    """Whether that visit may lie where this one does."""
    assert starts is not None
    begin, end = starts[job.first], starts[job.last] + job.lengths[job.last]
    return any(low <= begin and end <= high for low, high in job.within) and any(
        low <= begin <= high for low, high in job.starts
    )


def _matching(could: list[tuple[int, int]], left: int, right: int) -> list[tuple[int, int]]:
    """As many pairs as can be, no number in two of them."""
    if not could:
        return []
    flow = max_flow.SimpleMaxFlow()
    source, sink, first, second = 0, 1, 2, 2 + left
    pairs = np.array(could)
    flow.add_arcs_with_capacity(np.full(left, source), first + np.arange(left), np.ones(left, int))
    flow.add_arcs_with_capacity(second + np.arange(right), np.full(right, sink), np.ones(right, int))
    arcs = flow.add_arcs_with_capacity(first + pairs[:, 0], second + pairs[:, 1], np.ones(len(pairs), int))
    if flow.solve(source, sink) != flow.OPTIMAL:
        raise RuntimeError("the places of a day could not be handed out")
    return [pair for pair, sent in zip(could, flow.flows(arcs), strict=True) if sent]
