"""How times, amounts and visits are written."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.documents.names import day_name, own_name, run_sheet_name
from planner.documents.shown import (
    date_words,
    hhmm,
    length_words,
    minutes_words,
    placed_words,
    standing_words,
)


def test_clock_times_are_cut(make):
    assert hhmm(make.at(9, 3) + timedelta(seconds=59)) == "09:03"


def test_dates_are_in_the_language_of_the_texts():
    assert date_words(date(2027, 3, 1)) == "Monday 1 March 2027"


@pytest.mark.parametrize(
    ("seconds", "words"), [(0, "0 min"), (1, "1 min"), (3600, "1 h"), (3661, "1 h 2 min")]
)
def test_minutes_are_rounded_up(seconds, words):
    assert minutes_words(seconds).replace("\u00a0", " ") == words


def test_lengths_do_not_break():
    assert length_words(5400) == "1\u00a0h\u00a030\u00a0min"


def test_a_blind_visit_has_a_number_and_an_open_one_its_condition(make):
    protocol = make.rowing_protocol()
    visit = make.placed(protocol, make.at(9))
    assert placed_words(make.study({protocol.file: protocol}, blind=True), visit) == "rowing 2"
    assert placed_words(make.study({protocol.file: protocol}, blind=False), visit) == "rowing 2: cold air"


def test_names_of_files(make):
    visit = make.placed(make.rowing_protocol(), make.at(9))
    assert run_sheet_name(visit) == "run-sheet_2027-03-01_ROW-07_rowing-2.pdf"
    assert day_name("day-board", date(2027, 3, 1)) == "day-board_2027-03-01.pdf"
    assert own_name("calendar", "rig_S1", "ics") == "calendar_rig_S1.ics"


def test_papers_say_that_the_files_changed_since_where_that_is_known(make):
    """A plan made elsewhere, or a study without files, says nothing of it."""
    protocol = make.rowing_protocol()
    study = replace(make.study({protocol.file: protocol}), fingerprint="now")
    schedule = make.schedule([make.placed(protocol, make.at(9))])
    for known, is_said in (("then", True), ("now", False), ("", False)):
        words = standing_words(study, replace(schedule, fingerprint=known))
        assert words.startswith("plan 3 of ")
        assert words.endswith("study files changed since") == is_said
    assert "changed" not in standing_words(replace(study, fingerprint=""), schedule)
