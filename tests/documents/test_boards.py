"""Pictures of a schedule, and their words."""

from datetime import date

import pytest

from planner.documents.boards import day_chart, day_words, week_chart, week_words

DAY = date(2027, 3, 1)


@pytest.fixture
def week(make):
    protocol = make.rowing_protocol()
    names = ("ROW-07", "ROW-08")
    study = make.study({protocol.file: protocol}, participants=names)
    visits = [
        make.placed(protocol, make.at(9, 3)),
        make.placed(protocol, make.at(9, 30), participant="ROW-08"),
        make.placed(protocol, make.at(9, on=date(2027, 3, 3)), participant="ROW-08"),
    ]
    return make.schedule(visits), study


def values_of(chart):
    return (
        chart.to_dict()["layer"][0]["data"]["values"]
        if "data" in chart.to_dict()["layer"][0]
        else chart.to_dict()["data"]["values"]
    )


@pytest.mark.parametrize(
    ("by", "rows"),
    [("rig", {"S1", "M1", "E1"}), ("person", {"K1", "K2"}), ("participant", {"ROW-07", "ROW-08"})],
)
def test_a_day_has_its_rows(week, by, rows):
    assert {mark["row"] for mark in values_of(day_chart(*week, DAY, by=by))} == rows


def test_times_are_local_and_carry_no_zone(week):
    """A browser shows them in its own zone, so they are written as wall-clock times."""
    starts = {mark["start"] for mark in values_of(day_chart(*week, DAY, by="participant"))}
    assert "2027-03-01T09:03:00" in starts


def test_the_clock_has_24_hours(week):
    assert "%H:%M" in day_chart(*week, DAY).to_json()


def test_colours_never_stand_alone(week):
    """Every run of a participant has a letter; stretches that follow at once share it."""
    for by in ("rig", "person", "participant"):
        last = {}
        for mark in values_of(day_chart(*week, DAY, by=by)):
            if mark["strength"] < 0.5 or not mark["participant"]:
                continue
            before = last.get(mark["row"])
            follows = before and before["participant"] == mark["participant"]
            assert mark["letter"] or follows, mark
            last[mark["row"]] = mark


def test_no_blind_condition_in_a_picture(week):
    for by in ("rig", "person", "participant"):
        assert "cold air" not in day_chart(*week, DAY, by=by).to_json()
    assert "cold air" not in week_chart(*week, DAY).to_json()


def test_visits_that_overlap_lie_in_lanes(week):
    marks = [m for m in values_of(week_chart(*week, DAY)) if m["row"] == "Mon 1 Mar"]
    assert [mark["lane"] for mark in marks] == [0, 1]
    assert marks[0]["from"] == pytest.approx(9.05)


def test_the_words(week):
    assert day_words(*week, DAY, by="participant").startswith(
        "Monday 1 March 2027: 2 visits. ROW-07: ROW-07 09:03–09:13"
    )
    assert week_words(*week, DAY) == (
        "Week from Monday 1 March 2027: 3 visits. "
        "Monday 1 March 2027: ROW-07 rowing 2 09:03–10:22, ROW-08 rowing 2 09:30–10:49. "
        "Wednesday 3 March 2027: ROW-08 rowing 2 09:00–10:19."
    )
