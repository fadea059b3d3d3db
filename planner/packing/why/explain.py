"""From a proof that not all can be placed to the demands that it rests on, and what would mend it."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from planner.packing.bounds.study_bounds import Bounds
from planner.packing.why.case import Case
from planner.packing.why.named import groups, without_all
from planner.packing.why.oracle import Kind, Oracle, Proof, due_by_day, due_on
from planner.packing.why.told import Demand, Step
from planner.schedule.model import Reason

NOT_WHOLE = "time was up before every demand had been looked at; with more seconds all are named"
UNNAMED = "it is proven that not all these visits can be placed"  # and the demands are not known
MOST_FIXED = 8  # participants with a fixed start on one day who are looked at by themselves
MOST_TRIED = 5  # steps of one way of mending that are tried on the whole study
MOST_LINES = 4  # lines of one rig or person that are named one by one
MOST_LISTED = 12  # participants named one by one before the others are counted


@dataclass(frozen=True)
class Ladder:
    """Relaxations of one demand, the smallest that helps first; `only_tried`: told where it places all."""

    steps: tuple[Step, ...]
    only_tried: bool


@dataclass(frozen=True)
class Conflict:
    """Demands that cannot all be met, and the relaxations that were tried and would mend it.

    Not `is_whole`: time was up before every demand had been looked at.
    """

    proof: Proof
    demands: tuple[Demand, ...]
    mends: tuple[Ladder, ...]
    is_whole: bool = True


def proofs(case: Case, participants: Sequence[str], oracle: Oracle, *, is_known: bool = False) -> list[Proof]:
    """What can be proven: each participant's own days first, then counting, then days on their own.

    `is_known`: it is proven already that the study's one day cannot hold all.
    """
    found = _rows(case, participants, oracle)
    if found:
        return found
    if oracle.count_is_impossible(case):
        return [Proof(Kind.COUNT, tuple(participants))]
    for day, together in due_by_day(case.study).items():
        if oracle.is_over or not _may_collide(case, together, day):
            continue
        start = _fixed(case, together, oracle, day) or together
        if start != together or is_known or oracle.day_is_impossible(case, together, day):
            return [Proof(Kind.TOGETHER, _fewest(case, start, oracle, Proof(Kind.TOGETHER, start, day)), day)]
    return []


def _may_collide(case: Case, together: Sequence[str], day: date) -> bool:
    """Whether these participants have two visits or more that can be on that day only."""
    return len(together) > 1 or any(len(due_on(case.study, name, day)) > 1 for name in together)


def _fixed(case: Case, together: tuple[str, ...], oracle: Oracle, day: date) -> tuple[str, ...]:
    """Those whose start is fixed, where they alone are in each other's way; few, and soon known."""
    fixed = {wish.participant for wish in case.study.wishes if wish.start}
    few = tuple(name for name in together if name in fixed)
    if not 1 < len(few) <= MOST_FIXED or not oracle.day_is_impossible(case.of(few), few, day):
        return ()
    return few


def _rows(case: Case, participants: Sequence[str], oracle: Oracle) -> list[Proof]:
    """Participants whose own visits find no days in a row; of those who are alike one is asked for all."""
    wished = {wish.participant for wish in case.study.wishes}
    known: dict[Hashable, tuple[bool, tuple[str, ...]]] = {}
    found = []
    for name in participants:
        visits = tuple(replace(visit, participant="") for visit in case.study.asked.get(name, ()))
        like = name if name in wished else (visits, case.study.available.get(name))
        if like not in known:
            if oracle.is_over:
                break
            own = case.of([name])
            known[like] = _in_a_row(own, name, oracle)
        if known[like][0]:
            found.append(Proof(Kind.ROW, (name,), no_day=known[like][1]))
    return found


def _in_a_row(own: Case, name: str, oracle: Oracle) -> tuple[bool, tuple[str, ...]]:
    """Whether the participant's visits find no days in a row, and those that have no day by themselves."""
    if not oracle.row_is_impossible(own, name):
        return False, ()
    if len(own.visits) == 1:
        return True, (own.visits[0].file_id,)
    return True, oracle.without_a_day(own, name)


def _fewest(case: Case, together: tuple[str, ...], oracle: Oracle, proof: Proof) -> tuple[str, ...]:
    """Participants left out, many at once at first, as long as the rest is still proven not to fit.

    Those who can come for longest are left out first: they are the least likely to be in the way.
    """
    kept = sorted(together, key=lambda name: (-_can_come_s(case, name), together.index(name)))
    size = max(1, len(kept) // 2)
    while True:
        for chunk in [kept[n : n + size] for n in range(0, len(kept), size)]:
            rest = tuple(name for name in kept if name not in chunk)
            if proof.day is None or not _may_collide(case, rest, proof.day):
                continue
            if oracle.holds(Proof(proof.kind, rest, proof.day), case.of(rest)):
                kept = list(rest)
        if size == 1:
            return tuple(name for name in together if name in kept)
        size //= 2


def _can_come_s(case: Case, participant: str) -> float:
    """How long the participant can come, all lines together."""
    lines = case.study.available.get(participant)
    return float("inf") if lines is None else sum(interval.length_s for interval, _ in lines)


def explain(case: Case, proof: Proof, oracle: Oracle) -> Conflict:
    """The demands on which the proof rests, none idle as far as the time allowed, and what would mend it."""
    own = case if proof.kind is Kind.COUNT else case.of(proof.participants)
    kept: list[Demand] = []
    dropped = own
    for group in groups(own):
        dropped, needed = _needed(dropped, group, proof, oracle)
        kept += needed
    is_whole = not oracle.is_over
    return Conflict(proof, tuple(kept), tuple(_mends(own, kept, proof, oracle)), is_whole)


def _needed(case: Case, demands: Sequence[Demand], proof: Proof, oracle: Oracle) -> tuple[Case, list[Demand]]:
    """Of these demands, those that the proof needs; the others dropped, many at once if possible."""
    lighter = without_all(case, demands)
    if oracle.holds(proof, lighter):
        return lighter, []
    if oracle.is_over:
        return case, []
    if len(demands) == 1:
        return _needed_lines(case, demands[0], proof, oracle)
    needed, half = list[Demand](), len(demands) // 2
    for part in (demands[:half], demands[half:]):
        case, some = _needed(case, part, proof, oracle)
        needed += some
    return case, needed


def _needed_lines(case: Case, demand: Demand, proof: Proof, oracle: Oracle) -> tuple[Case, list[Demand]]:
    """The lines of a demand that the proof needs; the demand as one where they are many, or none says it."""
    if not demand.lines:
        return case, [demand]
    lighter, needed = _needed(case, demand.lines, proof, oracle)
    if oracle.is_over or not 0 < len(needed) <= MOST_LINES:
        return case, [demand]
    return lighter, [replace(line, larger=(*demand.easier, *demand.whole)) for line in needed]


def _mends(case: Case, demands: Sequence[Demand], proof: Proof, oracle: Oracle) -> list[Ladder]:
    """Single relaxations after which the proof no longer holds, the smallest of each demand first."""
    found: list[Ladder] = []
    for demand in demands:
        ways = [_from_first_that_helps(case, way, proof, oracle) for way in (demand.easier, demand.other)]
        steps = [(*way, *demand.whole) for way in ways if way]
        steps = steps or [_from_first_that_helps(case, (*demand.both, *demand.whole), proof, oracle)]
        found += [Ladder(way, demand.only_tried) for way in steps if way]
    return found


def _from_first_that_helps(
    case: Case, steps: Sequence[Step], proof: Proof, oracle: Oracle
) -> tuple[Step, ...]:
    """The steps from the first after which the proof no longer holds; none where time is up before."""
    for number, (_, drop) in enumerate(steps):
        if not oracle.holds(proof, drop(case)):
            return () if oracle.is_over else tuple(steps[number:])
    return ()


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


def listed(participants: Sequence[str]) -> str:
    """Their codes; where they are too many to be named, how many more there are."""
    if len(participants) <= MOST_LISTED:
        return ", ".join(participants)
    some = participants[: MOST_LISTED - 1]
    return f"{', '.join(some)} and {len(participants) - len(some)} more"


def as_reasons(case: Case, conflict: Conflict, oracle: Oracle) -> list[Reason]:
    """The conflict in the coordinator's words, each demand with its place, then what would mend it.

    Each way of mending is tried on the whole study where that is small and time is left.
    """
    who = listed(conflict.proof.participants)
    what = "these demands cannot all be met" if conflict.demands else UNNAMED
    heads = {
        Kind.ROW: f"{who}: {what}",
        Kind.TOGETHER: f"{who} on {conflict.proof.day}: {what}",
        Kind.COUNT: "These demands cannot all be met, whatever the order of the visits",
    }
    found = [Reason(heads[conflict.proof.kind])]
    found += [
        Reason(d.words, d.place.file or None, d.place.line if d.place.file else None)
        for d in conflict.demands
    ]
    if not conflict.is_whole:
        found.append(Reason(NOT_WHOLE))
    if conflict.proof.kind is Kind.COUNT:
        found += [Reason(words) for words in arithmetic(case)]
    told = [words for ladder in conflict.mends if (words := _then(case, ladder, oracle))]
    return [*found, *(Reason(words) for words in dict.fromkeys(told))]


def _then(case: Case, ladder: Ladder, oracle: Oracle) -> str | None:
    """The smallest relaxation that places everybody; else the smallest, and what became of trying it."""
    asked, tried = len(case.visits), list[int]()
    for words, drop in ladder.steps[:MOST_TRIED]:
        placed = oracle.placed(drop(case))
        if placed == asked:
            smaller = _again(case, ladder.steps[: len(tried)], oracle) or words
            return f"{smaller}: all {asked} placed"
        if placed is None:
            break
        tried.append(placed)
    if ladder.only_tried:
        return None
    said = f"; {tried[0]} of {asked} placed when tried for a moment" if tried else ""
    return f"{ladder.steps[0][0]}: this conflict would be gone{said}"


def _again(case: Case, steps: Sequence[Step], oracle: Oracle) -> str | None:
    """The first of these steps that places everybody after all: a short try may have missed it."""
    asked = len(case.visits)
    return next((words for words, drop in steps if oracle.placed(drop(case), longer=True) == asked), None)


def arithmetic(case: Case) -> list[str]:
    """What the tightest day runs out of, for each protocol, in one line of arithmetic each.

    Nothing where the study asks for fewer visits a day than that anyway.
    """
    bounds, cap = Bounds(case.study, case.plans), case.study.at_most_visits_a_day
    words: list[str] = []
    for name, plan in bounds.plans.items():
        day = max(bounds.days, key=partial(bounds.most, name), default=None)
        limits = bounds.limits(name, day) if day else ()
        least = min(limits, key=lambda limit: limit.visits, default=None)
        if least and (cap is None or least.visits <= cap):
            words.append(f"{plan.protocol.title}, {least.words()}")
    return words
