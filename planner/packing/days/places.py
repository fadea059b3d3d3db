"""All slots of all days as arrays for the assignment, and back: from slots taken to visits on the clock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from planner.packing.days.lanes import wall_s
from planner.packing.days.market import Bools, Chain, Floats, Ints, Leg, Slots, Taken
from planner.packing.days.templates import Slot, Template, Type, moved, moved_task, rigs_used, type_of
from planner.packing.hours import Hours, day_of, number_of
from planner.packing.problem import VisitKey, key
from planner.packing.running import used_for
from planner.schedule.model import PlacedVisit, RigTask
from planner.study.model import Study, Visit

MOST_BANDS = 30


@dataclass(frozen=True)
class Place:
    """One slot of one day: its template, and the names that rigs and people of the template have there.

    `only` is the one visit that may take it (a fixed visit); None: any.
    """

    template: Template
    slot: Slot
    names: Mapping[str, str]
    only: Visit | None = None


class Places:
    """The slots of a study. `by_day[n]` are those of calendar day n from the study's first."""

    def __init__(self, study: Study, by_day: Mapping[int, Sequence[Place]]) -> None:
        self.study = study
        self.hours = Hours(study)
        self.by_day = by_day
        self.types = sorted({type_of(v) for vs in study.asked.values() for v in vs}, key=str)
        self._shape = ((study.last_day - study.first_day).days + 1, max(map(len, by_day.values()), default=0))
        self._start: dict[Type, Floats] = {}
        self._end: dict[Type, Floats] = {}
        self._wall: dict[Type, Ints] = {}
        self._kept: dict[tuple[Type, str], Ints] = {}
        self._ids: dict[str, int] = {}
        self._open = np.zeros(self._shape, bool)  # slots that any visit may take
        self._within: dict[tuple[int, Type], Bools] = {}
        self._owned: dict[VisitKey, list[tuple[int, int]]] = {}
        for number, places in by_day.items():
            for column, place in enumerate(places):
                if place.only is not None:
                    self._owned.setdefault(key(place.only), []).append((number, column))
        for kind in self.types:
            self._read(kind)

    def _read(self, kind: Type) -> None:
        """Start, end and kept rigs and people of every slot for this type; -1 where it does not fit."""
        start = np.full(self._shape, -1.0)
        end = np.full(self._shape, -1.0)
        wall = np.full(self._shape, -1, np.int64)
        items = self.study.keep_same_across
        kept = {item: np.full(self._shape, -1, np.int64) for item in items}
        for number, places in self.by_day.items():
            day = day_of(number, self.study)
            for column, place in enumerate(places):
                visit = place.slot.visits.get(kind)
                if visit is None:
                    continue
                there = moved(visit, day, place.names, _nobody(visit))
                start[number, column] = there.start.timestamp()
                end[number, column] = there.end.timestamp()
                wall[number, column] = wall_s(there.start)
                self._open[number, column] |= place.only is None
                for item in items:
                    kept[item][number, column] = self._one(there, item)
        self._start[kind], self._end[kind], self._wall[kind] = start, end, wall
        for item in items:
            self._kept[kind, item] = kept[item]

    def _one(self, visit: PlacedVisit, item: str) -> int:
        """A number for the one rig or person that serves this class or role; 0: none, -1: several."""
        used = set(used_for(self.study, visit, item))
        if len(used) > 1:
            return -1
        return self._ids.setdefault(used.pop(), len(self._ids) + 1) if used else 0

    def slots(self) -> Slots:
        """Room of every slot and day, and the bands of slots that visits of one participant may share."""
        room = np.zeros(self._shape, np.int64)
        for number, places in self.by_day.items():
            room[number, : len(places)] = 1
        cap = self.study.at_most_visits_a_day
        day_room = np.full(self._shape[0], room.sum() if cap is None else cap, np.int64)
        starts, ends = (tuple(times[kind] for kind in self.types) for times in (self._start, self._end))
        return Slots(room, day_room, tuple(self._bands()), starts, ends)

    def _bands(self) -> list[tuple[tuple[Bools, ...], tuple[Bools, ...]]]:
        anywhere = np.ones(self._shape, bool)
        spans = self._spans()
        found = []
        for labels in self._labels():
            kept = [self._keeps(kind, labels) for kind in self.types]
            for span in spans:
                timed = [
                    anywhere
                    if span is None
                    else (self._wall[kind] >= span[0]) & (self._wall[kind] <= span[1])
                    for kind in self.types
                ]
                both = tuple(a & b for a, b in zip(timed, kept, strict=True))
                found.append((both, tuple(kept)))
        return found

    def _keeps(self, kind: Type, labels: Mapping[str, int]) -> Bools:
        mask = np.ones(self._shape, bool)
        for item, label in labels.items():
            mask &= (self._kept[kind, item] == label) | (self._kept[kind, item] == 0)
        return mask

    def _labels(self) -> list[dict[str, int]]:
        """Every choice of rigs and people that some slot keeps for what stays the same across visits."""
        items = self.study.keep_same_across
        found: set[tuple[int, ...]] = set()
        for kind in self.types:
            stacked = np.stack([self._kept[kind, i].ravel() for i in items]) if items else np.zeros((0, 1))
            found |= {tuple(int(v) for v in column) for column in np.unique(stacked.T, axis=0)}
        whole = [labels for labels in found if -1 not in labels and 0 not in labels] or [
            labels for labels in found if -1 not in labels
        ]
        return [dict(zip(items, labels, strict=True)) for labels in sorted(whole)] if items else [{}]

    def _spans(self) -> list[tuple[int, int] | None]:
        """The spans of the wall clock in which the starts of one participant's timed visits may lie."""
        width = self.study.same_time_of_day_s
        if width is None:
            return [None]
        starts = sorted({int(s) for wall in self._wall.values() for s in np.unique(wall) if s >= 0})
        if len(starts) > MOST_BANDS:
            starts = sorted({starts[i * len(starts) // MOST_BANDS] for i in range(MOST_BANDS)})
        return [(start, start + width) for start in starts] or [None]

    def chains(self, among: frozenset[str] | None = None) -> tuple[Chain, ...]:
        """One chain a participant, in the order of the study; empty for those who are not `among` them."""
        return tuple(
            tuple(self._leg(visit) for visit in self.study.asked.get(who, ()))
            if among is None or who in among
            else ()
            for who in self.study.participants
        )

    def _leg(self, visit: Visit) -> Leg:
        kind = type_of(visit)
        gap = visit.gap
        return Leg(
            self._allowed(visit, kind),
            self.types.index(kind),
            self.hours.is_timed(visit),
            gap.at_least if gap else 0,
            gap.at_most if gap else None,
        )

    def _allowed(self, visit: Visit, kind: Type) -> Bools:
        """The slots that this visit may take; one array for all who may take the same, never written to."""
        wishes = self.hours.wishes(visit)
        own = self._owned.get(key(visit), ())
        within = self._within_hours(visit, kind)
        if not wishes and not own:
            return within
        allowed = within.copy()
        wished = {w.date or (w.start.date() if w.start else None) for w in wishes} - {None}
        for number in self.by_day:
            if wished - {day_of(number, self.study)}:
                allowed[number] = False
        if any(w.start for w in wishes):
            allowed[:] = False
        for wish in wishes:
            if wish.rig or wish.person:
                self._served(allowed, kind, wish.rig, wish.person)
        for number, column in own:
            allowed[number, column] = True
        return allowed

    def _within_hours(self, visit: Visit, kind: Type) -> Bools:
        lines = self.hours.lines(visit)
        alike = id(lines), kind
        if alike in self._within:
            return self._within[alike]
        start, end = self._start[kind], self._end[kind]
        fits = self._open & (start >= 0)
        within = np.zeros(self._shape, bool)
        for day, spans in lines.items():
            number = number_of(day, self.study)
            for span in spans if number in self.by_day else ():
                inside = (start[number] >= span.start.timestamp()) & (end[number] <= span.end.timestamp())
                within[number] |= inside & fits[number]
        self._within[alike] = within
        return within

    def _served(self, allowed: Bools, kind: Type, rig: str | None, person: str | None) -> None:
        """Leave only slots that this rig or person serves."""
        for number, column in np.argwhere(allowed).tolist():
            place = self.by_day[number][column]
            there = moved(
                place.slot.visits[kind],
                day_of(number, self.study),
                place.names,
                _nobody(place.slot.visits[kind]),
            )
            allowed[number, column] = serves(self.study, there, rig, person)

    def visits(self, taken: Taken) -> tuple[PlacedVisit, ...]:
        """The placed visits of the slots that were taken."""
        found = []
        for who, cells in zip(self.study.participants, taken, strict=True):
            for visit, (number, column) in zip(self.study.asked.get(who, ()), cells, strict=False):
                place = self.by_day[number][column]
                there = place.slot.visits[type_of(visit)]
                found.append(moved(there, day_of(number, self.study), place.names, visit))
        return tuple(found)

    def tasks(self, visits: Sequence[PlacedVisit]) -> tuple[RigTask, ...]:
        """The first tasks of the rigs that these visits use, day by day."""
        by_day: dict[date, list[PlacedVisit]] = {}
        for visit in visits:
            by_day.setdefault(visit.date, []).append(visit)
        found: list[RigTask] = []
        for day in sorted(by_day):
            used = rigs_used(by_day[day])
            first = len(found)
            for place in self.by_day[(day - self.study.first_day).days]:
                for task in place.template.tasks:
                    there = moved_task(task, day, place.names)
                    if there.rig in used and there not in found[first:]:
                        found.append(there)
        return tuple(found)


def serves(study: Study, visit: PlacedVisit, rig: str | None, person: str | None) -> bool:
    """Whether the rig serves wherever its class is asked for, the person wherever one of their roles is."""
    if rig:
        alike = {r.id for r in study.rigs if set(r.classes) & set(study.rig(rig).classes)}
        if any(r in alike and r != rig for a in visit.activities for r in a.rigs):
            return False
    if person:
        roles = set(study.person(person).roles)
        return all(
            person in activity.staff.values()
            for activity in visit.activities
            if roles.intersection(activity.staff)
        )
    return True


def _nobody(visit: PlacedVisit) -> Visit:
    return Visit(visit.participant, visit.visit, visit.number, visit.condition, "", None, None)
