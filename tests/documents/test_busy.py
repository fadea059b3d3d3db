"""Every stretch of time that a person, a device or a participant is busy."""

from dataclasses import replace
from datetime import timedelta

import pytest

from planner.documents.busy import Doing, of_participant, of_person, of_rig, spans


@pytest.fixture
def found(one_day):
    return spans(*one_day)


def test_they_come_by_start(found):
    assert [s.start for s in found] == sorted(s.start for s in found)


def test_a_rig_is_busy_with_efforts_then_cleaning_then_free(found):
    own = [s for s in of_rig(found, "S1") if s.participant]
    assert [s.doing for s in own[:2]] == [Doing.EFFORTS, Doing.CLEARING]
    assert own[1].start == own[0].end
    assert own[1].end - own[1].start == timedelta(minutes=2)


def test_only_people_of_the_clearing_roles_clear(found):
    clearing = [s for s in found if s.doing is Doing.CLEARING and "S1" in s.rigs]
    assert all(s.roles == {"K1": "operator"} for s in clearing)
    ergometer = next(s for s in found if s.doing is Doing.CLEARING and "E1" in s.rigs)
    assert ergometer.roles == {}


def test_helpers_named_for_clearing_alone_are_in_it(one_day):
    study, schedule = one_day
    visit = schedule.visits[0]
    helped = tuple(
        replace(a, clear_staff={"cleaner": "K2"}) if a.manoeuvre == "fvc" else a for a in visit.activities
    )
    found = spans(study, replace(schedule, visits=(replace(visit, activities=helped),)))
    clearing = [s for s in of_person(found, "K2") if s.doing is Doing.CLEARING]
    assert [s.roles for s in clearing] == [{"K1": "operator", "K2": "cleaner"}]


def test_watching_is_a_duty_after_the_bout(found):
    watch = next(s for s in found if s.doing is Doing.WATCH)
    bout = next(s for s in found if s.doing is Doing.EXERCISE)
    assert watch.start == bout.end
    assert watch.end - watch.start == timedelta(minutes=15)


def test_participants_neither_clean_nor_watch(found):
    assert {s.doing for s in of_participant(found, "ROW-07")} == {
        Doing.TASK,
        Doing.EFFORTS,
        Doing.EXERCISE,
        Doing.REST,
    }


def test_a_check_before_first_use_has_no_participant(found):
    check = next(s for s in found if s.doing is Doing.FIRST_USE)
    assert (check.participant, check.rigs, check.roles) == (None, ("S1",), {"K1": "operator"})
