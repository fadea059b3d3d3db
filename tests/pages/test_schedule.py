"""The Schedule page as a person sees it, on the small study with its plan in force."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import time as clock
from functools import partial
from pathlib import Path

import psutil
import pytest
from streamlit.testing.v1 import AppTest

from planner.clock import later as later_than
from planner.files.drafts import text_in
from planner.pages import solving
from planner.pages.schedule_result import other_starts
from planner.record.store import open_store
from planner.record.tables import events_query
from planner.schedule.in_force import in_force, put_in_force
from planner.schedule.model import Outcome, Reason
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "tests" / "data" / "small-plan.json"
Open = Callable[..., AppTest]
PATIENCE_S = 240


@pytest.fixture
def opened(open_small: Open) -> Open:
    """Opens the page on the small study; with its plan in force unless told otherwise."""
    return partial(open_small, "schedule", "Who is where, when?")


def words(at: AppTest) -> str:
    return "\n".join(str(block.value) for block in at.markdown)


def unfold(at: AppTest, fold: str) -> AppTest:
    """Open a fold by its key."""
    at.session_state[fold] = True
    return at.run()


def finished(folder: Path) -> None:
    """Wait until the search that was started has ended; on a busy machine it begins late."""
    until = time.monotonic() + PATIENCE_S
    while solving.running(folder):
        assert time.monotonic() < until
        time.sleep(0.1)


def test_without_a_plan_it_says_what_to_do(opened: Open):
    at = opened(planned=False)
    assert "No plan is in force yet. 6 visits of 2 participants are asked for." in at.info[0].value
    assert at.button(key="schedule-pack").label == "Make the schedule"


def test_a_day_is_shown_as_picture_words_and_table(opened: Open):
    at = unfold(opened(), "schedule-in-words")
    assert "Plan 1 is in force" in words(at)
    assert at.selectbox(key="schedule-day").value.isoformat() == "2027-03-01"
    table = at.table[0].value
    assert list(table["Participant"])
    assert list(table.columns) == ["No.", "Participant", "Visit", "Day", "Starts", "Ends", "Devices", "Staff"]
    assert "Monday 1 March 2027" in words(at)


@pytest.mark.parametrize("view", ["week", "whole plan"])
def test_week_and_whole_plan_list_every_visit(opened: Open, view: str, small: Path):
    at = opened(view=view)
    placed = read_plan(PLAN, read_study(small)).placed
    assert len(at.table[0].value) == placed


def test_a_blind_condition_is_on_no_part_of_the_page(opened: Open):
    at = opened(view="whole plan")
    shown = json.dumps([str(element.proto) for element in at.main], default=str)
    assert "rowing 1" in shown
    assert "cold air" not in shown


def test_an_address_names_a_visit_by_its_number(opened: Open, small: Path):
    schedule = read_plan(PLAN, read_study(small))
    at = opened(visit="3")
    assert at.selectbox(key="schedule-day").value == schedule.visits[2].date
    assert at.selectbox(key="schedule-visit").value == 3
    assert dict(at.query_params)["visit"] in ("3", ["3"])
    code = schedule.visits[2].participant
    assert all(code not in str(value) for value in at.query_params.values())


@pytest.mark.parametrize("visit", ["99", "-1", "x", "1e9", "9" * 50])
def test_an_address_that_leads_nowhere_is_no_error(opened: Open, visit: str):
    assert opened(visit=visit, day="2027-13-99", view="?", rows="?").title


def fixed(at: AppTest) -> AppTest:
    at.checkbox(key="schedule-fix-start").check()
    return at.button(key="schedule-fix-it").click().run()


def test_a_visit_is_fixed_where_it_is_and_let_go_again(opened: Open, small: Path):
    before = text_in(small / "study.yaml")
    at = fixed(opened(visit="3"))
    assert not at.exception
    (wish,) = read_study(small).wishes
    visit = read_plan(PLAN, read_study(small)).visits[2]
    assert (wish.participant, wish.visit, wish.start) == (visit.participant, visit.file_id, visit.start)
    assert text_in(small / "study.yaml").startswith(before.rstrip("\n"))
    unfold(at, "schedule-more-fixed")
    at.button(key="schedule-let-go-0").click().run()
    assert not at.exception
    assert read_study(small).wishes == ()


def test_a_visit_is_fixed_to_another_day_and_time(opened: Open, small: Path):
    at = opened(visit="3")
    day = read_study(small).open
    at.selectbox(key="schedule-fix-other-day").select(sorted(day)[-1])
    at.time_input(key="schedule-fix-other-start").set_value(clock(10, 30))
    at.button(key="schedule-fix-it").click().run()
    assert not at.exception
    (wish,) = read_study(small).wishes
    assert wish.start is not None
    assert (wish.date, wish.start.time()) == (sorted(day)[-1], clock(10, 30))


def test_what_moves_is_told_by_visit(small: Path):
    study = read_study(small)
    before = read_plan(PLAN, study)
    first, second, *others = before.visits
    opening, *rest = first.activities
    begun = replace(opening, start=later_than(opening.start, 60))
    later = replace(first, activities=(begun, *rest))
    assert later.start != first.start
    rows = other_starts(study, before, replace(before, visits=(later, *others)))
    assert {(row["Participant"], row["Before"], row["Now"]) for row in rows} == {
        (first.participant, f"{first.start:%a %d %b, %H:%M}", f"{later.start:%a %d %b, %H:%M}"),
        (second.participant, f"{second.start:%a %d %b, %H:%M}", "not in the plan"),
    }
    assert other_starts(study, before, before) == []


def test_cleaning_has_no_first_effort(opened: Open):
    at = opened(visit="3")
    rows = next(one.value for one in at.table if "First effort" in one.value.columns)
    assert set(rows[rows["What"] == "cleaning and reset"]["First effort"]) == {""}
    assert any(rows["First effort"] != "")


def test_fixing_can_be_undone(opened: Open, small: Path):
    before = text_in(small / "study.yaml")
    at = unfold(fixed(opened(visit="3")), "schedule-more-fixed")
    at.button(key="schedule-undo").click().run()
    assert not at.exception
    assert text_in(small / "study.yaml") == before
    assert read_study(small).wishes == ()


def test_a_change_can_be_undone_after_a_reload(opened: Open, small: Path):
    before = text_in(small / "study.yaml")
    fixed(opened(visit="3"))
    assert len(read_study(small).wishes) == 1
    again = unfold(opened(planned=False), "schedule-more-fixed")  # a session of its own, as after a reload
    again.button(key="schedule-undo").click().run()
    assert text_in(small / "study.yaml") == before
    assert again.button(key="schedule-undo").disabled


def test_an_earlier_plan_comes_back_as_a_new_one_with_a_line_in_the_record(opened: Open, small: Path):
    study = read_study(small)
    first = read_plan(PLAN, study)
    put_in_force(small, first)
    put_in_force(small, replace(first, version=2, replaces=1, visits=first.visits[1:]))
    at = opened(planned=False)
    assert "Plan 2 is in force" in words(at)
    unfold(at, "schedule-more-earlier")
    at.button(key="schedule-go-back").click().run()
    assert not at.exception
    assert "Plan 3 is in force" in words(at)
    now = read_plan(in_force(small), study)
    assert (now.replaces, now.visits) == (2, first.visits)
    with open_store(study) as store:
        told = [(row.kind, row.plan_version) for row in store.read(events_query())]
    assert told == [("plan", 3)]


def test_a_day_is_left_out_and_the_comments_stay(opened: Open, small: Path):
    at = unfold(opened(), "schedule-more-fixed")
    day = read_study(small).last_day
    at.selectbox(key="schedule-exclude").set_value(day).run()
    at.button(key="schedule-leave-out").click().run()
    assert not at.exception
    study = read_study(small)
    assert day not in study.open
    assert text_in(small / "study.yaml").startswith("# A small invented study")
    assert "Files changed since this plan was made" in at.warning[0].value
    at.button(key="schedule-undo").click().run()
    assert day in read_study(small).open


def wait_for_the_search(at: AppTest, folder: Path) -> AppTest:
    finished(folder)
    return at.run()


def test_a_schedule_is_made_seen_and_put_in_force(opened: Open, small: Path):
    at = opened(planned=False)
    at.slider(key="schedule-seconds").set_value(10)
    at.button(key="schedule-pack").click().run()
    assert not at.exception
    assert at.button(key="schedule-stop").label == "Stop and keep the best"
    at = wait_for_the_search(at, small)
    assert at.subheader[0].value == "Plan 1, not yet in force"
    assert "6 of 6 visits placed." in words(at)
    assert in_force(small) is None
    at.button(key="schedule-use").click().run()
    assert not at.exception
    assert in_force(small) is not None
    assert solving.proposal(small) is None


def test_a_search_is_stopped_and_its_best_is_kept(opened: Open, small: Path):
    at = opened(planned=False)
    at.slider(key="schedule-seconds").set_value(120)
    at.button(key="schedule-pack").click().run()
    began = time.monotonic()
    while solving.progress(small) is None and solving.running(small) and time.monotonic() < began + 60:
        time.sleep(0.1)
    at.run()
    if solving.running(small):
        at.button(key="schedule-stop").click().run()
    at = wait_for_the_search(at, small)
    assert time.monotonic() - began < 100
    assert "visits placed" in words(at)
    at.button(key="schedule-drop").click().run()
    assert solving.proposal(small) is None
    assert not at.exception


def test_that_a_search_is_stopping_stays_said(opened: Open, small: Path):
    own = psutil.Process()
    note = {"pid": own.pid, "began": own.create_time(), "what": "pack", "seconds": 1e9, "is_stopping": True}
    (small / ".testday").mkdir(exist_ok=True)
    (small / ".testday" / solving.RUNNING).write_text(json.dumps(note), "utf-8")
    at = opened(planned=False)
    for _ in range(2):
        assert "Stopping. The best plan so far is checked and kept." in words(at)
        assert not at.button
        at.run()


def test_the_plan_in_force_is_played_and_its_chances_told(opened: Open, small: Path):
    at = unfold(opened(), "schedule-more-odds")
    at.button(key="schedule-play").click().run()
    assert not at.exception
    finished(small)
    again = unfold(opened(planned=False), "schedule-more-odds")
    assert "All time points are on time in" in words(again)
    rows = next(one.value for one in again.table if "Alone in the laboratory" in one.value)
    assert len(rows) == read_plan(in_force(small), read_study(small)).placed


def test_what_is_asked_under_more_goes_to_the_search(opened: Open, monkeypatch: pytest.MonkeyPatch):
    given: list[list[str]] = []
    monkeypatch.setattr(solving, "start", lambda folder, what, words, seconds, **more: given.append(words))
    at = unfold(opened(), "schedule-more-how")
    at.selectbox(key="schedule-on-time").set_value("90%").run()
    at.checkbox(key="schedule-learned").check().run()
    at.session_state["schedule-more-how"] = False  # what was asked stays when the fold is closed
    at.run()
    at.button(key="schedule-pack").click().run()
    assert given[0][given[0].index("--on-time") + 1] == "90%"
    assert "--learned" in given[0]


def test_places_a_day_are_counted_and_said(opened: Open, small: Path):
    at = opened()
    at.slider(key="schedule-capacity-seconds").set_value(20)
    at.button(key="schedule-capacity").click().run()
    assert not at.exception
    assert at.button(key="schedule-stop").label == "Stop; everything stays as it is"
    at = wait_for_the_search(at, small)
    assert not at.exception
    answer = solving.answered(small, "capacity.json")
    assert answer is not None
    assert f"As it is: {answer['lines'][0]['found']}" in words(at)
    assert in_force(small) is not None


def test_what_was_not_decided_is_not_called_impossible(opened: Open, small: Path):
    plan = read_plan(PLAN, read_study(small))
    open_end = replace(plan.stages[0], status=Outcome.FEASIBLE)
    reason = Reason("placed 5 of 6; more than 6 cannot fit; between, not decided in the time")
    put_in_force(small, replace(plan, stages=(open_end, *plan.stages[1:]), reasons=(reason,)))
    at = opened(planned=False)
    assert "Not decided in the time; known so far" in words(at)
    assert "cannot all be met" not in words(at)


def test_what_is_impossible_says_why_and_where_to_mend_it(opened: Open, small: Path):
    path = small / "study.yaml"
    path.write_text(text_in(path).replace("to: 2027-03-05", "to: 2027-03-02"), encoding="utf-8")
    at = opened(planned=False)
    at.slider(key="schedule-seconds").set_value(20)
    at.button(key="schedule-pack").click().run()
    at = wait_for_the_search(at, small)
    assert "These demands cannot all be met." in words(at)
    assert at.warning
    mend = [button for button in at.button if str(button.key).startswith("schedule-mend-")]
    assert {button.label for button in mend} == {"Mend it: Study page"}
    assert len(mend) == len(at.warning), "the same demands stand there once, for all whom they hold for"
    mend[0].click().run()
    assert not at.exception
    assert at.title[0].value == "Who comes, and with what?"


def test_a_reason_leads_to_the_table_where_it_can_be_mended(opened: Open, small: Path):
    plan = read_plan(PLAN, read_study(small))
    reasons = (Reason("shift of K1", "shifts.csv", 2), Reason("cannot be met"))
    put_in_force(small, replace(plan, reasons=reasons))
    at = opened(planned=False)
    at.button(key="schedule-mend-0-0").click().run()
    assert not at.exception
    assert at.session_state["study-view"] == "Shifts"


def test_a_plan_that_the_files_left_behind_is_shown_and_not_played(opened: Open, small: Path):
    """The answer of a refused count holds mistakes, and no chances."""
    opened()
    (small / "staff.csv").write_text(
        (small / "staff.csv").read_text("utf-8").replace("K3,lead;cheek support", "K3,cheek support"), "utf-8"
    )
    at = unfold(opened(planned=False), "schedule-more-odds")
    at.button(key="schedule-play").click().run()
    finished(small)
    again = unfold(opened(planned=False), "schedule-more-odds")
    said = "\n".join(str(one.value) for one in again.error)
    assert "This plan was not played." in said
    assert "K3" in said


def test_a_plan_of_other_visits_is_told_and_can_be_made_anew(opened: Open, small: Path):
    """The picture fell over where the new plan is to be made."""
    opened()
    protocol = small / "practice.yaml"
    protocol.write_text(protocol.read_text("utf-8").replace("id: welcome", "id: greeting"), "utf-8")
    at = opened(planned=False)
    assert "are not those that the study asks for" in "\n".join(str(one.value) for one in at.error)
    assert at.button(key="schedule-pack")
