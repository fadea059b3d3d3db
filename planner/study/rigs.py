"""Rigs by class, with their outages; a rig that stands in two classes is one rig."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from planner.clock import Interval
from planner.faults import Faults, Place
from planner.files import Tree
from planner.study.model import Rig
from planner.study.names import alike
from planner.study.staff import Places


def classes_of(
    written: Mapping[str, Sequence[str]], tree: Tree, faults: Faults
) -> dict[str, tuple[str, ...]]:
    """The classes of each rig, in the order of the file."""
    found: dict[str, tuple[str, ...]] = {}
    for rig_class, rigs in written.items():
        if not rigs:
            words = f"the class {rig_class!r} has no rig"
            faults.add(
                tree.place(("rigs", rig_class)), "empty", words, "Name at least one, or leave the class out."
            )
        for number, rig in enumerate(rigs):
            if rig in rigs[:number]:
                place = tree.value_place(("rigs", rig_class, number))
                faults.add(place, "duplicate", f"the rig {rig!r} stands here again")
            elif rig_class not in found.get(rig, ()):
                found[rig] = (*found.get(rig, ()), rig_class)
    for later, first in [*alike(found), *alike(written)]:
        words = f"{later!r} and {first!r} differ in capitals only"
        faults.add(tree.place(("rigs",)), "alike", words, "Choose names that differ in more.")
    return found


def rigs(
    classes: Mapping[str, tuple[str, ...]],
    outages: Mapping[str, Sequence[tuple[Interval, Place]]],
    places: Places,
) -> tuple[Rig, ...]:
    """Every rig with its outages by start."""
    for rig, lines in outages.items():
        for number, (_, place) in enumerate(_by_start(lines)):
            places["outages", rig, number] = place
    return tuple(
        Rig(rig, has, tuple(interval for interval, _ in _by_start(outages.get(rig, ()))))
        for rig, has in classes.items()
    )


def _by_start(lines: Sequence[tuple[Interval, Place]]) -> list[tuple[Interval, Place]]:
    return sorted(lines, key=lambda line: line[0].start.timestamp())


def warn_of_idle(
    lines: Mapping[str, Sequence[tuple[Interval, Place]]], first: date, last: date, faults: Faults
) -> None:
    """Outages and absences that touch no day of the study are probably a slip of the date."""
    for name, spans in lines.items():
        for interval, place in spans:
            if interval.end.date() < first or interval.start.date() > last:
                span = f"{interval.start:%Y-%m-%d} to {interval.end:%Y-%m-%d}"
                words = f"{name}: {span} lies outside the study's days"
                faults.warn(place, "outside-days", words)
