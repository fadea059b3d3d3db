"""From an answer to a hint, and from a solution to an answer."""

from __future__ import annotations

from collections.abc import Sequence

from planner.packing.core import Answer
from planner.packing.variables import Literal, Variables, holding_spans


def add_hint(variables: Variables, answer: Answer) -> None:
    """The answer as a hint: starts and literals of every job; a job without a place is hinted out.

    What follows from these (an end, a distance from a target) is left to the solver.
    """
    model = variables.model
    model.clear_hints()
    seen: set[int] = set()

    def hint(literal: Literal, value: int) -> None:
        if literal.index not in seen and literal.index not in (variables.yes.index, variables.no.index):
            seen.add(literal.index)
            model.add_hint(literal, value)

    for j, starts in enumerate(answer.starts):
        if not variables.start[j]:
            continue
        hint(variables.placed[j], int(starts is not None))
        for i, start in enumerate(starts or ()):
            hint(variables.start[j][i], start)
        for u, literals in enumerate(variables.given[j]):
            chosen = answer.given[j]
            for r, literal in literals.items():
                hint(literal, int(chosen is not None and chosen[u] == r))
        for literal, value in zip(variables.line[j], _lines(variables, j, starts), strict=False):
            hint(literal, value)


def _lines(variables: Variables, j: int, starts: Sequence[int] | None) -> list[int]:
    """1 for the span of its participant's time in which the job lies, 0 for each other one."""
    job = variables.core.jobs[j]
    spans = holding_spans(job)
    if starts is None:
        return [0] * len(spans)
    first, end = starts[job.first], starts[job.last] + job.lengths[job.last]
    holding = [low <= first and end <= high for low, high in spans]
    chosen = holding.index(True) if True in holding else -1
    return [int(n == chosen) for n in range(len(spans))]


def read_answer(variables: Variables, values: Sequence[int]) -> Answer:
    """The answer that a solution holds; `values` are the values of all variables by index."""
    starts: list[tuple[int, ...] | None] = []
    given: list[tuple[int, ...] | None] = []
    for j, here in enumerate(variables.placed):
        if not variables.start[j] or not values[here.index]:
            starts.append(None)
            given.append(None)
            continue
        starts.append(tuple(values[start.index] for start in variables.start[j]))
        given.append(
            tuple(next(r for r, lit in its.items() if values[lit.index]) for its in variables.given[j])
        )
    return Answer(tuple(starts), tuple(given))
