"""The search for the fewest changes: ring by ring, each aim in turn, proven where it says so."""

from __future__ import annotations

import time
from collections.abc import Collection
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from planner.packing.core import Answer, Core, Gap
from planner.packing.hints import add_hint
from planner.packing.intervals import make_intervals
from planner.packing.repack_aims import AIMS, add_terms, aim_values
from planner.packing.repack_core import RunningDay
from planner.packing.rules import add_rules
from planner.packing.solve import Limits, Proof, run
from planner.packing.variables import add_variables

LARGE_DAY = 8  # visits; up to so many are proven, beyond it a good plan soon is worth more
SOON_S = 3.0  # what a large day gets at most once nothing is lost or missed
LAST_WORD = 3  # aims before this one are about loss, not about change


@dataclass(frozen=True)
class Found:
    """The best mended day: its value and bound by aim (in steps), and which are proven for the whole day."""

    answer: Answer
    core: Core
    values: tuple[int, ...]
    bounds: tuple[int, ...]

    @property
    def proven(self) -> bool:
        """Whether every aim has reached its bound."""
        return self.values == self.bounds

    @property
    def is_whole(self) -> bool:
        """Whether no visit is lost and no window missed."""
        return not any(self.values[:LAST_WORD])


def mend(day: RunningDay, seconds: float, *, seed: int = 1, workers: int = 2) -> Found | None:
    """The day with the fewest changes that was found; None where no way was found in that time.

    Only what a trouble hits may move first, then what overlaps it, then everything. A ring's plan is
    the day's best where it touches nobody but those who must be touched; else the last ring proves.
    """
    until = time.monotonic() + seconds
    best: Found | None = None
    everybody = frozenset(range(len(day.facts.standings)))
    rings = dict.fromkeys((day.hit | day.forced, _overlapping(day), everybody))
    for ring in rings:
        left = until - time.monotonic()
        is_last = ring == everybody
        if len(everybody) > LARGE_DAY and best is not None and best.is_whole:
            left = min(left, seconds - SOON_S if seconds > 2 * SOON_S else left, SOON_S)
        if left <= 0:
            break
        found = _in_ring(day, ring, best, left if is_last else left / 2, seed, workers)
        if found is not None and (best is None or found.values <= best.values):
            best = _bounded(found, day, is_last)
            if best.proven:
                break
    return best


def _overlapping(day: RunningDay) -> frozenset[int]:
    """Those hit, and those whose visits overlap them as planned or as late as they come."""
    hit = day.hit | day.forced
    spans = {}
    for j, standing in enumerate(day.facts.standings):
        start, end = standing.placed.start.timestamp(), standing.placed.end.timestamp()
        late = max(0.0, standing.earliest.timestamp() - start) if standing.earliest else 0.0
        longer = max(
            (e.timestamp() - standing.by_index[i].end.timestamp() for i, e in standing.ends.items()),
            default=0,
        )
        spans[j] = (start, end + late + max(0.0, longer))
    return frozenset(
        j
        for j, (start, end) in spans.items()
        if j in hit or any(start < spans[h][1] and spans[h][0] < end for h in hit)
    )


def _bounded(found: Found, day: RunningDay, is_last: bool) -> Found:
    """In an inner ring only what holds for the whole day: nothing lost, and just the forced ones touched."""
    if is_last:
        return found
    touched = AIMS.index("participants_touched")
    least = (0,) * touched + (len(day.forced),)
    if found.values[: touched + 1] == least:
        return replace(found, bounds=(*least, *found.bounds[touched + 1 :]))
    return replace(found, bounds=(*least, *[0] * (len(AIMS) - touched - 1)))


def _in_ring(
    day: RunningDay, ring: Collection[int], best: Found | None, seconds: float, seed: int, workers: int
) -> Found | None:
    """The best day in which only the visits of the ring differ from the plan before."""
    core = _held(day, ring)
    v = add_variables(cp_model.CpModel(), core)
    if any(job.must and not v.start[j] for j, job in enumerate(core.jobs)):
        return None
    add_rules(v, make_intervals(v))
    terms = add_terms(v, day)
    answer = best.answer if best else None
    until, bounds = time.monotonic() + seconds, []
    for number, name in enumerate(AIMS):
        left = until - time.monotonic()
        if number and left <= 0:
            break
        add_hint(v, answer or day.old)
        share = left if number == len(AIMS) - 1 else left / 2
        outcome = run(v, terms.aim(name), Limits(max(0.05, share), workers, seed))
        if outcome.answer is None or outcome.value is None:
            break
        answer = outcome.answer
        bounds.append(outcome.value if outcome.proof is Proof.OPTIMAL else max(0, outcome.bound or 0))
        v.model.add(terms.aim(name) <= outcome.value)
    return _found(day, core, answer, bounds) if answer else None


def _found(day: RunningDay, core: Core, answer: Answer, bounds: list[int]) -> Found:
    """The answer with its values; aims that the time did not reach have no bound but what is plain."""
    least = [0] * len(AIMS)
    least[AIMS.index("participants_touched")] = len(day.forced)
    values = aim_values(day, answer)
    known = (*bounds, *least[len(bounds) :])
    return Found(answer, core, values, tuple(map(min, values, known)))


def _held(day: RunningDay, ring: Collection[int]) -> Core:
    """The day's core with every visit outside the ring where it was."""
    jobs, uses = list(day.core.jobs), list(day.core.uses)
    for j in range(len(day.facts.standings)):
        starts, given = day.old.starts[j], day.old.given[j]
        if j in ring:
            continue
        assert starts is not None
        assert given is not None
        first = jobs[j].first
        pins = [
            Gap(first, i, s - starts[first], s - starts[first]) for i, s in enumerate(starts) if i != first
        ]
        spot = (starts[first], starts[first])
        jobs[j] = replace(jobs[j], gaps=tuple(pins), starts=(spot,), stretch=None, must=True)
        uses[j] = tuple(replace(u, choices=(r,)) for u, r in zip(uses[j], given, strict=True))
    return replace(day.core, jobs=tuple(jobs), uses=tuple(uses))
