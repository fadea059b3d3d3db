"""From a proof that not all can be placed to the demands that it rests on, and what would mend it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from planner.packing.case import Case
from planner.packing.named import groups, without_all
from planner.packing.oracle import Kind, Oracle, Proof, due_on
from planner.packing.study_bounds import Bounds
from planner.packing.told import Demand
from planner.schedule.model import Reason


@dataclass(frozen=True)
class Conflict:
    """Demands that cannot all be met, and the relaxations that were tried and would mend it."""

    proof: Proof
    demands: tuple[Demand, ...]
    mends: tuple[str, ...]


def proofs(case: Case, participants: Sequence[str], oracle: Oracle) -> list[Proof]:
    """What can be proven: each participant's own days first, then counting, then days on their own."""
    found = [
        Proof(Kind.ROW, (name,), visit=oracle.first_without_a_day(case.of([name]), name))
        for name in participants
        if oracle.row_is_impossible(case.of([name]), name)
    ]
    if found:
        return found
    if oracle.count_is_impossible(case):
        return [Proof(Kind.COUNT, tuple(participants))]
    for day in sorted(case.study.open):
        together = tuple(p for p in case.study.participants if due_on(case.study, p, day))
        if len(together) > 1 and not oracle.is_over and oracle.day_is_impossible(case, together, day):
            return [
                Proof(
                    Kind.TOGETHER, _fewest(case, together, oracle, Proof(Kind.TOGETHER, together, day)), day
                )
            ]
    return []


def _fewest(case: Case, together: tuple[str, ...], oracle: Oracle, proof: Proof) -> tuple[str, ...]:
    """Participants left out one by one, as long as the rest is still proven not to fit."""
    kept = list(together)
    for name in together:
        rest = tuple(p for p in kept if p != name)
        if len(rest) > 1 and oracle.holds(Proof(proof.kind, rest, proof.day), case.of(rest)):
            kept.remove(name)
    return tuple(kept)


def explain(case: Case, proof: Proof, oracle: Oracle) -> Conflict:
    """The demands on which the proof rests, none idle as far as the time allowed, and what would mend it."""
    own = case if proof.kind is Kind.COUNT else case.of(proof.participants)
    kept: list[Demand] = []
    dropped = own
    for group in groups(own):
        lighter = without_all(dropped, group)
        if oracle.holds(proof, lighter):
            dropped = lighter
        elif not oracle.is_over:
            dropped, needed = _within(dropped, group, proof, oracle)
            kept += needed
    return Conflict(proof, tuple(kept), tuple(_mends(own, kept, proof, oracle)))


def _within(case: Case, group: Sequence[Demand], proof: Proof, oracle: Oracle) -> tuple[Case, list[Demand]]:
    """Of one group, the demands that the proof needs; the others dropped."""
    if len(group) == 1:
        return case, list(group)
    needed = []
    for demand in group:
        lighter = demand.drop(case)
        if oracle.holds(proof, lighter):
            case = lighter
        elif not oracle.is_over:
            needed.append(demand)
    return case, needed


def _mends(case: Case, demands: Sequence[Demand], proof: Proof, oracle: Oracle) -> list[str]:
    """Single relaxations after which the proof no longer holds, the smallest of each demand first."""
    words: list[str] = []
    for demand in demands:
        for without, drop in (*demand.easier, (demand.without, demand.drop)):
            if oracle.is_over:
                return words
            if not oracle.holds(proof, drop(case)) and not oracle.is_over:
                words.append(without)
                break
    return words


def joined(conflicts: Sequence[Conflict]) -> list[Conflict]:
    """Conflicts of the same demands told once, for all their participants."""
    found: dict[tuple[str, ...], Conflict] = {}
    for one in conflicts:
        words = tuple(demand.words for demand in one.demands)
        if words in found and one.proof.kind is Kind.ROW:
            known = found[words]
            both = (*known.proof.participants, *one.proof.participants)
            found[words] = replace(known, proof=replace(known.proof, participants=both))
        else:
            found[words] = one
    return list(found.values())


def as_reasons(case: Case, conflict: Conflict) -> list[Reason]:
    """The conflict in the coordinator's words, each demand with its place, then what would mend it."""
    who = ", ".join(conflict.proof.participants[:6])
    heads = {
        Kind.ROW: f"{who}: these demands cannot all be met",
        Kind.TOGETHER: f"{who} on {conflict.proof.day}: these demands cannot all be met",
        Kind.COUNT: "These demands cannot all be met, whatever the order of the visits",
    }
    found = [Reason(heads[conflict.proof.kind])]
    found += [
        Reason(d.words, d.place.file or None, d.place.line if d.place.file else None)
        for d in conflict.demands
    ]
    if conflict.proof.kind is Kind.COUNT:
        found += [Reason(words) for words in arithmetic(case)]
    found += [Reason(f"{words}: this conflict would be gone") for words in conflict.mends]
    return found


def arithmetic(case: Case) -> list[str]:
    """What the tightest day runs out of, for each protocol, in one line of arithmetic each."""
    bounds = Bounds(case.study, case.plans)
    words: list[str] = []
    for name, plan in bounds.plans.items():
        day = max(bounds.days, key=partial(bounds.most, name), default=None)
        limits = bounds.limits(name, day) if day else ()
        if limits:
            least = min(limits, key=lambda limit: limit.visits)
            words.append(f"{plan.protocol.title}, {least.words()}")
    return words
