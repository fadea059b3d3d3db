"""Visits that must go, and what goes with them or in their stead: none stays without those before it."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from planner.packing.problem import VisitKey, key
from planner.schedule.model import PlacedVisit
from planner.study.model import Study


def and_behind(
    named: Mapping[VisitKey, str], among: Collection[PlacedVisit], study: Study
) -> Mapping[VisitKey, str]:
    """These visits with what is said of each, and those `among` the placed ones that come after them."""
    found = dict(named)
    for name in named:
        words = f"{name[1]}, which must come before it, has no place"
        found.update({later: words for later in _behind(name, among, study) if later not in named})
    return found


def last_instead(
    named: Mapping[VisitKey, str], among: Collection[PlacedVisit], study: Study
) -> Mapping[VisitKey, str]:
    """The last visit `among` these of each participant of whom one is named, and what is said of that one.

    What two visits of one participant break together is mended so; else the last one has to go anyway.
    """
    found: dict[VisitKey, str] = {}
    for name, words in named.items():
        last = [name, *_behind(name, among, study)][-1]
        if last in named or last not in found:
            found[last] = named.get(last, f"{name[1]}, which must come before it, cannot stay: {words}")
    return found


def _behind(name: VisitKey, among: Collection[PlacedVisit], study: Study) -> list[VisitKey]:
    """The participant's visits after that one, of those `among` the placed ones, in order."""
    names = [key(visit) for visit in study.asked.get(name[0], ())]
    placed = {key(visit) for visit in among}
    if name not in names:
        return []
    return [later for later in names[names.index(name) + 1 :] if later in placed]
