"""Somebody who replaces a participant takes that one's orders of conditions."""

import pytest

from planner.faults import FaultyInput


def sequence(study, code):
    return [visit.condition for visit in study.asked[code] if visit.condition]


def add(folder, text):
    path = folder.path / "participants.csv"
    path.write_text(text, encoding="utf-8")
    return folder.study()


def test_a_newcomer_takes_the_sequence_of_the_one_replaced_and_nobody_elses_moves(folder):
    before = folder.study()
    more = "".join(f"ROW-0{n},{old}\n" for n, old in ((3, "ROW-02"), (4, "ROW-03"), (5, ""), (6, "")))
    study = add(folder, "participant,replaces\nROW-01,\nROW-02,\n" + more)
    for code in ("ROW-01", "ROW-02"):
        assert sequence(study, code) == sequence(before, code)
    assert sequence(study, "ROW-03") == sequence(before, "ROW-02")
    assert sequence(study, "ROW-04") == sequence(before, "ROW-02"), "replaces who replaced ROW-02"
    assert sorted(map(tuple, (sequence(study, "ROW-05"), sequence(study, "ROW-06")))) == sorted(
        map(tuple, (sequence(study, "ROW-01"), sequence(study, "ROW-02")))
    ), "the next two are dealt as if nobody had been replaced"


def test_a_newcomer_has_no_line_in_a_table_of_orders(folder):
    folder.replace("study.yaml", "order: balanced", "order: orders.csv")
    (folder.path / "orders.csv").write_text(
        "participant,sequence\nROW-01,mild air;cold air\nROW-02,cold air;mild air\n", encoding="utf-8"
    )
    study = add(folder, "participant,replaces\nROW-01,\nROW-02,\nROW-03,ROW-02\n")
    assert sequence(study, "ROW-03") == ["cold air", "mild air"]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("ROW-01,,\nROW-02,ROW-09,\n", "there is no participant 'ROW-09'"),
        ("ROW-01,,\nROW-02,ROW-02,\n", "ROW-02 replaces ROW-02"),
        ("ROW-01,ROW-02,\nROW-02,ROW-01,\n", "who replaces ROW-02"),
        ("ROW-01,,a\nROW-02,ROW-01,b\n", "who is in another group"),
    ],
)
def test_who_replaces_whom_must_make_sense(folder, rows, words):
    with pytest.raises(FaultyInput) as refused:
        add(folder, "participant,replaces,group\n" + rows)
    found = [fault for fault in refused.value.faults if words in fault.message]
    assert found
    assert found[0].place.file == "participants.csv"
