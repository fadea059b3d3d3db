"""The day on the wall."""

import io
from datetime import date

import pypdf
import pytest

from planner.documents.day_board import _Above, board_words, day_board, day_board_values, letters_of

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


def test_the_picture_has_words(busy_day):
    words = board_words(*busy_day, DAY)
    assert words.startswith(
        "Monday 1 March 2027: 6 visits. ROW-01, rowing 2, from 08:10 to 09:29, devices E1, M1, S1"
    )


def test_letters_above_bars_never_overlap():
    above = _Above()
    placed = [above.place(letter, left) for letter, left in (("A", 0.0), ("B", 1.0), ("B", 2.0), ("C", 30.0))]
    assert placed == [("A", 0.0), ("B", 4.6), ("", 0.0), ("C", 30.0)]


def test_a_closed_day_without_visits_says_so(busy_day):
    with pytest.raises(ValueError, match="closed"):
        day_board(*busy_day, date(2027, 3, 6))
