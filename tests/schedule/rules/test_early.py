"""Who opens: a plan that always calls upon the same one of two who are alike is warned of, and no other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.schedule.model import Schedule
from planner.schedule.verify import verify
from planner.study.model import Study, Wish


@pytest.fixture
def alike(study: Study) -> Study:
    """K1 as in the study, and K9 with the same roles and hours."""
    first = study.people[0]
    other = replace(first, id="K9")
    return replace(study, people=(*study.people, other), keep_same_across=(), wishes=())


def _warned(schedule: Schedule, study: Study, plans) -> list[str]:
    return [w.message for w in verify(schedule, study, plans).warnings if w.rule == "early-shifts"]


def _given(schedule: Schedule, on: int) -> Schedule:
    """All that K1 does on the plan's day of that number is K9's."""
    day = schedule.dates[on]

    def named(staff):
        return {role: "K9" if name == "K1" else name for role, name in staff.items()}

    visits = tuple(
        replace(v, activities=tuple(replace(a, staff=named(a.staff)) for a in v.activities))
        if v.date == day
        else v
        for v in schedule.visits
    )
    tasks = tuple(
        replace(t, staff=named(t.staff)) if t.start.date() == day else t for t in schedule.rig_tasks
    )
    return replace(schedule, visits=visits, rig_tasks=tasks)


def test_one_of_two_always_opens(good: Schedule, alike: Study, plans):
    """Three days, and K1 begins each: counted by hand from the plan in conftest."""
    assert _warned(good, alike, plans) == [
        "K1 begins the day first on 3 days and K9 on 0, though each could stand in for the other"
    ]


def test_shared_out_as_evenly_as_three_days_can_be(good: Schedule, alike: Study, plans):
    shared = _given(good, 1)
    assert _warned(shared, alike, plans) == []
    assert verify(shared, alike, plans).broken == verify(good, alike, plans).broken


def test_nobody_is_told_to_stand_in_for_whom_somebody_asked_for(good: Schedule, alike: Study, plans):
    wish = Wish("ROW-01", None, person="K1")
    assert _warned(good, replace(alike, wishes=(wish,)), plans) == []


def test_people_with_other_roles_are_not_compared(good: Schedule, study: Study, plans):
    assert _warned(good, replace(study, keep_same_across=()), plans) == []
