"""A study with texts that are not saved yet says what the saved one would, and touches nothing."""

from __future__ import annotations

import pytest

from planner.faults import FaultyInput
from planner.study.read import read_study
from planner.study.trial import read_trial


def test_without_texts_it_is_the_study_itself(small, demo):
    for folder in (small, demo):
        study, trial = read_study(folder), read_trial(folder, {})
        assert (trial.participants, trial.people, trial.fingerprint) == (
            study.participants,
            study.people,
            study.fingerprint,
        )


def test_a_text_stands_for_the_file_which_stays(small):
    before = (small / "participants.csv").read_bytes()
    trial = read_trial(small, {"participants.csv": "participant\nROW-01\nROW-02\nROW-03\n"})
    assert trial.participants == ("ROW-01", "ROW-02", "ROW-03")
    assert (small / "participants.csv").read_bytes() == before


def test_a_mistake_in_a_text_has_its_place(small):
    with pytest.raises(FaultyInput) as error:
        read_trial(small, {"shifts.csv": "person,days,from,to\nK9,mon,8:00,12:00\n"})
    assert {(fault.place.file, fault.place.line) for fault in error.value.faults} >= {("shifts.csv", 2)}


def test_an_empty_folder_has_its_fault(tmp_path):
    with pytest.raises(FaultyInput, match=r"no file study\.yaml"):
        read_trial(tmp_path, {})
