"""The visit in hand, tap by tap: what the page shows and what it records."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from planner.clock import later
from planner.record.actions import Deed, TestDay, Typed, correct
from planner.record.drafts import Hand
from planner.record.live import VisitNow, visit_now
from planner.record.parts import Part, Status
from planner.record.store import Store


@dataclass
class Rig:
    """A station that works on one visit; its clock is moved by hand."""

    store: Store
    visit: object
    plan: object
    now: datetime
    hand: Hand = field(default_factory=lambda: Hand("K1", "picked", "rig 1"))

    def look(self) -> VisitNow:
        return visit_now(self.store, self.visit, self.plan, None, now=self.now)

    def day(self) -> TestDay:
        return TestDay(self.store, self.look(), self.hand)

    def part(self, step: str, manoeuvre: str | None = None, at_s: int | None = None) -> Part:
        for part in self.look().parts:
            found = part.activity
            if (found.step, found.manoeuvre, found.at_s) == (step, manoeuvre, at_s):
                return part
        raise KeyError(step)

    def wait(self, seconds: float) -> None:
        self.now = later(self.now, seconds)

    def effort(self, where: tuple, **readings: str) -> Deed:
        """Start an effort, wait it out, and give its readings."""
        part = self.part(*where)
        assert self.day().start_effort(part).is_recorded
        self.wait(self.plan.protocol.manoeuvres[where[1]].effort_s)
        typed = {name: Typed(Decimal(value)) for name, value in readings.items()}
        return self.day().finish_effort(self.part(*where), part.next_effort, typed)

    def bout(self, step: str, seconds: float) -> None:
        self.day().begin(self.part(step))
        self.wait(seconds)
        self.day().end(self.part(step))


FVC = ("before", "fvc")
AFTER = ("after", "fvc-short", 120)


@pytest.fixture
def rig(store: Store, plans) -> Rig:
    visit = store.study.asked["ROW-01"][1]
    return Rig(store, visit, plans[visit.protocol], datetime(2027, 3, 2, 9, 0, tzinfo=store.study.zone))


def test_a_fresh_visit_begins_with_its_first_part(rig: Rig):
    shown = rig.look()
    assert shown.parts[shown.current].activity.step == "welcome"
    assert {part.status for part in shown.parts} == {Status.TO_COME}
    assert shown.next_due is None
    assert shown.at_risk == ()


def test_effort_by_effort_until_two_agree(rig: Rig):
    rig.bout("welcome", 300)
    for value in ("4.80", "4.50", "4.60"):
        rig.effort(FVC, FVC=value, FEV1="3.90")
        rig.wait(30)
    part = rig.part(*FVC)
    assert (
        part.agreement.words
        == "FVC: the 2 largest are 0.2 L apart, 0.15 L allowed. One more effort; 2 left at most."
    )
    assert (part.status, part.may_start_effort, part.next_effort) == (Status.NOW, True, 4)
    rig.effort(FVC, FVC="4.75", FEV1="3.90")
    part = rig.part(*FVC)
    assert (part.status, part.may_start_effort, part.rest_ends) == (Status.DONE, False, None)
    assert rig.look().parts[rig.look().current].activity.manoeuvre == "mip"


def test_no_effort_beyond_at_most_is_offered_or_taken(rig: Rig):
    for value in ("4.80", "4.50", "4.20", "3.90", "3.60"):
        rig.effort(FVC, FVC=value)
    part = rig.part(*FVC)
    assert not part.may_start_effort
    assert "without agreement" in rig.day().start_effort(part).refused
    assert len(rig.part(*FVC).efforts) == 5


def test_the_rest_counts_from_the_reported_end_of_the_effort(rig: Rig):
    part = rig.part(*FVC)
    rig.day().start_effort(part)
    assert rig.look().words() == "Forced vital capacity: effort 1 is under way."
    rig.wait(27)
    rig.day().finish_effort(rig.part(*FVC), 1, {"FVC": Typed(Decimal("4.8"))})
    end = rig.now
    assert rig.look().rest_ends == later(end, 30)
    assert rig.look().words() == f"Forced vital capacity: rest until {later(end, 30):%H:%M:%S}."
    rig.wait(30)
    assert rig.look().words() == "Forced vital capacity: effort 2 may start when the participant is ready."


def test_due_times_count_from_the_recorded_end_of_exercise(rig: Rig):
    rig.day().begin(rig.part("row"))
    rig.wait(700)
    assert rig.part(*AFTER).due is None
    rig.day().end(rig.part("row"))
    end = rig.now
    due = rig.look().next_due.due
    assert (due.at, due.not_before, due.not_after) == (later(end, 120), later(end, 120), later(end, 180))
    assert due.after == "2 min after the end of Rowing"
    assert [due.word(later(end, s)) for s in (119, 120, 180, 181)] == ["early", "due", "due", "late"]


def test_a_corrected_end_of_exercise_moves_what_is_due(rig: Rig):
    rig.bout("row", 700)
    seqs = [row.seq for row in rig.store.rows("ROW-01") if row.reading == "end"]
    real = later(rig.now, -40)
    assert correct(rig.store, seqs, rig.hand, "pressed late", started=real).is_recorded
    assert rig.look().next_due.due.at == later(real, 120)


def test_measures_during_the_bout_stand_inside_it(rig: Rig):
    rig.day().begin(rig.part("row"))
    shown = rig.look()
    inside = shown.parts[shown.current]
    assert (inside.activity.step, inside.activity.manoeuvre, inside.activity.at_s) == (
        "row",
        "fvc-short",
        360,
    )
    assert shown.parts[shown.around].activity.manoeuvre is None
    assert inside.due.at == later(rig.now, 360)


def test_a_double_tap_and_a_second_tab_record_once(rig: Rig):
    first = rig.day()
    second = TestDay(rig.store, rig.look(), Hand("K1", "picked", "rig 2"))
    part = rig.part(*FVC)
    deeds = [first.start_effort(part), first.start_effort(part), second.start_effort(part)]
    assert len({deed.seqs for deed in deeds}) == 1
    assert len(rig.part(*FVC).efforts) == 1


def test_a_tap_on_an_outdated_page_does_not_start_a_second_effort(rig: Rig):
    rig.day().start_effort(rig.part(*FVC))
    rig.wait(3)
    part = rig.part(*FVC)
    assert not part.may_start_effort
    assert rig.day().start_effort(part).refused == "effort 1 is still under way"


def test_readings_sent_twice_are_kept_once(rig: Rig):
    rig.day().start_effort(rig.part(*FVC))
    day, part = rig.day(), rig.part(*FVC)
    typed = {"FVC": Typed(Decimal("4.8")), "FEV1": Typed(Decimal("3.9"), acceptable=False)}
    assert day.finish_effort(part, 1, typed) == day.finish_effort(part, 1, typed)
    (effort,) = rig.part(*FVC).efforts
    assert [value.acceptable for value in effort.values] == [True, False]


def test_other_readings_for_the_same_effort_are_refused_as_a_whole(rig: Rig):
    rig.effort(FVC, FVC="4.80")
    wrong = {"FEV1": Typed(Decimal("3.9")), "FVC": Typed(Decimal("5.80"))}
    deed = rig.day().finish_effort(rig.part(*FVC), 1, wrong)
    assert "correction" in deed.refused
    (effort,) = rig.part(*FVC).efforts
    assert [value.reading for value in effort.values] == ["FVC"]


def test_undo_is_a_correction_and_the_effort_can_be_done_again(rig: Rig):
    rig.effort(FVC, FVC="4.80")
    effort = rig.part(*FVC).efforts[0]
    assert rig.day().undo(effort.seqs, "").refused == "a correction needs a reason"
    assert rig.day().undo(effort.seqs, "wrong participant").is_recorded
    assert rig.part(*FVC).efforts == ()
    rig.effort(FVC, FVC="4.60")
    assert rig.part(*FVC).efforts[0].values[0].value == Decimal("4.60")


def test_stopped_ends_the_visit_without_a_reason(rig: Rig):
    rig.effort(FVC, FVC="4.80")
    assert rig.day().stop(rig.part(*FVC)).is_recorded
    shown = rig.look()
    assert shown.stopped == rig.now
    assert not any(part.may_start_effort for part in shown.parts)
    assert shown.at_risk == ()
    assert [mark.what for mark in rig.store.happened().marks] == ["stopped"]


def test_not_now_is_shown_until_something_happens(rig: Rig):
    assert rig.day().not_now(rig.part(*FVC)).is_recorded
    assert rig.look().not_now == rig.now
    rig.effort(FVC, FVC="4.80")
    assert rig.look().not_now is None


def test_notes_stand_with_time_and_person(rig: Rig):
    assert rig.day().note("window open").is_recorded
    (note,) = rig.look().notes
    assert (note.text, note.who, note.at) == ("window open", "K1", rig.now)
    assert rig.day().note("  ").refused


def test_what_cannot_be_on_time_any_more_is_said_first(rig: Rig):
    rig.bout("row", 720)
    assert rig.look().at_risk == ()
    rig.wait(190)
    at_risk = rig.look().at_risk
    assert [one.sure for one in at_risk][:1] == [True]
    assert "can no longer start on time" in at_risk[0].words
    rig.wait(640)
    assert len(rig.look().at_risk) == 2


def test_while_time_is_left_getting_ready_makes_nothing_sure(rig: Rig):
    """Nobody records it: it may be over, and the page counts the seconds that are left beside these words."""
    rig.bout("row", 720)
    rig.wait(170)  # of 180 s
    part = rig.part("after", "fvc-short", 120)
    assert part.activity.prepare_s > 10
    risk = rig.look().at_risk[0]
    assert not risk.sure
    assert "is at risk: " in risk.words


def test_a_part_begun_later_passes_over_what_stands_before(rig: Rig):
    rig.effort(FVC, FVC="4.80")
    rig.bout("row", 720)
    assert rig.part(*FVC).status is Status.PASSED
    assert rig.part("welcome").status is Status.PASSED


def test_another_plan_in_force_is_said_and_nothing_is_lost(rig: Rig, schedule):
    rig.store.plan_in_force(schedule, by="K2")
    rig.store.plan_in_force(replace(schedule, version=2, fingerprint="other"), by="K2")
    rig.hand = replace(rig.hand, plan_version=1)
    deed = rig.day().start_effort(rig.part(*FVC))
    assert deed.is_recorded
    assert "plan 2 is in force" in deed.warnings[0]


def test_a_device_clock_that_is_wrong_is_said(rig: Rig):
    rig.hand = replace(rig.hand, device_clock=rig.now + timedelta(seconds=40))
    deed = rig.day().start_effort(rig.part(*FVC))
    assert "40 s ahead" in deed.warnings[0]
    (row,) = rig.store.rows("ROW-01")
    assert row.device_clock == "2027-03-01T19:15:40+00:00"


def test_a_tap_that_waited_for_the_line_is_not_called_a_wrong_clock(rig: Rig):
    rig.hand = replace(rig.hand, device_clock=rig.now - timedelta(seconds=40))
    deed = rig.day().start_effort(rig.part(*FVC))
    assert deed.is_recorded
    (said,) = deed.warnings
    assert said.startswith("This came 40 s after this device's clock says it was tapped")
    assert "the line was cut, or that clock is behind" in said


def test_a_rehearsal_marks_every_line(opened, plans):
    store = opened(rehearsed=True)
    visit = store.study.asked["ROW-01"][1]
    rig = Rig(store, visit, plans[visit.protocol], datetime(2027, 3, 2, 9, 0, tzinfo=store.study.zone))
    rig.effort(FVC, FVC="4.80")
    rig.day().stop()
    assert rig.look().rehearsed
    assert all(line.is_rehearsed for line in store.lines())


def test_what_to_keep_first_is_said_in_the_sheets_words(rig: Rig):
    """Without what can no longer be measured; nobody at a device knows the names of a file."""
    protocol = replace(rig.plan.protocol, priority=("before/fvc", "after/mep", "after"))
    rig.plan = replace(rig.plan, protocol=protocol)
    rig.bout("row", 720)
    rig.wait(170)
    assert rig.look().at_risk[0].keep_first == (
        "Keep first: Maximal expiratory pressure (Measures after rowing), Measures after rowing."
    )
