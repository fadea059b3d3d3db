"""Visits that are alike in everything: which of their activities may change places among them."""

from __future__ import annotations

from collections import defaultdict

from planner.packing.core import Answer, Core, Use, Wants


def alike_jobs(core: Core) -> list[list[int]]:
    """The jobs that are alike, group by group, in order; one by itself is no group."""
    groups: dict[object, list[int]] = defaultdict(list)
    for j, job in enumerate(core.jobs):
        if job.alike is not None:
            groups[job.alike].append(j)
    return [jobs for jobs in groups.values() if len(jobs) > 1]


def sorted_activities(core: Core, jobs: list[int]) -> list[int]:
    """The activities that may be sorted by start, each by itself, among alike jobs: all, or only the first.

    The k-th earliest start of each activity, taken for all k as a visit of its own, keeps every least and
    greatest distance (order statistics do), every span, and at each moment the number of uses; targets
    are met no worse. Where a use ties two activities to one rig or person, nothing but whole visits move.
    """
    tied = {j for group in core.same for j, _ in group}
    if any(j in tied for j in jobs) or any(_ties(use) for j in jobs for use in core.uses[j]):
        return [core.jobs[jobs[0]].first]
    return list(range(len(core.jobs[jobs[0]].lengths)))


def _ties(use: Use) -> bool:
    """Whether two activities have to do with this use; with a single choice, or many alike, it is no tie."""
    runs_on = use.first != use.last and len(use.choices) > 1
    return runs_on or use.bout is not None or use.wants is Wants.WATCH


def sort_alike(core: Core, answer: Answer) -> Answer:
    """The same answer with alike visits in order: by start, those left out last."""
    starts, given = list(answer.starts), list(answer.given)
    for jobs in alike_jobs(core):
        first = core.jobs[jobs[0]].first
        by_start = sorted(jobs, key=lambda j: s[first] if (s := answer.starts[j]) is not None else 10**12)
        for place, source in zip(jobs, by_start, strict=True):
            starts[place], given[place] = answer.starts[source], answer.given[source]
        if len(sorted_activities(core, jobs)) > 1:
            _sort_each(core, jobs, starts, given)
    return Answer(tuple(starts), tuple(given))


def _sort_each(
    core: Core, jobs: list[int], starts: list[tuple[int, ...] | None], given: list[tuple[int, ...] | None]
) -> None:
    """Each activity by itself by start, with whom it was given."""
    here = [(s, g) for j in jobs if (s := starts[j]) is not None and (g := given[j]) is not None]
    columns, uses = [], core.uses[jobs[0]]
    for i in range(len(core.jobs[jobs[0]].lengths)):
        columns.append(sorted((s[i], tuple(g[u] for u in _of(uses, i))) for s, g in here))
    for k, j in enumerate(jobs[: len(here)]):
        starts[j] = tuple(column[k][0] for column in columns)
        served = [dict(zip(_of(uses, i), column[k][1], strict=True)) for i, column in enumerate(columns)]
        given[j] = tuple(served[use.first][u] for u, use in enumerate(uses))


def _of(uses: tuple[Use, ...], activity: int) -> list[int]:
    return [u for u, use in enumerate(uses) if use.first == activity]
