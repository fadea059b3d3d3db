"""Single-use things for a day and for the study, counted from the planned blocks, with spares."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date
from typing import NamedTuple

from planner.documents import care
from planner.documents.shown import protocol_of
from planner.documents.spreadsheet import Cell, Table, spreadsheet
from planner.documents.texts import lines, say
from planner.protocol.model import Manoeuvre, Protocol
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study


class Need(NamedTuple):
    """How many of a thing: needed, spares, and how many if each change of participant takes a fresh one."""

    thing: str
    needed: int
    spare: int
    if_fresh: int

    @property
    def take(self) -> int:
        """Needed and spares."""
        return self.needed + self.spare


def kit_list(study: Study, schedule: Schedule, day: date | None = None) -> bytes:
    """The kit list as a workbook: by day, and for the whole study (or one day only)."""
    return spreadsheet(kit_tables(study, schedule, day), title=say("kit.title"), made=schedule.made)


def kit_tables(study: Study, schedule: Schedule, only: date | None = None) -> Iterator[Table]:
    """The two tables of the kit list; for one day the first alone."""
    rows: list[list[Cell]] = [
        [day, need.thing, need.needed, need.spare, need.take, need.if_fresh]
        for day in schedule.dates
        if only in (None, day)
        for need in day_needs(study, schedule, day)
    ]
    note = say("kit.rule")
    if assumed := _assumed(study):
        note = f"{note} {say('kit.assumed', things=', '.join(assumed))}"
    yield Table(f"{say('kit.title')}, {say('kit.by_day').lower()}", lines("kit.columns"), rows, note)
    if only is not None:
        return
    rows = [[n.thing, n.needed, n.spare, n.take, n.if_fresh] for n in study_needs(study, schedule)]
    yield Table(f"{say('kit.title')}, {say('kit.whole').lower()}", lines("kit.study_columns"), rows, note)


def day_needs(study: Study, schedule: Schedule, day: date) -> tuple[Need, ...]:
    """What one day needs, by the name of the thing."""
    return _needs(*_count(study, schedule.on(day)))


def study_needs(study: Study, schedule: Schedule) -> tuple[Need, ...]:
    """What all planned visits need together; spares are those of the whole."""
    needed: Counter[str] = Counter()
    fresh: Counter[str] = Counter()
    for day in schedule.dates:
        of_day, of_changes = _count(study, schedule.on(day))
        needed.update(of_day)
        fresh.update(of_changes)
    return _needs(needed, fresh)


def _needs(needed: Counter[str], fresh: Counter[str]) -> tuple[Need, ...]:
    return tuple(
        Need(thing, count, spares(count), max(count, fresh[thing])) for thing, count in sorted(needed.items())
    )


def spares(count: int) -> int:
    """One in ten, at least two."""
    return max(2, -(-count // 10))


def _count(study: Study, visits: tuple[PlacedVisit, ...]) -> tuple[Counter[str], Counter[str]]:
    """One of each thing for each visit and class of device; one for each change of participant."""
    needed: Counter[str] = Counter()
    on_rig: dict[str, list[tuple[float, str, tuple[str, ...]]]] = {}
    for visit in visits:
        protocol = protocol_of(study, visit)
        own: set[tuple[str, tuple[str, ...]]] = set()
        for activity in visit.activities:
            if activity.manoeuvre is None:
                continue
            manoeuvre = protocol.manoeuvres[activity.manoeuvre]
            things = things_of(protocol, manoeuvre)
            own |= {(thing, manoeuvre.rigs) for thing in things}
            for rig in activity.rigs[:1]:
                on_rig.setdefault(rig, []).append((activity.start.timestamp(), visit.participant, things))
        needed.update(thing for thing, _ in own)
    return needed, _changes(on_rig)


def _changes(on_rig: dict[str, list[tuple[float, str, tuple[str, ...]]]]) -> Counter[str]:
    fresh: Counter[str] = Counter()
    for blocks in on_rig.values():
        last: str | None = None
        for _, participant, things in sorted(blocks):
            if participant != last:
                fresh.update(things)
            last = participant
    return fresh


def things_of(protocol: Protocol, manoeuvre: Manoeuvre) -> tuple[str, ...]:
    """The manoeuvre's own kit; for a breathing manoeuvre without one, what is usual."""
    if manoeuvre.kit:
        return manoeuvre.kit
    if not manoeuvre.rigs or not care.is_breath(manoeuvre):
        return ()
    usual = lines("kit.usual")
    return usual if care.is_pressure(manoeuvre) else (*usual, say("kit.clip"))


def _assumed(study: Study) -> list[str]:
    found = {
        thing
        for protocol in study.protocols.values()
        for manoeuvre in protocol.manoeuvres.values()
        if not manoeuvre.kit
        for thing in things_of(protocol, manoeuvre)
    }
    return sorted(found)
