"""How long a visit takes, as demands: watches, and what it is made of where no day is long enough for it."""

from __future__ import annotations

from collections.abc import Iterator

from planner.clock import duration_words
from planner.packing.why.case import Case, without_length, without_watch
from planner.packing.why.told import Demand
from planner.timing.plan import Kind, VisitPlan


def watches(case: Case) -> Iterator[Demand]:
    """How long somebody stays with the participant after each step; to stay for less mends nothing."""
    for name, plan in case.plans.items():
        for one in plan.activities:
            if one.watch is not None:
                long = duration_words(one.watch.for_s)
                yield Demand(
                    f"{long} of staying after {one.step} in {plan.protocol.title}",
                    plan.protocol.place(*one.path, "watch"),
                    without_watch(name, one.index),
                    without="",
                )


def lengths(case: Case) -> Iterator[Demand]:
    """What each step takes, in visits that are longer than any time the laboratory is open in one go."""
    longest_s = max((i.length_s for hours in case.study.open.values() for i in hours), default=0)
    for name, plan in case.plans.items():
        if plan.shortest_s > longest_s > 0:
            yield from _of_plan(name, plan, f"open for {duration_words(longest_s)} at most")


def _of_plan(name: str, plan: VisitPlan, opened: str) -> Iterator[Demand]:
    """A demand for each step without blocks; dropped, it takes no time at all."""
    for one in plan.activities:
        if one.kind is not Kind.BLOCK and one.inside is None and one.length_s:
            takes = f"{one.step} in {plan.protocol.title} takes {duration_words(one.length_s)}"
            yield Demand(
                f"{takes}, and the laboratory is {opened}",
                plan.protocol.place(*one.path),
                without_length(name, one.index),
                f"if {one.step} in {plan.protocol.title} took less",
            )
