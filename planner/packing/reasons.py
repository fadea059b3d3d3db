"""Why not every visit has a place: arithmetic first, then the demands that collide, in plain words."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.problem import VisitKey, key
from planner.packing.why.case import Case
from planner.packing.why.explain import Conflict, arithmetic, as_reasons, explain, joined, proofs
from planner.packing.why.of_visits import NOT_FOUND, words_of_visits
from planner.packing.why.oracle import Kind, Oracle, Proof
from planner.schedule.model import Reason
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

LEAST_S = 1.0  # for finding the culprit, also where packing has used up the time
MOST_S = 20.0
LAST_S = 0.6  # the last question asked may end so much later
AT_ONCE_S = 1.0  # before packing
MOST_EXPLAINED = 3  # conflicts for which ways of mending are tried on the whole study
MORE_S = 1.0  # for the demands of all further ones


@dataclass(frozen=True)
class Finding:
    """What was found out: reasons, and whether they prove that not all visits can be placed."""

    reasons: tuple[Reason, ...]
    is_proven: bool
    of_visit: Mapping[VisitKey, str] = field(default_factory=dict)
    impossible: int = 0  # participants who are proven not to get all their visits

    def words_for(self, visit: Visit, otherwise: str = NOT_FOUND) -> str:
        """Why this visit has no place, in one sentence."""
        return self.of_visit.get(key(visit), otherwise)


def find_reasons(
    case: Case, missing: Sequence[Visit], budget: Budget, bounds: Bounds, *, is_known: bool = False
) -> Finding:
    """What can be proven about the visits without a place, and the demands it rests on.

    `is_known`: it is proven already that the study's one day cannot hold all.
    """
    allowed = min(MOST_S, max(LEAST_S, budget.left_s - LAST_S))
    oracle = Oracle(time.monotonic() + allowed)
    participants = list(dict.fromkeys(visit.participant for visit in missing))
    found = proofs(case, participants, oracle, is_known=is_known)
    if not found:
        return Finding(tuple(_open_question(case, missing, bounds)), False)
    first = [explain(case, proof, oracle) for proof in found[:MOST_EXPLAINED]]
    more = _more(case, found[MOST_EXPLAINED:], oracle)
    conflicts = joined([*first, *more])
    untried, reasons = Oracle(time.monotonic()), list[Reason]()
    for number, conflict in enumerate(conflicts):
        reasons += as_reasons(case, conflict, oracle if number < MOST_EXPLAINED else untried)
    if unnamed := len(found) - len(first) - len(more):
        reasons.append(Reason(_unnamed(unnamed)))
    words = words_of_visits(case, missing, found, conflicts, bounds.most_placed())
    return Finding(tuple(reasons), True, words, sum(proof.kind is Kind.ROW for proof in found))


def _more(case: Case, found: Sequence[Proof], oracle: Oracle) -> list[Conflict]:
    """The demands of these as well, as far as a part of the time goes; what is begun then is not told."""
    left_s = max(0.0, oracle.until - time.monotonic())
    brief, conflicts = Oracle(time.monotonic() + min(MORE_S, left_s / 2)), list[Conflict]()
    for proof in found:
        if brief.is_over or not (one := explain(case, proof, brief)).is_whole:
            break
        conflicts.append(one)
    return conflicts


def _unnamed(number: int) -> str:
    """How many there are whose demands are not named."""
    who = "1 more participant is" if number == 1 else f"{number} more participants are"
    return f"{who} proven not to get all visits; time was up before the demands had been looked at"


def known_at_once(study: Study, plans: Mapping[str, VisitPlan]) -> tuple[Reason, ...]:
    """Why one day cannot hold all visits, where counting or its fixed visits alone show it.

    Packing need not be waited for.
    """
    if len(study.open) != 1:
        return ()
    case, bounds = Case(study, plans), Bounds(study, plans)
    if bounds.most_placed() >= len(case.visits):
        return _fixed_collide(case)
    return find_reasons(case, case.visits, Budget(time.monotonic() + AT_ONCE_S), bounds).reasons


def _fixed_collide(case: Case) -> tuple[Reason, ...]:
    """Why the visits whose start is fixed cannot all be on their one day; nothing where they can."""
    fixed = {wish.participant for wish in case.study.wishes if wish.start}
    names = [name for name in case.study.participants if name in fixed]
    oracle = Oracle(time.monotonic() + AT_ONCE_S)
    if len(names) < 2 or not (found := proofs(case.of(names), names, oracle)):
        return ()
    told = Oracle(time.monotonic())  # what would mend it is tried on the whole study after packing
    return tuple(as_reasons(case, explain(case, found[0], oracle), told))


def _open_question(case: Case, missing: Sequence[Visit], bounds: Bounds) -> list[Reason]:
    """What is known where nothing is proven: how many were placed, and how many could be at most."""
    asked = len(case.visits)
    words = (
        f"placed {asked - len(missing)} of {asked}; more than {min(asked, bounds.most_placed())} cannot fit; "
        "between, not decided in the time"
    )
    return [Reason(words), *(Reason(line) for line in arithmetic(case))]
