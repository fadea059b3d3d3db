"""What is said of each visit without a place: of itself where that is proven, else of its series or day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.packing.problem import VisitKey, key
from planner.packing.why.case import Case
from planner.packing.why.explain import Conflict, listed
from planner.packing.why.oracle import Kind, Proof, due_on
from planner.study.model import Visit

TOO_MANY = "more visits are asked for than can have a place"
NOBODY = "proven that none of the visits that are asked for can have a place"
TOGETHER = "cannot be met together"
NOT_LOOKED_AT = "in its way, with others that were not looked at in the time"
NO_PLACE = "proven to find no place"
NOT_EVEN_ALONE = f"{NO_PLACE} even if nobody else came"  # whose demands are not looked at
NOT_FOUND = "no free place was found in the time"


def words_of_visits(
    case: Case, missing: Sequence[Visit], proofs: Sequence[Proof], conflicts: Sequence[Conflict], most: int
) -> dict[VisitKey, str]:
    """Of each visit without a place what was found out; `most` could be placed by counting alone."""
    rows = {proof.participants[0]: proof for proof in proofs if proof.kind is Kind.ROW}
    named = {name: one for one in conflicts if one.proof.kind is Kind.ROW for name in one.proof.participants}
    found = {
        key(visit): _in_a_row(visit, rows[visit.participant], named.get(visit.participant))
        for visit in missing
        if visit.participant in rows
    }
    for conflict in conflicts:
        if conflict.proof.kind is not Kind.ROW:
            found |= _of_several(case, missing, conflict, most)
    return found


def _in_a_row(visit: Visit, proof: Proof, conflict: Conflict | None) -> str:
    """Of one visit of a participant who cannot get all of them: `conflict` names the demands, where known."""
    who, demands = visit.participant, _demands(conflict)
    if visit.file_id == proof.visit:
        return _with(demands, conflict, NO_PLACE) if demands else NOT_EVEN_ALONE
    if visit.file_id in proof.no_day:
        return NOT_EVEN_ALONE
    if proof.visit:
        return f"{NOT_FOUND}; {proof.visit} of {who} is {NOT_EVEN_ALONE}"
    series = f"not all visits of {who} can be placed, whoever else comes"
    if not demands:
        return series
    return f"{series}: {demands}" if conflict and conflict.is_whole else _with(demands, conflict, series)


def _of_several(
    case: Case, missing: Sequence[Visit], conflict: Conflict, most: int
) -> Mapping[VisitKey, str]:
    """Of the visits that are counted, or that are due together on one day."""
    proof, demands = conflict.proof, _demands(conflict)
    whose = set(proof.participants)
    if proof.kind is Kind.COUNT:
        of = {key(visit) for visit in missing if visit.participant in whose}
        what = TOO_MANY if most else NOBODY
    else:
        assert proof.day is not None
        of = {key(visit) for name in whose for visit in due_on(case.study, name, proof.day)}
        who = listed(proof.participants)
        what = f"proven that on {proof.day} not all visits of {who} can be placed"
    words = _with(demands, conflict, what) if demands else what
    return {key(visit): words for visit in missing if key(visit) in of}


def _demands(conflict: Conflict | None) -> str:
    return "; ".join(demand.words for demand in conflict.demands) if conflict else ""


def _with(demands: str, conflict: Conflict | None, what: str) -> str:
    """The demands that collide; where time was up before all were known, no more than `what` was proven."""
    if conflict and conflict.is_whole:
        return f"{TOGETHER}: {demands}"
    return f"{what}; {NOT_LOOKED_AT}: {demands}"
