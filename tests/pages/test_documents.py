"""The Documents page as a person sees it: every paper as it will print."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from planner.documents.jobs import Kind


@pytest.fixture
def opened(open_small: Callable[..., AppTest]) -> Callable[..., AppTest]:
    """Opens the page on the small study."""
    return partial(open_small, "documents", "What do people hold in their hands?")


def kinds(at: AppTest) -> list[str]:
    return list(at.radio(key="documents-kind").options)


def choose(at: AppTest, kind: Kind) -> AppTest:
    return at.radio(key="documents-kind").set_value(kind).run()


def papers(at: AppTest, kind: Kind) -> list[str]:
    """The words of all papers of that kind, where there are several."""
    choose(at, kind)
    return list(at.selectbox(key=f"documents-{kind}").options)


def test_without_a_plan_it_says_where_to_make_one(opened: Callable[..., AppTest]):
    assert "Make one on the Schedule page" in opened(planned=False).info[0].value


def test_a_day_has_its_papers_and_shows_the_first_as_it_prints(opened: Callable[..., AppTest]):
    at = opened()
    assert at.selectbox(key="documents-day").value.isoformat() == "2027-03-01"
    assert kinds(at) == [
        "Run sheets (2)", "Day boards", "Sheets for staff", "Sheets for devices", "Kit lists",
        "Workbook of the plan", "Ethics text",
    ]  # fmt: skip
    assert papers(at, Kind.RUN_SHEET)[0] == "ROW-01, practice, Mon 01 Mar 08:05"
    assert len(at.get("image")) >= 1
    assert any("Download" in str(button.proto.label) for button in at.get("download_button"))


def test_one_participant_gets_theirs_alone(opened: Callable[..., AppTest]):
    at = opened()
    at.selectbox(key="documents-for").set_value("ROW-01")
    at.selectbox(key="documents-day").set_value(None).run()
    assert not at.exception
    assert kinds(at) == ["Run sheets (3)", "Leaflets", "Calendars"]
    assert all(words.startswith("ROW-01, ") for words in papers(at, Kind.RUN_SHEET))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_kind_of_paper_can_be_looked_at(opened: Callable[..., AppTest], paper: str):
    at = opened()
    at.radio(key="documents-paper").set_value(paper).run()
    for kind in (Kind.RUN_SHEET, Kind.DAY_BOARD, Kind.PERSON_SHEET, Kind.RIG_SHEET):
        choose(at, kind)
        assert not at.exception, kind
        assert at.get("image"), kind


def test_the_ethics_text_is_read_on_the_page_whatever_the_day(opened: Callable[..., AppTest]):
    at = choose(opened(), Kind.ETHICS)
    text = "\n".join(str(block.value) for block in at.markdown)
    assert "### Stopping" in text
    assert "A participant may stop at any time" in text
    assert "Worst case" in text
    burden = next(table.value for table in at.table if next(iter(table.value)) == "Visit")  # on its side
    most = burden[burden["Visit"] == "Maximal efforts: most"]
    assert most["All visits of one participant"].item() == "52"  # 6, 23 and 23, as the protocols have it


def test_the_ethics_text_is_handed_out_for_a_text_processor_and_as_pages(opened: Callable[..., AppTest]):
    at = opened(kind="ethics")
    labels = [str(button.proto.label) for button in at.get("download_button")]
    assert labels == ["Download ethics-text.docx", "Download ethics-text.pdf"]


def test_an_address_opens_a_kind_of_paper_and_its_size(opened: Callable[..., AppTest]):
    at = opened(kind="day-board", paper="letter")
    assert at.radio(key="documents-kind").value == Kind.DAY_BOARD
    assert at.radio(key="documents-paper").value == "Letter"
    other = opened(kind="nonsense", paper="a0")
    assert other.radio(key="documents-kind").value == Kind.RUN_SHEET
    assert other.radio(key="documents-paper").value == "A4"


def test_what_is_looked_at_stands_in_the_address_and_for_whom_never(opened: Callable[..., AppTest]):
    at = choose(opened(), Kind.ETHICS)
    at.radio(key="documents-paper").set_value("Letter").run()
    assert dict(at.query_params) == {"day": "2027-03-01", "kind": "ethics", "paper": "letter"}
    at.selectbox(key="documents-for").set_value("ROW-01").run()
    choose(at, Kind.RUN_SHEET)
    assert "ROW-01" not in repr(dict(at.query_params))


def test_another_choice_shows_what_it_has(opened: Callable[..., AppTest]):
    at = choose(opened(), Kind.ETHICS)
    at.selectbox(key="documents-for").set_value("ROW-02").run()  # who has no ethics text
    assert not at.exception
    assert at.radio(key="documents-kind").value == Kind.RUN_SHEET
    assert at.get("image")
    at.selectbox(key="documents-day").set_value(None).run()
    assert len(papers(at, Kind.RUN_SHEET)) == 3
    at.selectbox(key=f"documents-{Kind.RUN_SHEET}").select_index(2).run()
    at.selectbox(key="documents-day").select_index(1).run()  # a day on which that one is not
    assert not at.exception
    assert at.get("image")


def test_tables_and_calendars_are_shown_as_rows(opened: Callable[..., AppTest]):
    at = choose(opened(), Kind.KIT_LIST)
    assert list(at.dataframe[0].value.columns)[:2] == ["Date", "Thing"]
    assert at.dataframe[0].value.iloc[0]["Thing"] == "filter"
    choose(at, Kind.WORKBOOK)
    at.selectbox(key="documents-sheet").set_value("Visits").run()
    assert list(at.dataframe[0].value["Participant"])[:2] == ["ROW-01", "ROW-02"]
    at.selectbox(key="documents-day").set_value(None).run()
    choose(at, Kind.CALENDAR)
    assert list(at.dataframe[0].value.columns) == ["Starts", "Ends", "What"]


def test_an_address_opens_a_day(opened: Callable[..., AppTest]):
    at = opened(day="2027-03-04")
    assert at.selectbox(key="documents-day").value.isoformat() == "2027-03-04"
    at.selectbox(key="documents-day").set_value(None).run()
    assert at.query_params["day"] in ("all", ["all"])
    assert opened(day="nonsense").selectbox(key="documents-day").value.isoformat() == "2027-03-01"


def test_no_name_of_a_paper_holds_a_blind_condition(opened: Callable[..., AppTest]):
    at = opened()
    at.selectbox(key="documents-day").set_value(None).run()
    for kind in (Kind.RUN_SHEET, Kind.CALENDAR, Kind.LEAFLET):
        assert not any("cold" in words or "mild" in words for words in papers(at, kind))


def test_all_papers_come_in_one_archive(opened: Callable[..., AppTest]):
    at = opened()
    at.button(key="documents-make").click().run()
    assert not at.exception
    labels = [str(button.proto.label) for button in at.get("download_button")]
    assert "Download them (zip)" in labels


def test_two_versions_of_a_protocol_are_compared(opened: Callable[..., AppTest], small: Path):
    at = opened()
    assert not at.file_uploader, "what is rare is drawn where it is asked for"
    at.session_state["documents-more-versions"] = True
    at.run()
    now = (small / "rowing.yaml").read_text("utf-8")
    for older, said in ((now, "Nothing changed."), (now.replace("takes: 12 min", "takes: 15 min"), "15 min")):
        at.file_uploader(key="documents-old").set_value(("rowing-1.yaml", older.encode(), "text/yaml"))
        at.selectbox(key="documents-new").set_value("rowing.yaml").run()
        assert not at.exception
        assert any(said in str(block.value) for block in at.markdown), said


def _edit(folder: Path, name: str, old: str, new: str) -> None:
    text = (folder / name).read_text("utf-8")
    assert old in text
    (folder / name).write_text(text.replace(old, new), encoding="utf-8")


def test_a_plan_of_other_visits_is_told_and_nothing_is_printed_of_it(
    opened: Callable[..., AppTest], small: Path
):
    opened()
    for name in ("participants.csv", "availability.csv"):
        lines = (small / name).read_text("utf-8").splitlines(keepends=True)
        (small / name).write_text("".join(one for one in lines if "ROW-02" not in one), encoding="utf-8")
    at = opened(planned=False)
    said = " ".join(one.value for one in at.error)
    assert "are not those that the study asks for" in said
    assert "ROW-02" in said
    assert not at.selectbox


def test_a_plan_that_breaks_rules_now_is_warned_of_and_shown(opened: Callable[..., AppTest], small: Path):
    opened()
    _edit(small, "staff.csv", "K3,lead;cheek support", "K3,cheek support")
    at = opened(planned=False)
    said = " ".join(one.value for one in at.warning)
    assert "breaks rules of the study as its files stand now" in said
    assert "K3" in said
    assert at.selectbox(key="documents-for")


def test_files_that_changed_without_harm_are_warned_of(opened: Callable[..., AppTest], small: Path):
    assert "Files changed" not in " ".join(one.value for one in opened().warning)
    _edit(small, "practice.yaml", "Stop when the participant asks to.", "Stop when asked to.")
    at = opened(planned=False)
    assert "Files changed since this plan was made. It breaks no rule." in [one.value for one in at.warning]
    assert at.selectbox(key="documents-for")
