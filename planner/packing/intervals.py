"""The uses of a day as optional intervals, sorted by who may overlap whom."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from planner.packing.away import away
from planner.packing.core import Span, Use, Wants
from planner.packing.variables import Literal, Variables

FAR = 10_000_000  # steps; beyond every day
ByJob = dict[int, dict[int, list[cp_model.IntervalVar]]]  # by resource, then by job


def _by_job() -> ByJob:
    return defaultdict(lambda: defaultdict(list))


@dataclass
class Intervals:
    """By resource and job: `plain` ones overlap nothing; `watches` may overlap their own job.

    `shared` are blocks served by what serves the bout around them: they overlap that bout, not each other.
    """

    plain: ByJob = field(default_factory=_by_job)
    watches: ByJob = field(default_factory=_by_job)
    shared: ByJob = field(default_factory=_by_job)


def make_intervals(v: Variables) -> Intervals:
    """An optional interval for each use and choice."""
    found = Intervals()
    for number, use in v.uses():
        if use.from_end and not use.tail:
            continue  # it takes nobody's time, be they there or not
        for r, literal in v.given[use.job][number].items():
            if use.wants is Wants.WATCH:
                found.watches[r][use.job].append(interval(v, use, number, literal))
            elif around := around_with(v, use, r):
                _add_block_in_bout(v, found, use, number, r, around)
            else:
                found.plain[r][use.job].append(interval(v, use, number, literal))
    return found


def interval(v: Variables, use: Use, number: int, present: Literal) -> cp_model.IntervalVar:
    """A use as an optional interval; a run of several blocks has no fixed length."""
    begin, end, size = v.span(use)
    name = f"use {use.job}.{number}"
    if size is not None:
        return v.model.new_optional_fixed_size_interval_var(begin, size, present, name)
    if (use.job, number) not in v.run_sizes:
        least = use.lead + use.tail
        size_var = v.model.new_int_var(least, v.core.horizon + least, f"size {name}")
        v.model.add(begin + size_var == end)
        v.run_sizes[use.job, number] = size_var
    return v.model.new_optional_interval_var(begin, v.run_sizes[use.job, number], end, present, name)


def around_with(v: Variables, use: Use, resource: int) -> list[int]:
    """The uses, by number, of the bout around this one that the same resource might serve."""
    if use.bout is None:
        return []
    return [
        number
        for number, other in enumerate(v.core.uses[use.job])
        if other.bout is None
        and not other.from_end
        and other.first <= use.bout <= other.last
        and resource in other.choices
    ]


def _add_block_in_bout(
    v: Variables, found: Intervals, use: Use, number: int, r: int, around: list[int]
) -> None:
    """A block inside a bout: served by what serves the bout (own), or by something else."""
    own, other = (v.model.new_bool_var(f"{kind} {use.job}.{number} {r}") for kind in ("own", "other"))
    v.model.add(own + other == v.given[use.job][number][r])
    serves = [v.given[use.job][n][r] for n in around]
    v.model.add_bool_or(serves).only_enforce_if(own)
    for one in serves:
        v.model.add_implication(other, ~one)
    found.plain[r][use.job].append(interval(v, use, number, other))
    found.shared[r][use.job].append(interval(v, use, number, own))
    around_use = v.core.uses[use.job][around[0]]
    if use.tail > around_use.tail:  # clearing may outlast the bout
        end_of_bout, end = v.span(around_use)[1], v.span(use)[1]
        beyond = v.model.new_int_var(0, use.tail, f"beyond {use.job}.{number} {r}")
        v.model.add(beyond >= end - end_of_bout).only_enforce_if(own)
        after = v.model.new_int_var(
            0, v.core.horizon + use.tail + around_use.tail, f"after {use.job}.{number} {r}"
        )
        v.model.add(after == end_of_bout + beyond)
        found.plain[r][use.job].append(
            v.model.new_optional_interval_var(end_of_bout, beyond, after, own, f"beyond {use.job}.{number}")
        )


def closed_spans(v: Variables, resource: int) -> list[Span]:
    """The times at which a resource may not be used, from long before the day to long after it."""
    return away(v.core.resources[resource].free, FAR)


def taken_times(v: Variables, resource: int) -> list[cp_model.IntervalVar]:
    """What something else takes of a resource of which there are many, as fixed intervals."""
    spans = v.core.resources[resource].taken
    return [v.model.new_fixed_size_interval_var(a, b - a, "taken") for a, b in spans]


def closed_times(v: Variables, resource: int) -> list[cp_model.IntervalVar]:
    """The same as fixed intervals."""
    return [v.model.new_fixed_size_interval_var(a, b - a, "closed") for a, b in closed_spans(v, resource)]
