"""A ring: some visits of a running day may change, all others stay; each aim in turn, with its bound."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from planner.packing.core import Answer
from planner.packing.hints import add_hint
from planner.packing.intervals import make_intervals
from planner.packing.repack_aims import AIMS, IN_SECONDS, Terms, add_terms, aim_values
from planner.packing.repack_core import RunningDay, running_day
from planner.packing.repack_facts import Facts, Standing
from planner.packing.rules import add_rules
from planner.packing.running import Running
from planner.packing.solve import Limits, Proof, run
from planner.packing.variables import add_variables
from planner.schedule.model import RigTask

LEAST_S = 0.05


@dataclass(frozen=True)
class Found:
    """A mended day: values and bounds by aim (in seconds or numbers), the bounds within its ring."""

    day: RunningDay
    answer: Answer
    values: tuple[int, ...]
    bounds: tuple[int, ...]

    @property
    def proven(self) -> bool:
        """Whether every aim has reached its bound."""
        return self.values == self.bounds


@dataclass(frozen=True)
class Ring:
    """What came of a ring; `is_settled` where its best is known, be it that there is none."""

    found: Found | None
    is_settled: bool


@dataclass(frozen=True)
class RingSearch:
    """All that rings of one day share: what else is placed, the facts, the checks of rigs that stay."""

    running: Running
    facts: Facts
    tasks: Sequence[RigTask]
    workers: int = 2

    def best(
        self,
        ring: Sequence[Standing],
        seconds: float,
        *,
        caps: Sequence[int] = (),
        aims: int = len(AIMS),
        near: Found | None = None,
    ) -> Ring:
        """The best day in which only the visits of the ring differ from the plan before.

        `caps` bound the first aims (in seconds or numbers); only the first `aims` are gone through;
        `near` is a good day to start from.
        """
        until = time.monotonic() + seconds
        inside = set(map(id, ring))
        still = [s for s in self.facts.standings if id(s) not in inside]
        facts = replace(
            self.facts, standings=tuple(ring), frozen=(*self.facts.frozen, *(s.placed for s in still))
        )
        day = running_day(self.running, facts, self.tasks)
        v = add_variables(cp_model.CpModel(), day.core)
        if any(job.must and not v.start[j] for j, job in enumerate(day.core.jobs)):
            return Ring(None, True)
        add_rules(v, make_intervals(v))
        terms = add_terms(v, day)
        for name, cap in zip(AIMS, caps, strict=False):
            v.model.add(terms.aim(name) <= cap // unit(day, name))
        start = _start_from(day, near) if near or caps else _without_forced(day)
        return self._stages(day, terms, until, aims, start)

    def _stages(self, day: RunningDay, terms: Terms, until: float, aims: int, answer: Answer) -> Ring:
        bounds: list[int] = []
        best: Answer | None = None
        for number, name in enumerate(AIMS[:aims]):
            left = until - time.monotonic()
            if number and left <= 0:
                break
            add_hint(terms.v, best if best is not None else answer)
            share = left if number == aims - 1 else left / 2
            limits = Limits(max(LEAST_S, share), self.workers, self.running.study.seed)
            outcome = run(terms.v, terms.aim(name), limits)
            if outcome.proof is Proof.IMPOSSIBLE and best is None:
                return Ring(None, True)
            if outcome.answer is None or outcome.value is None:
                break
            best = outcome.answer
            is_proven = outcome.proof is Proof.OPTIMAL
            bounds.append(outcome.value if is_proven else max(0, outcome.bound or 0))
            terms.v.model.add(terms.aim(name) <= outcome.value)
        if best is None:
            return Ring(None, False)
        found = _found(day, best, bounds)
        return Ring(found, found.values[:aims] == found.bounds[:aims])


def _start_from(day: RunningDay, near: Found | None) -> Answer:
    """The plan before, with those visits as they are in another ring's day that this one has as well."""
    if near is None:
        return day.old
    starts, given = list(day.old.starts), list(day.old.given)
    there = {id(standing): j for j, standing in enumerate(near.day.facts.standings)}
    for j, standing in enumerate(day.facts.standings):
        other = there.get(id(standing))
        if other is not None:
            its = near.answer.starts[other]
            starts[j] = its and tuple(s * near.day.grid.step_s // day.grid.step_s for s in its)
            given[j] = near.answer.given[other]
    return Answer(tuple(starts), tuple(given))


def _without_forced(day: RunningDay) -> Answer:
    """The plan before without the visits that must change, as far as they may be left out: soon found."""
    out = {j for j in day.forced if not day.core.jobs[j].must}
    starts, given = (
        tuple(None if j in out else one for j, one in enumerate(its))
        for its in (day.old.starts, day.old.given)
    )
    return Answer(starts, given)


def unit(day: RunningDay, name: str) -> int:
    """What one step of an aim is worth."""
    return day.grid.step_s if name in IN_SECONDS else 1


def _found(day: RunningDay, answer: Answer, bounds: list[int]) -> Found:
    """The answer with its values; aims that the time did not reach have no bound but what is plain."""
    least = [0] * len(AIMS)
    least[AIMS.index("participants_touched")] = len(day.forced)
    units = [unit(day, name) for name in AIMS]
    values = tuple(value * one for value, one in zip(aim_values(day, answer), units, strict=True))
    known = (bound * one for bound, one in zip((*bounds, *least[len(bounds) :]), units, strict=True))
    return Found(day, answer, values, tuple(map(min, values, known)))
