"""The Adherence page as a person sees it: nothing yet, a dry run marked as one, a real record."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from planner.record.rehearse import rehearse
from planner.record.store import open_store
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "tests" / "data" / "small-plan.json"


@pytest.fixture
def opened(small: Path, open_small: Callable[..., AppTest]) -> Callable[..., AppTest]:
    """Opens the page on the small study; rehearsed if asked."""

    def open_it(*, rehearsed: bool = True, left_out: int = 0) -> AppTest:
        if rehearsed:
            study = read_study(small)
            lines = rehearse(study, read_plan(PLAN, study), visit_plans(study), seed=7)
            lines = lines[: len(lines) - left_out]
            with open_store(study, rehearsed=True) as store:
                store.take(lines, by="K1")
        return open_small("adherence", "Was the plan kept?")

    return open_it


def words(at: AppTest) -> str:
    return "\n".join(str(block.value) for block in at.markdown)


def test_an_empty_record_says_what_fills_it(opened: Callable[..., AppTest]):
    assert "Nothing is recorded yet." in opened(rehearsed=False).info[0].value


def test_a_dry_run_is_marked_on_the_page(opened: Callable[..., AppTest]):
    at = opened()
    assert any("Dry run with made-up numbers." in str(one.value) for one in at.warning)
    assert "95 % range" in words(at) or "95 %" in words(at)


def test_every_picture_is_one_choice_away_with_its_words(opened: Callable[..., AppTest]):
    at = opened()
    group = at.segmented_control if hasattr(at, "segmented_control") else at.button_group
    titles = list(group(key="adherence-picture").options)
    assert len(titles) >= 3
    for title in titles:
        content = title.content if hasattr(title, "content") else str(title)
        group(key="adherence-picture").set_value(content).run()
        assert not at.exception, content
        assert at.get("vega_lite_chart") or at.get("arrow_vega_lite_chart"), content


def test_the_numbers_of_a_picture_are_a_fold_below_it_and_how_to_read_it_is_not(
    opened: Callable[..., AppTest],
):
    """Twenty sentences of numbers stood between the picture and what was counted."""
    at = opened()
    folded = [one for one in at.expander if one.label == "The picture in words"]
    assert folded
    inside = [str(block.value) for one in folded for block in one.markdown]
    assert any("on time" in text for text in inside)
    assert "A row for each time point" in words(at)
    assert not any("A row for each time point" in text for text in inside)


def test_shares_by_staff_are_off_until_they_are_turned_on(opened: Callable[..., AppTest]):
    at = opened()
    assert at.toggle(key="adherence-staff").value is False
    before = len(at.dataframe)
    at.toggle(key="adherence-staff").set_value(True).run()
    assert not at.exception
    assert len(at.dataframe) == before + 1


def test_devices_and_people_are_told_and_nobody_is_named_unless_turned_on(opened: Callable[..., AppTest]):
    at = opened()
    assert "Measures on the planned device" in words(at)
    assert "Measures by the planned people: none to judge" in words(at)  # a file says nothing of who served


def test_what_was_learned_is_shown_with_what_cannot_be(opened: Callable[..., AppTest]):
    at = opened()
    assert "when efforts begin, not when they end" in words(at)
    at.toggle(key="adherence-scores").set_value(True).run()
    assert not at.exception
    for _ in range(2):  # it stays, whatever is done next
        assert "earlier visits" in words(at) or "No later visits" in words(at)
        at.run()


@pytest.mark.parametrize("by", ["time point", "participant", "device", "week"])
def test_shares_come_by_one_thing_at_a_time(opened: Callable[..., AppTest], by: str):
    at = opened()
    at.selectbox(key="adherence-by").set_value(by).run()
    assert not at.exception
    assert len(at.dataframe[0].value)


def test_one_visit_is_seen_planned_and_kept(opened: Callable[..., AppTest]):
    at = opened()
    visits = at.selectbox(key="adherence-visit")
    assert len(visits.options) == 6
    assert visits.options[0].startswith("1: ROW-")
    visits.set_value(4).run()
    assert not at.exception


def test_no_blind_condition_is_on_the_page(opened: Callable[..., AppTest]):
    at = opened()
    shown = " ".join(str(element.proto) for element in at.main)
    assert "cold air" not in shown


def test_deviations_are_listed_and_the_report_and_the_log_can_be_downloaded(opened: Callable[..., AppTest]):
    at = opened(left_out=8)
    assert "Deviations" in [one.value for one in at.subheader]
    labels = [str(button.proto.label) for button in at.get("download_button")]
    assert "Report for the meeting (PDF)" in labels
    assert "Deviation log (CSV)" in labels
