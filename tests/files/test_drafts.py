"""Nothing that was typed is lost: drafts stay on disk, saving is whole, and every step can be taken back."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.files.drafts import Draft, text_in, write_text
from planner.files.shipped import shipped_protocols


def test_a_draft_outlives_who_typed_it(tmp_path: Path):
    file = tmp_path / "x.yaml"
    file.write_text("a: 1\n", "utf-8")
    Draft(tmp_path, file).change("a: 2\n")
    again = Draft(tmp_path, file)
    assert (again.text, again.is_changed, text_in(file)) == ("a: 2\n", True, "a: 1\n")
    again.save()
    assert (text_in(file), again.is_changed, again.text) == ("a: 2\n", False, "a: 2\n")


def test_undo_goes_back_through_a_save_too(tmp_path: Path):
    draft = Draft(tmp_path, tmp_path / "x.yaml")
    for text in ("1", "2", "3"):
        draft.change(text)
    draft.save()
    seen = []
    while draft.undo():
        seen.append(draft.text)
    assert seen == ["2", "1", ""]
    assert text_in(draft.path) == "3"
    assert not draft.can_undo()


def test_what_was_thrown_away_can_be_had_back(tmp_path: Path):
    draft = Draft(tmp_path, tmp_path / "x.yaml")
    draft.change("typed for an hour")
    draft.throw_away()
    assert draft.text == ""
    assert draft.undo()
    assert draft.text == "typed for an hour"


def test_a_file_that_somebody_else_changed_is_said_and_kept(tmp_path: Path):
    file = tmp_path / "x.yaml"
    file.write_text("old", "utf-8")
    draft = Draft(tmp_path, file)
    draft.change("mine")
    assert not draft.is_overtaken
    file.write_text("theirs", "utf-8")
    assert draft.is_overtaken
    draft.save()
    assert draft.undo()
    assert draft.text == "theirs"


def test_only_the_last_hundred_texts_are_kept(tmp_path: Path):
    draft = Draft(tmp_path, tmp_path / "x.yaml")
    for number in range(130):
        draft.change(str(number))
    assert len(list((tmp_path / ".testday" / "undo" / "x.yaml").iterdir())) == 100
    draft.undo()
    assert draft.text == "128"


def test_files_of_one_name_in_two_folders_have_drafts_of_their_own(tmp_path: Path):
    study = tmp_path / "study"
    study.mkdir()
    Draft(study, study / "x.yaml").change("near")
    Draft(study, tmp_path / "protocols" / "x.yaml").change("shared")
    assert Draft(study, study / "x.yaml").text == "near"


def test_a_damaged_draft_counts_as_none(tmp_path: Path):
    file = tmp_path / "x.yaml"
    file.write_text("a: 1\n", "utf-8")
    draft = Draft(tmp_path, file)
    draft.change("b: 1\n")
    (tmp_path / ".testday" / "drafts" / "x.yaml.json").write_text("{", "utf-8")
    assert draft.text == "a: 1\n"


def test_a_write_that_fails_leaves_the_file(tmp_path: Path):
    file = tmp_path / "x.yaml"
    write_text(file, "whole")
    with pytest.raises(UnicodeEncodeError):
        write_text(file, "\ud800")
    assert text_in(file) == "whole"
    assert [path.name for path in tmp_path.iterdir()] == ["x.yaml"]


def test_the_protocols_that_come_with_the_program_are_found():
    assert {"cold-air-rowing", "practice"} <= {path.stem for path in shipped_protocols()}
