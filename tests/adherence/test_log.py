"""The deviation log: every deviation a row, reasons that stay, no formula in a spreadsheet."""

import csv

from planner.adherence.compare import compare
from planner.adherence.log import COLUMNS, log_rows, read_explained, write_log


def bent(by_hand, note="=1+1"):
    visit = by_hand.kept()
    visit.shift(("after", 60, "fvc"), 65)
    visit.shift(("after", 60, "mep"), 65)
    visit.notes["after", 60, "fvc", 1] = note
    visit.efforts["row", 300, "mep"].pop()
    return visit


def judged(by_hand, visit):
    return compare(by_hand.study, by_hand.schedule, by_hand.happened_of(visit))


def read(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_row_a_deviation(by_hand):
    rows = log_rows(judged(by_hand, bent(by_hand)))
    assert [(r["what"], r["where"], r["size"], r["unit"], r["important"]) for r in rows] == [
        ("time point late", "after, 1 min, fvc", "35", "s", "important"),
        ("missing efforts", "row, 5 min, mep", "-1", "efforts", ""),
    ]
    assert rows[0]["when"] == "2027-03-01T09:41:05-04:00"
    assert rows[0]["participant"] == "ROW-01"
    assert rows[0]["visit"] == "rowing/1"
    assert "cold" not in str(rows)
    assert "mild" not in str(rows)


def test_text_that_a_spreadsheet_would_reckon_gets_an_apostrophe(by_hand, tmp_path):
    path = tmp_path / "deviations.csv"
    assert write_log(judged(by_hand, bent(by_hand)), path) == 2
    first, second = read(path)
    assert first["note"] == "'=1+1"
    assert second["size"] == "-1"
    assert tuple(first) == COLUMNS


def test_reasons_written_into_the_log_stay(by_hand, tmp_path):
    path = tmp_path / "deviations.csv"
    write_log(judged(by_hand, bent(by_hand)), path)
    rows = read(path)
    rows[0] |= {"reason": "the mouthpiece had to be changed", "who": "K2"}
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerows(rows)
    assert len(read_explained(path)) == 1
    assert write_log(judged(by_hand, bent(by_hand)), path) == 2
    assert [row["reason"] for row in read(path)] == ["the mouthpiece had to be changed", ""]
    assert read(path)[0]["note"] == "'=1+1"


def test_a_reason_outlives_its_deviation(by_hand, tmp_path):
    path = tmp_path / "deviations.csv"
    write_log(judged(by_hand, bent(by_hand)), path)
    rows = read(path)
    rows[0]["reason"] = "a wrong time was written down"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerows(rows)
    for _ in range(2):
        assert write_log(judged(by_hand, by_hand.kept()), path) == 1
    (row,) = read(path)
    assert row["reason"] == "a wrong time was written down"
    assert row["words"].startswith("no longer found: 2 min 5 s after row")
    assert row["words"].count("no longer found") == 1


def test_no_plan_no_row(by_hand):
    assert log_rows(judged(by_hand, by_hand.kept())) == []
