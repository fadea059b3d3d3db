"""One rig or person kept over all visits of a participant, as cases in which nobody else can serve."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from planner.packing.why.case import Case


def only_one_of_each(case: Case) -> Iterator[tuple[Case, ...]]:
    """For each class or role that is kept across visits: the case with each one alone serving it.

    A participant whose visits find no days in any of these cases cannot be served by one and the same.
    A rig that is never out of use serves alone as well as all together: nothing needs to be asked then.
    """
    for item in case.study.keep_same_across:
        able = [rig for rig in case.study.rigs if item in rig.classes]
        if any(not rig.out for rig in able):
            continue
        rigs = [rig.id for rig in able]
        people = [person.id for person in case.study.people if item in person.roles]
        if len(rigs) + len(people) > 1:
            yield tuple(_served_by(case, item, name) for name in (*rigs, *people))


def _served_by(case: Case, item: str, name: str) -> Case:
    """The case in which the class or role is nobody else's; what else they serve they still do."""
    study = case.study
    rigs = tuple(
        rig if rig.id == name else replace(rig, classes=tuple(c for c in rig.classes if c != item))
        for rig in study.rigs
    )
    people = tuple(
        one if one.id == name else replace(one, roles=tuple(r for r in one.roles if r != item))
        for one in study.people
    )
    return case.with_(rigs=rigs, people=people)
