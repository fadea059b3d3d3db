"""Another device's columns: proposed by name, previewed, taken after a person has looked."""

from __future__ import annotations

import pytest

from planner.faults import FaultyInput
from planner.record.columns import Mapped, preview, propose, read_head, read_mapped
from planner.record.efforts_file import COLUMNS

FOREIGN = (
    "Subject ID,Session,Phase,Test,Trial,Start Time,Parameter,Result,Units,Comment\n"
    "ROW-01,rowing/1,before,fvc,1,2027-03-01T09:00:00,FVC,4.80,L,ok\n"
    "ROW-01,rowing/1,before,fvc,2,2027-03-01T09:00:50,FVC,high,L,\n"
)


@pytest.fixture
def foreign(study):
    path = study.folder / "device.csv"
    path.write_text(FOREIGN)
    return path


def test_our_own_columns_map_to_themselves():
    assert propose(COLUMNS).columns == {name: name for name in COLUMNS}


def test_other_words_are_understood(foreign):
    found = propose(read_head(foreign))
    assert found.columns["started"] == "Start Time"
    assert found.columns["value"] == "Result"
    assert found.columns["effort"] == "Trial"
    assert found.columns["note"] == "Comment"


def test_what_is_lacking_is_named_and_can_be_filled():
    assert propose(["Time", "Result"]).lacking == ("participant", "visit", "step")
    assert (
        Mapped({"started": "Time"}, {"participant": "ROW-01", "visit": "practice", "step": "learn"}).lacking
        == ()
    )


def test_no_column_is_used_twice():
    found = propose(["time", "time point", "timestamp", "value"])
    assert len(set(found.columns.values())) == len(found.columns)


def test_the_preview_shows_what_would_be_taken(study, foreign):
    mapped = propose(read_head(foreign))
    if "participant" not in mapped.columns:
        mapped = Mapped({**mapped.columns, "participant": "Subject ID"})
    file = read_mapped(foreign, study, mapped)
    first, second = preview(file)
    assert first == (1, "ROW-01 rowing before fvc effort 1 FVC 4.80 L at 2027-03-01 09:00:00")
    assert second[0] == 2
    assert second[1].startswith("refused: FVC: 'high' is not a number")


def test_a_fixed_value_stands_for_a_column_that_is_not_there(study):
    path = study.folder / "device.csv"
    path.write_text("time,FVC\n2027-03-01T09:00:00,4.8\n")
    fixed = {"participant": "ROW-01", "visit": "rowing/1", "step": "before", "manoeuvre": "fvc",
             "effort": "1", "reading": "FVC", "unit": "L"}  # fmt: skip
    file = read_mapped(path, study, Mapped({"started": "time", "value": "FVC"}, fixed))
    assert len(file.lines) == 1


@pytest.mark.parametrize(("said", "accepted"), [("TRUE", True), ("0", False), ("No", False), ("", True)])
def test_other_ways_to_say_yes_and_no(study, said, accepted):
    path = study.folder / "device.csv"
    head = [*COLUMNS[:-1]]
    row = ["ROW-01", "rowing/1", "before", "", "fvc", "1", "2027-03-01T09:00", "FVC", "4.8", "L", said]
    path.write_text(",".join(head) + "\n" + ",".join(row) + "\n")
    (line,) = read_mapped(path, study, propose(head)).lines
    assert line.acceptable is accepted


def test_what_cannot_be_read_is_a_fault(study):
    path = study.folder / "device.csv"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FaultyInput):
        read_head(path)
