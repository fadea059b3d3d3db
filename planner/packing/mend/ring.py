"""A ring: some visits of a running day may change, all others stay; each aim in turn, with its bound."""

from __future__ import annotations

import time
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from planner.packing.core import Answer
from planner.packing.hints import add_hint
from planner.packing.intervals import make_intervals
from planner.packing.mend.aims import AIMS, IN_SECONDS, Terms, add_terms, aim_values, called_too_soon
from planner.packing.mend.at_least import least_lost
from planner.packing.mend.checks import with_checks
from planner.packing.mend.core import RunningDay, running_day
from planner.packing.mend.room import with_room
from planner.packing.mend.standing import Facts, Standing
from planner.packing.mend.waiting import waited
from planner.packing.progress import Stop
from planner.packing.rules import add_rules
from planner.packing.running import Running
from planner.packing.solve import Limits, Proof, run
from planner.packing.variables import add_variables
from planner.schedule.model import RigTask

LEAST_S = 0.05
FIRST_SHARE = 0.85  # of the time for any day at all: the aims after the first mostly take a moment
LOSS = "loss"  # the first two aims at once: a visit lost outweighs every demand missed


@dataclass(frozen=True)
class Found:
    """A mended day: values and bounds by aim (in seconds or numbers), the bounds within its ring.

    `is_cut_short` where the time ended, or somebody stopped, before the search for it was through.
    """

    day: RunningDay
    answer: Answer
    values: tuple[int, ...]
    bounds: tuple[int, ...]
    is_cut_short: bool = False

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
    stop: Stop | None = None

    @property
    def is_stopped(self) -> bool:
        """Whether somebody has asked to stop."""
        return self.stop is not None and self.stop()

    def best(
        self,
        ring: Sequence[Standing],
        seconds: float,
        *,
        caps: Sequence[int] = (),
        aims: int = len(AIMS),
        near: Found | None = None,
        below: Found | None = None,
        any_will_do: bool = False,
        in_time: bool = False,
    ) -> Ring:
        """The best day in which only the visits of the ring differ from the plan before.

        `caps` bound the first aims (in seconds or numbers); only the first `aims` are gone through;
        `near` is a good day to start from. With `below` no more blocks may change than in that day, and
        with as many the shifts must be smaller: what is no better is refuted, not looked for. Where
        `any_will_do` the first day found is taken, however much it loses; `in_time`: nobody is called sooner
        than they can come, and the bounds hold for such days only.
        """
        until = time.monotonic() + seconds
        day = self._day(ring)
        v = add_variables(cp_model.CpModel(), day.core)
        if any(job.must and not v.start[j] for j, job in enumerate(day.core.jobs)):
            return Ring(None, True)
        add_rules(v, make_intervals(v))
        terms = add_terms(v, day)
        for name, cap in zip(AIMS, caps, strict=False):
            v.model.add(terms.aim(name) <= cap // unit(day, name))
        if in_time:
            v.model.add(terms.aim("short_notice_s") == 0)
        if below:
            _must_beat(terms, day, below)
        start = _start_from(day, near) if near or caps else _without_forced(day)
        if any_will_do:
            return self._first(day, terms, seconds, start)
        return self._stages(day, terms, until, aims, start)

    def left_out(self, ring: Sequence[Standing]) -> Ring:
        """The plan before without those of the ring who must change: nothing, where one of them must come."""
        day = self._day(ring)
        if any(day.core.jobs[j].must for j in day.forced):
            return Ring(None, False)
        for some in (_without_forced(day), _without_unchecked(day)):
            if answer := with_checks(day, some, self.workers):
                return Ring(_found(day, answer, []), False)
        return Ring(None, False)

    def waiting(self, ring: Sequence[Standing]) -> Ring:
        """The day in which all wait their turn, none of the ring sooner or otherwise than planned."""
        day = self._day(ring)
        answer = waited(day)
        checked = answer and with_checks(day, answer, self.workers)
        return Ring(_found(day, checked, []) if checked else None, False)

    def by_pieces(self, ring: Sequence[Standing], seconds: float, near: Found | None, lost: int) -> Ring:
        """The day `near`, or the plan before without those who must change, with more visits placed.

        It ends once no more than `lost` are without a place, which counting says at least.
        """
        near = near or self.left_out(ring).found
        if near is None:
            return Ring(None, False)
        day = self._day(ring)
        start = with_checks(day, _start_from(day, near), self.workers)
        if start is None:
            return Ring(None, False)
        most = len(day.core.visits()) - lost
        answer = with_room(day, start, most, seconds=seconds, workers=self.workers, stop=self.stop)
        return Ring(_found(day, answer, []), False)

    def called_in_time(self, ring: Sequence[Standing], seconds: float, near: Found) -> Ring:
        """The day `near` with whoever is called too soon in it put elsewhere, as far as there is room."""
        day = self._day(ring)
        near_start = _start_from(day, near)
        soon = {j for j in day.called if called_too_soon(day, near_start, j)}
        start = with_checks(day, _without(near_start, soon), self.workers)
        if start is None:
            return Ring(None, False)
        most = len(day.core.visits()) - near.values[0]
        answer = with_room(day, start, most, seconds=seconds, workers=self.workers, stop=self.stop)
        return Ring(_found(day, answer, []), False)

    def least_lost(self, everybody: Sequence[Standing]) -> int:
        """How many visits are lost at least, by counting alone."""
        return least_lost(self._day(everybody))

    def _day(self, ring: Sequence[Standing]) -> RunningDay:
        """The day in which these visits may change, and all others stay as the plan before has them."""
        inside = set(map(id, ring))
        still = tuple(s.placed for s in self.facts.standings if id(s) not in inside)
        facts = replace(self.facts, standings=tuple(ring), frozen=(*self.facts.frozen, *still))
        return running_day(self.running, facts, self.tasks)

    def _first(self, day: RunningDay, terms: Terms, seconds: float, answer: Answer) -> Ring:
        add_hint(terms.v, answer)
        outcome = run(terms.v, None, Limits(seconds, self.workers, self.running.study.seed))
        found = None if outcome.answer is None else _found(day, outcome.answer, [])
        return Ring(found, outcome.proof is Proof.IMPOSSIBLE)

    def _stages(self, day: RunningDay, terms: Terms, until: float, aims: int, answer: Answer) -> Ring:
        bounds: list[int] = []
        best: Answer | None = None
        many = len(day.soft) + len(day.stretch) + 1
        terms.by_aim[LOSS] = [many * terms.aim(AIMS[0]) + terms.aim(AIMS[1])]
        for name in (LOSS, *AIMS[2:aims]):
            left = until - time.monotonic()
            if best and (left <= 0 or self.is_stopped):
                break
            add_hint(terms.v, best if best is not None else answer)
            share = left if name == AIMS[aims - 1] else left * (FIRST_SHARE if best is None else 0.5)
            limits = Limits(max(LEAST_S, share), self.workers, self.running.study.seed, self.stop)
            outcome = run(terms.v, terms.aim(name), limits)
            if outcome.proof is Proof.IMPOSSIBLE and best is None:
                return Ring(None, True)
            if outcome.answer is None or outcome.value is None:
                break
            best = outcome.answer
            is_proven = outcome.proof is Proof.OPTIMAL
            bound = outcome.value if is_proven else max(0, outcome.bound or 0)
            bounds += [bound // many, bound % many if is_proven else 0] if name == LOSS else [bound]
            terms.v.model.add(terms.aim(name) <= outcome.value)
        if best is None:
            return Ring(None, False)
        found = _found(day, best, bounds)
        return Ring(found, found.values[:aims] == found.bounds[:aims])


def _must_beat(terms: Terms, day: RunningDay, best: Found) -> None:
    """Fewer blocks than that day changes, or as many and smaller shifts."""
    blocks, shift_s = best.values[AIMS.index("blocks_changed")], best.values[AIMS.index("shift_s")]
    most = -(-shift_s // unit(day, "shift_s")) - 1
    free = 3 * terms.v.core.horizon * sum(len(s.free()) for s in day.facts.standings)
    fewer = blocks - terms.aim("blocks_changed")
    terms.v.model.add(terms.aim("shift_s") <= most + free * fewer)


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
    return _without(day.old, {j for j in day.forced if not day.core.jobs[j].must})


def _without_unchecked(day: RunningDay) -> Answer:
    """The same without the visits, too, that have not begun and need a rig whose check cannot stay."""
    rigs = {task.rig for task in day.checks.values()}
    users = {
        j
        for j, standing in enumerate(day.facts.standings)
        if not standing.begun and any(rigs.intersection(a.rigs) for a in standing.by_index.values())
    }
    return _without(day.old, users | {j for j in day.forced if not day.core.jobs[j].must})


def _without(answer: Answer, out: Collection[int]) -> Answer:
    """The answer without these visits."""
    starts, given = (
        tuple(None if j in out else one for j, one in enumerate(its)) for its in (answer.starts, answer.given)
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
