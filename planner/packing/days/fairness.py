"""Early beginnings shared out among people who could stand in for each other, day by day.

Packing knows no names: of two people with the same roles and hours it always calls upon the same one
first. Here the two change places for whole days, which touches no rule, so that nobody always opens.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Mapping, Sequence
from datetime import date

from planner.packing.days.lanes import wall_s
from planner.packing.days.templates import moved, moved_task
from planner.packing.problem import key
from planner.packing.running import Running
from planner.schedule.model import PlacedVisit
from planner.study.model import Person, Study


def share_early(running: Running) -> None:
    """Gives the first beginning of each day to whoever of those alike has had fewest so far."""
    early: Counter[str] = Counter()
    for day, visits in running.by_day().items():
        names: dict[str, str] = {}
        for group in _alike(running.study, day):
            first = _first_work(visits, running, day)
            by_start = sorted(group, key=lambda p: (first.get(p, float("inf")), p))
            by_turn = sorted(group, key=lambda p: (early[p], p))
            names.update(zip(by_start, by_turn, strict=True))
            if by_start[0] in first and first[by_start[0]] < first.get(by_start[1], float("inf")):
                early[by_turn[0]] += 1  # two who begin together open together
        if any(old != new for old, new in names.items()):
            _rename(running, day, visits, names)


def _alike(study: Study, day: date) -> list[list[str]]:
    """People with the same roles and hours that day whom no wish names and no participant keeps."""
    if any(role in study.keep_same_across for person in study.people for role in person.roles):
        return []
    named = {wish.person for wish in study.wishes}
    groups: dict[Hashable, list[str]] = defaultdict(list)
    for person in study.people:
        if person.id not in named and person.works.get(day):
            groups[_kind(person, day)].append(person.id)
    return [group for group in groups.values() if len(group) > 1]


def _kind(person: Person, day: date) -> Hashable:
    hours = tuple((wall_s(span.start), wall_s(span.end)) for span in person.works[day])
    return tuple(sorted(person.roles)), hours


def _first_work(visits: Sequence[PlacedVisit], running: Running, day: date) -> Mapping[str, float]:
    """When each person has their first work of the day."""
    first: dict[str, float] = {}
    works = [(a.staff.values(), a.start) for visit in visits for a in visit.activities]
    works += [(task.staff.values(), task.start) for task in running.tasks.get(day, ())]
    for people, start in works:
        for person in people:
            first[person] = min(first.get(person, start.timestamp()), start.timestamp())
    return first


def _rename(running: Running, day: date, visits: Sequence[PlacedVisit], changed: Mapping[str, str]) -> None:
    ids = [person.id for person in running.study.people] + [rig.id for rig in running.study.rigs]
    names = {**dict(zip(ids, ids, strict=True)), **changed}
    for visit in visits:
        asked = next(v for v in running.study.asked[visit.participant] if key(v) == key(visit))
        running.visits[key(visit)] = moved(visit, day, names, asked)
    running.tasks[day] = tuple(moved_task(task, day, names) for task in running.tasks.get(day, ()))
