"""What a mended day should be, in order: nothing lost, windows kept, then the fewest and smallest changes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from planner.packing.core import Answer, Wants
from planner.packing.mend.core import RunningDay
from planner.packing.variables import Variables

AIMS = (
    "visits_lost",
    "demands_missed",
    "lateness_s",
    "short_notice_s",  # by which somebody is called sooner than they can come
    "participants_touched",
    "blocks_changed",
    "shift_s",
    "served_otherwise",  # a block that changes in any case keeps its rig and people where it can
)
IN_SECONDS = frozenset({"lateness_s", "short_notice_s", "shift_s"})


@dataclass
class Terms:
    """The expressions of one model, by aim, in the order in which they are made small."""

    v: Variables
    by_aim: dict[str, list[cp_model.LinearExprT]] = field(default_factory=lambda: defaultdict(list))

    def aim(self, name: str) -> cp_model.LinearExprT:
        """The whole expression of an aim."""
        return sum(self.by_aim[name])


def add_terms(v: Variables, day: RunningDay) -> Terms:
    """All aims over the day's visits."""
    terms = Terms(v)
    _windows(terms, day)
    _stretch(terms, day)
    _notice(terms, day)
    for j in range(len(day.facts.standings)):
        if v.start[j]:
            _changes(terms, day, j)
        else:
            terms.by_aim["participants_touched"].append(1)
        if not v.core.jobs[j].must:
            terms.by_aim["visits_lost"].append(1 - v.placed[j])
    return terms


def _windows(terms: Terms, day: RunningDay) -> None:
    """A window of a visit that has begun: missed or not, and by how much."""
    v = terms.v
    for number, soft in enumerate(day.soft):
        starts, gap = v.start[soft.job], soft.gap
        if starts:
            distance = starts[gap.later] - starts[gap.earlier]
            _beyond(terms, distance, gap.low, gap.high, f"window {number}", is_known=soft.is_known)


def _stretch(terms: Terms, day: RunningDay) -> None:
    """A visit that has begun may last longer than `at_most_waiting` allows, where it must."""
    v = terms.v
    for j, most in day.stretch.items():
        if v.start[j]:
            job = v.core.jobs[j]
            length = v.end(j, job.last) - v.start[j][job.first]
            _beyond(terms, length, 0, most, f"stretch {j}", is_known=j in day.waiting)


def _notice(terms: Terms, day: RunningDay) -> None:
    """By how much a visit starts sooner than its participant can be there."""
    v = terms.v
    for j, soonest in day.called.items():
        if v.start[j]:
            short = v.model.new_int_var(0, max(0, soonest), f"short notice {j}")
            start = v.start[j][v.core.jobs[j].first]
            v.model.add(start + short >= soonest).only_enforce_if(v.placed[j])
            terms.by_aim["short_notice_s"].append(short)


def _beyond(
    terms: Terms, value: cp_model.LinearExprT, low: int, high: int | None, name: str, *, is_known: bool
) -> None:
    """How far a value lies beyond its limits; it is a demand missed, unless that is known already."""
    v, most = terms.v, 4 * terms.v.core.horizon + 1
    off = v.model.new_int_var(0, most, f"off {name}")
    v.model.add(value + off >= low)
    if high is not None:
        v.model.add(value - off <= high)
    terms.by_aim["lateness_s"].append(off)
    if not is_known:
        missed = v.model.new_bool_var(f"missed {name}")
        v.model.add(off <= most * missed)
        terms.by_aim["demands_missed"].append(missed)


def _changes(terms: Terms, day: RunningDay, j: int) -> None:
    """Which activities of a visit differ from the plan before, and by how much they are moved."""
    v, standing = terms.v, day.facts.standings[j]
    free = standing.free()
    changed = {
        i: v.model.new_bool_var(f"changed {j}.{i}") for i in standing.by_index if i not in standing.gone
    }
    old = day.old.starts[j]
    assert old is not None
    for i in free:
        terms.by_aim["shift_s"].append(_shift(v, j, i, old[i], changed[i]))
    _served_otherwise(terms, day, j, changed)
    touched = v.model.new_bool_var(f"touched {j}")
    for literal in changed.values():
        v.model.add_implication(literal, touched)
    if j in day.forced:
        v.model.add(touched == 1)
    else:
        v.model.add_implication(~v.placed[j], touched)
    terms.by_aim["participants_touched"].append(touched)
    terms.by_aim["blocks_changed"] += changed.values()


def _shift(v: Variables, j: int, i: int, old: int, changed: cp_model.IntVar) -> cp_model.IntVar:
    """Steps by which an activity is moved; 0 for a visit that is not placed."""
    most = 2 * v.core.horizon + old
    shift = v.model.new_int_var(0, most, f"shift {j}.{i}")
    start, here = v.start[j][i], v.placed[j]
    v.model.add(start - old <= shift).only_enforce_if(here)
    v.model.add(old - start <= shift).only_enforce_if(here)
    v.model.add(shift <= most * changed)
    return shift


def _served_otherwise(terms: Terms, day: RunningDay, j: int, changed: dict[int, cp_model.IntVar]) -> None:
    v, given = terms.v, day.old.given[j]
    standing = day.facts.standings[j]
    assert given is not None
    for number, use in enumerate(v.core.uses[j]):
        same = v.given[j][number].get(given[number])
        for i in _activities(day, j, use.first, use.last, use.wants, use.label):
            if i in standing.gone:
                continue
            if same is None:
                v.model.add_implication(v.placed[j], changed[i])
            elif same.index != v.placed[j].index:
                v.model.add_bool_or(same, changed[i], ~v.placed[j])
        if same is not None and same.index != v.placed[j].index:
            terms.by_aim["served_otherwise"].append(v.placed[j] - same)


def _activities(day: RunningDay, j: int, first: int, last: int, wants: Wants, label: str) -> list[int]:
    """The activities that one use serves: of a run, each that has its class."""
    if wants is not Wants.RIG:
        return [first]
    plan = day.facts.standings[j].plan
    return [
        i
        for i in range(first, last + 1)
        if label in plan.activities[i].rigs and plan.activities[i].inside == plan.activities[first].inside
    ]


def aim_values(day: RunningDay, answer: Answer) -> tuple[int, ...]:
    """What an answer is worth by aim, in steps; visits without a place count as lost and nothing else."""
    visits = range(len(day.facts.standings))
    here = [j for j in visits if answer.starts[j] is not None]
    off = [(beyond, is_known) for beyond, is_known in _all_beyond(day, answer) if beyond]
    changed = {j: changed_of(day, answer, j) for j in here}
    touched = sum(is_touched(day, answer, j) for j in visits)
    return (
        len(visits) - len(here),
        sum(not is_known for _, is_known in off),
        sum(beyond for beyond, _ in off),
        sum(called_too_soon(day, answer, j) for j in here),
        touched,
        sum(map(len, changed.values())),
        sum(_moved(day, answer, j) for j in here),
        sum(_others(day, answer, j) for j in here),
    )


def called_too_soon(day: RunningDay, answer: Answer, j: int) -> int:
    """Steps by which a visit starts sooner than its participant, called now, can be there."""
    starts = answer.starts[j]
    return max(0, day.called[j] - starts[day.core.jobs[j].first]) if starts and j in day.called else 0


def _all_beyond(day: RunningDay, answer: Answer) -> Iterator[tuple[int, bool]]:
    """Steps by which each window that may give way is missed, and each stretch exceeded; whether known."""
    for soft in day.soft:
        if (starts := answer.starts[soft.job]) is not None:
            distance, high = starts[soft.gap.later] - starts[soft.gap.earlier], soft.gap.high
            yield max(0, soft.gap.low - distance, 0 if high is None else distance - high), soft.is_known
    for j, most in day.stretch.items():
        if (starts := answer.starts[j]) is not None:
            job = day.core.jobs[j]
            length = starts[job.last] + job.lengths[job.last] - starts[job.first]
            yield max(0, length - most), j in day.waiting


def changed_of(day: RunningDay, answer: Answer, j: int) -> set[int]:
    """The activities of a visit that differ from the plan before."""
    starts, given, old = answer.starts[j], answer.given[j], day.old
    before, served = old.starts[j], old.given[j]
    assert starts and given and before and served  # noqa: PT018 - all four are there, or none
    standing = day.facts.standings[j]
    found = {i for i in standing.free() if starts[i] != before[i]}
    for use, now, then in zip(day.core.uses[j], given, served, strict=True):
        if now != then:
            found |= set(_activities(day, j, use.first, use.last, use.wants, use.label)) - standing.gone
    return found


def is_touched(day: RunningDay, answer: Answer, j: int) -> bool:
    """Whether a visit differs from the plan before, or has no place."""
    return j in day.forced or answer.starts[j] is None or bool(changed_of(day, answer, j))


def _others(day: RunningDay, answer: Answer, j: int) -> int:
    """How many rigs and people of a visit are others than before, where they could be the same."""
    given, old = answer.given[j], day.old.given[j]
    assert given and old  # noqa: PT018 - both are there, or none
    pairs = zip(day.core.uses[j], given, old, strict=True)
    return sum(then in use.choices and now != then for use, now, then in pairs)


def _moved(day: RunningDay, answer: Answer, j: int) -> int:
    starts, before = answer.starts[j], day.old.starts[j]
    assert starts and before  # noqa: PT018 - both are there, or none
    return sum(abs(starts[i] - before[i]) for i in day.facts.standings[j].free())
