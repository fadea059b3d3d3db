"""A warning that is no broken rule: of people who could stand in for each other, one opens more often."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Mapping, Sequence
from datetime import date

from planner.schedule.model import Broken
from planner.schedule.rules.case import Case
from planner.study.model import Person

MOST_APART = 1  # days; an odd number of days cannot be shared out evenly


def uneven(case: Case) -> Iterator[Broken]:
    """People with the same roles and hours on every day of the plan begin the day first about equally often.

    People whom a wish names, and roles that are kept across visits, are left out.
    """
    dates = sorted({visit.placed.date for visit in case.visits})
    people = _free(case)
    opens = _opens(case, dates, people)
    twins: dict[Hashable, list[str]] = defaultdict(list)
    for person in people:
        twins[tuple(_kind(person, day) for day in dates)].append(person.id)
    for names in twins.values():
        by_turn = sorted(names, key=lambda name: (opens[name], name))
        fewest, most = by_turn[0], by_turn[-1]
        if opens[most] - opens[fewest] > MOST_APART:
            words = (
                f"{most} begins the day first on {opens[most]} days and {fewest} on {opens[fewest]}, though "
                f"each could stand in for the other"
            )
            yield Broken("early-shifts", None, None, words)


def _free(case: Case) -> list[Person]:
    """Whose turns are nobody's wish."""
    if any(role in case.study.keep_same_across for p in case.study.people for role in p.roles):
        return []
    named = {wish.person for wish in case.study.wishes}
    return [person for person in case.study.people if person.id not in named]


def _kind(person: Person, day: date) -> Hashable:
    hours = tuple((span.start.timestamp(), span.end.timestamp()) for span in person.works.get(day, ()))
    return tuple(sorted(person.roles)), hours


def _opens(case: Case, dates: Sequence[date], people: Sequence[Person]) -> Counter[str]:
    """On how many days each person begins first, and alone, of those who are alike on that day."""
    first, opens = _first_work(case), Counter[str]()
    for day in dates:
        alike: dict[Hashable, list[str]] = defaultdict(list)
        for person in people:
            alike[_kind(person, day)].append(person.id)
        for names in alike.values():
            starts = sorted((first[day, name], name) for name in names if (day, name) in first)
            if len(names) > 1 and starts and (len(starts) == 1 or starts[0][0] < starts[1][0]):
                opens[starts[0][1]] += 1
    return opens


def _first_work(case: Case) -> Mapping[tuple[date, str], float]:
    """When each person has their first work of each day."""
    works = [
        (visit.placed.date, activity.staff.values(), activity.start)
        for visit in case.visits
        for activity in visit.placed.activities
    ]
    works += [(task.start.date(), task.staff.values(), task.start) for task in case.schedule.rig_tasks]
    first: dict[tuple[date, str], float] = {}
    for day, people, start in works:
        for person in people:
            begin = start.timestamp()
            first[day, person] = min(first.get((day, person), begin), begin)
    return first


WARNINGS = (uneven,)
