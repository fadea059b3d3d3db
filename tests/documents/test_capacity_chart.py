"""How many can we take: picture and words of a count, worked out by hand."""

from __future__ import annotations

from planner.documents.capacity_chart import capacity_chart, capacity_words, places

LINES = (
    {"change": "as it is", "found": 9, "at_most": 9},
    {"change": "a second mouth-pressure meter", "found": 13, "at_most": 13},
    {"change": "a sixth person", "found": 9, "at_most": 9},
    {"change": "a third spirometer", "found": 9, "at_most": 11},
    {"change": "without K2", "found": 4, "at_most": 6},
)


def test_a_number_that_is_proven_stands_alone_and_one_that_is_not_as_a_range():
    assert [places(line) for line in LINES] == ["9", "13", "9", "9 to 11", "4 to 6"]


def test_the_words_say_what_each_change_makes_of_the_day():
    assert capacity_words(LINES) == (
        "As it is: 9 participants a day. a second mouth-pressure meter: 13 a day; a sixth person: nothing; "
        "a third spirometer: 9 to 11 a day; without K2: 4 to 6 a day."
    )


def test_the_same_range_is_no_proof_of_no_difference():
    unsure = (
        {"change": "as it is", "found": 8, "at_most": 10},
        {"change": "more", "found": 8, "at_most": 10},
    )
    assert "more: 8 to 10 a day, no difference found." in capacity_words(unsure)


def test_without_a_count_the_words_say_so():
    assert capacity_words(()) == "There is no open day and no visit to count places for."


def test_bars_reach_to_what_was_found_and_pale_ones_to_what_is_not_ruled_out():
    drawn = capacity_chart(LINES).to_dict()
    pale, solid, names = drawn["layer"]
    assert (solid["encoding"]["x"]["field"], pale["encoding"]["x2"]["field"]) == ("found", "most")
    assert pale["mark"]["opacity"] < 1
    assert names["encoding"]["text"]["field"] == "places"
    values = drawn["data"]["values"] if "data" in drawn else solid["data"]["values"]
    assert [(v["change"], v["found"], v["most"]) for v in values] == [
        (line["change"], line["found"], line["at_most"]) for line in LINES
    ]


def test_rows_stand_in_the_order_of_the_count():
    _, solid, _ = capacity_chart(LINES).to_dict()["layer"]
    assert solid["encoding"]["y"]["scale"]["domain"] == [line["change"] for line in LINES]


def test_numbers_stand_where_also_a_bar_of_no_length_begins():
    names = capacity_chart([{"change": "one bike fewer", "found": 0, "at_most": 17}]).to_dict()["layer"][2]
    assert names["encoding"]["x"] == {"value": 0}
    assert names["mark"]["align"] == "left"
