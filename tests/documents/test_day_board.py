"""The day on the wall."""

import io
from dataclasses import replace
from datetime import date

import pypdf
import pytest

from planner.clock import Interval
from planner.documents.day_board import (
    _Above,
    _once_where_bars_touch,
    board_words,
    day_board,
    day_board_values,
    letters_of,
)

DAY = date(2027, 3, 1)


@pytest.fixture
def busy_day(make):
    protocol = make.rowing_protocol()
    names = tuple(f"ROW-{n:02}" for n in range(1, 7))
    visits = [make.placed(protocol, make.at(8 + n, 10), participant=name) for n, name in enumerate(names)]
    return make.study({protocol.file: protocol}, participants=names), make.schedule(visits)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_it_is_one_landscape_page(busy_day, paper):
    (page,) = pypdf.PdfReader(io.BytesIO(day_board(*busy_day, DAY, paper=paper))).pages
    assert page.mediabox.width > page.mediabox.height


def test_every_rig_and_person_has_a_row_and_every_quarter_a_line(busy_day):
    values = day_board_values(*busy_day, DAY)
    assert [row["label"] for group in values["groups"] for row in group["rows"]] == [
        "S1",
        "S2",
        "M1",
        "E1",
        "K1",
        "K2",
    ]
    # from 08:00, the check of S1, to 15:00, after the last visit's end at 14:29
    assert len(values["ticks"]) == 7 * 4 + 1
    assert [name for _, name, minute in values["ticks"] if minute == 0] == [
        f"{hour:02}:00" for hour in range(8, 16)
    ]


def test_bars_stand_where_the_clock_says(busy_day):
    values = day_board_values(*busy_day, DAY)
    ergometer = next(r for r in values["groups"][0]["rows"] if r["label"] == "E1")
    bout = next(bar for bar in ergometer["bars"] if bar["kind"] == "exercise")
    # the first visit starts 08:10; rowing 15 min 15 s later, for 20 min; 7 hours on the scale
    start = (10 * 60 + 915) / (7 * 3600) * values["width"]
    assert bout["left"] == pytest.approx(start, abs=0.01)
    assert bout["right"] - bout["left"] == pytest.approx(1200 / (7 * 3600) * values["width"], abs=0.02)
    assert bout["letter"] == "A"


def test_letters_follow_arrival_and_are_explained(busy_day):
    study, schedule = busy_day
    assert letters_of(schedule, DAY)["ROW-03"] == "C"
    assert day_board_values(study, schedule, DAY)["letters"][2] == ["C", "ROW-03", "rowing 2", "10:10–11:29"]


def test_breaks_are_drawn(busy_day):
    person = day_board_values(*busy_day, DAY)["groups"][1]["rows"][0]
    assert [gap["words"] for gap in person["gaps"]] == ["break"]


def test_a_person_is_not_here_and_a_device_out_of_use(busy_day, make):
    study, schedule = busy_day
    away = (Interval(make.at(9), make.at(11)),)
    people = tuple(replace(person, absent=away) for person in study.people)
    rigs = tuple(replace(rig, out=away) for rig in study.rigs)
    devices, staff = day_board_values(replace(study, people=people, rigs=rigs), schedule, DAY)["groups"]
    assert {row["gaps"][0]["words"] for row in devices["rows"]} == {"out of use"}
    assert {row["gaps"][0]["words"] for row in staff["rows"]} == {"absent"}


def test_the_picture_has_words(busy_day):
    words = board_words(*busy_day, DAY)
    assert words.startswith(
        "Monday 1 March 2027: 6 visits. ROW-01, rowing 2, from 08:10 to 09:29, devices E1, M1, S1"
    )


def test_letters_above_bars_never_overlap():
    above = _Above()
    placed = [above.place(letter, left) for letter, left in (("A", 0.0), ("B", 1.0), ("B", 2.0), ("C", 30.0))]
    assert placed == [("A", 0.0), ("B", 4.6), ("", 0.0), ("C", 30.0)]


def test_a_letter_stands_inside_a_bar_only_where_it_has_room(busy_day):
    """A letter as wide as its bar touches its edges, and two such side by side read as one word."""
    rows = [row for group in day_board_values(*busy_day, DAY)["groups"] for row in group["rows"]]
    bars = [bar for row in rows for bar in row["bars"] if bar["letter"]]
    assert any(bar["inside"] for bar in bars)
    assert any(not bar["inside"] for bar in bars)
    assert all(bar["right"] - bar["left"] >= 6 for bar in bars if bar["inside"])


def test_one_letter_is_enough_for_bars_of_one_participant_that_touch():
    def bar(letter: str, left: float, right: float) -> dict[str, object]:
        return {"letter": letter, "left": left, "right": right, "inside": True}

    bars = [bar("A", 0, 7), bar("A", 7.2, 14), bar("A", 14, 40), bar("B", 40, 47), bar("B", 48, 55)]
    _once_where_bars_touch(bars)
    assert [one["letter"] for one in bars] == ["A", "", "A", "B", "B"]


def test_a_closed_day_without_visits_says_so(busy_day):
    with pytest.raises(ValueError, match="closed"):
        day_board(*busy_day, date(2027, 3, 6))
