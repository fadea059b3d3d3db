"""What a study lacks, in the order in which to fill it in."""

from __future__ import annotations

from planner.study.missing import missing


def keys(folder, texts=None):
    return [one.key for one in missing(folder, texts or {})]


def test_a_whole_study_lacks_nothing(small, demo):
    assert keys(small) == []
    assert keys(demo) == []


def test_an_empty_folder_lacks_everything_in_order(tmp_path):
    wanted = ["format", "name", "time_zone", "days", "rigs", "staff", "shifts", "participants", "visits"]
    assert keys(tmp_path) == wanted


def test_a_table_without_a_line_is_missing_still(small):
    (small / "shifts.csv").unlink()
    assert keys(small, {"participants.csv": "participant\n"}) == ["shifts", "participants"]
    assert "no such file" in missing(small, {})[0].words


def test_a_protocol_that_is_not_there_is_named_once(small):
    (small / "rowing.yaml").unlink()
    (found,) = missing(small, {})
    assert found.key == "visits"
    assert "rowing.yaml" in found.words


def test_of_the_days_each_field_is_missing_by_itself(small):
    text = (small / "study.yaml").read_text("utf-8")
    (found,) = missing(small, {"study.yaml": text.replace("to: 2027-03-05, ", "")})
    assert (found.key, found.words) == ("days", "Say on which day it ends.")


def test_a_protocol_without_its_ending_is_told_how_to_write_it(small):
    text = (small / "study.yaml").read_text("utf-8").replace("rowing.yaml", "rowing")
    (found,) = missing(small, {"study.yaml": text})
    assert found.words == "Write the protocol's whole file name: rowing.yaml, not rowing."


def test_a_broken_study_file_counts_as_empty(tmp_path):
    (tmp_path / "study.yaml").write_text("a: [", "utf-8")
    assert keys(tmp_path)[0] == "format"
