"""Whom one day is packed from, where more are asked for than could ever come."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date

from planner.study.model import Study, Visit

ALL = 60  # visits up to which nobody is left aside
MOST = 200  # visits that are handed on at most: beyond, a day can hardly be searched


@dataclass(frozen=True)
class Comers:
    """The visits to pack from, as listed. `is_exact`: what is proven of them holds for all asked."""

    visits: tuple[Visit, ...]
    is_exact: bool


def comers(study: Study, day: date, most: int) -> Comers:
    """At most `most` participants of each kind, `most` being a number of visits that no plan can exceed.

    Participants of whom the day asks the same are alike: a plan holds at most `most` of them, and it
    makes no difference which. Beyond MOST visits, fixed ones come first, then the first of each kind.
    """
    asked = tuple(visit for visits in study.asked.values() for visit in visits)
    if len(asked) <= ALL:
        return Comers(asked, is_exact=True)
    fixed = {wish.participant for wish in study.wishes}
    ranks = _ranks(study, day, fixed)
    places = {participant: place for place, participant in enumerate(ranks)}
    order = sorted(
        (p for p in ranks if ranks[p] < max(1, most)), key=lambda p: (p not in fixed, ranks[p], places[p])
    )
    chosen, count = set[str](), 0
    for participant in order:
        count += len(study.asked[participant])
        if chosen and count > MOST:
            break
        chosen.add(participant)
    return Comers(tuple(v for v in asked if v.participant in chosen), is_exact=len(chosen) == len(order))


def _ranks(study: Study, day: date, fixed: set[str]) -> dict[str, int]:
    """Of each who can come that day, how many alike are listed before; a fixed one is like no other."""
    seen: Counter[Hashable] = Counter()
    found: dict[str, int] = {}
    for participant, visits in study.asked.items():
        kind = tuple((v.protocol, v.start, study.may_come(v, day)) for v in visits)
        if any(lines for _, _, lines in kind):
            like = (participant,) if participant in fixed else kind
            found[participant] = seen[like]
            seen[like] += 1
    return found
