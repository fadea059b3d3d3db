"""Tables for pages: a row for each thing found, whole seconds, no condition of a blind visit."""

import pandas as pd

from planner.adherence.compare import compare
from planner.adherence.groups import by_participant
from planner.adherence.learn import lessons
from planner.adherence.tables import (
    assumed_and_learned,
    blocks_table,
    deviations_in_words,
    deviations_table,
    efforts_table,
    groups_table,
    lessons_table,
    points_table,
    shares_in_words,
)


def tables(by_hand, visit):
    happened = by_hand.happened_of(visit)
    found = compare(by_hand.study, by_hand.schedule, happened)
    made = {
        "efforts": efforts_table(found),
        "points": points_table(found),
        "blocks": blocks_table(found),
        "deviations": deviations_table(found),
        "groups": groups_table(by_participant(found)),
        "lessons": lessons_table(lessons(by_hand.study, happened)),
    }
    return found, made


def test_every_row_is_there(by_hand):
    visit = by_hand.kept()
    visit.efforts["after", 60, "mep"].pop()
    found, made = tables(by_hand, visit)
    assert len(made["efforts"]) == len(found.efforts) == 22
    assert len(made["points"]) == 5
    assert len(made["blocks"]) == 7
    assert len(made["deviations"]) == 1
    assert made["groups"].to_dict("records")[0]["of"] == 5
    assert made["efforts"]["off_s"].dtype == pd.Int64Dtype()
    assert made["efforts"]["off_s"].isna().sum() == 1
    assert made["efforts"]["off_s"].sum() == 0
    assert set(made["points"]["kept"]) == {"on time"}


def test_no_condition_of_a_blind_visit(by_hand):
    _, made = tables(by_hand, by_hand.kept())
    everything = " ".join(table.to_csv() for table in made.values())
    assert "rowing/1" in everything
    assert "mild air" not in everything


def test_an_empty_record_has_empty_tables(by_hand):
    visit = by_hand.kept()
    visit.efforts, visit.marks = {}, {}
    _, made = tables(by_hand, visit)
    assert all(table.empty for table in made.values())


def test_what_is_assumed_and_learned_in_words(by_hand):
    table = assumed_and_learned(lessons(by_hand.study, by_hand.happened_of(by_hand.kept())), by_hand.study)
    (file,) = by_hand.study.protocols
    rest = table[
        (table["What"] == "rest between efforts")
        & (table["Of"] == by_hand.study.protocols[file].manoeuvres["mep"].title)
    ].iloc[0]
    assert (rest["Assumed"], rest["Learned"], rest["Recorded"], rest["Participants"]) == (
        "30 s",
        "30 s",
        8,
        1,
    )
    assert rest["Seen (95 % range)"] == "30 s (too few for a range)"
    assert "usual difference between efforts in FVC" in set(table["What"])


def test_shares_on_a_page_are_worded(by_hand):
    visit = by_hand.kept()
    found, _ = tables(by_hand, visit)
    (row,) = shares_in_words(by_participant(found), "Participant").to_dict("records")
    assert row == {
        "Participant": visit.key.participant,
        "On time": 5,
        "Of": 5,
        "Share (95 % range)": "100 % (57 to 100 %)",  # Wilson: 5 / (5 + 1.96 squared) = 0.566
    }


def test_deviations_on_a_page_have_no_empty_columns(by_hand):
    visit = by_hand.kept()
    visit.efforts["after", 60, "mep"].pop()
    found, _ = tables(by_hand, visit)
    table = deviations_in_words(found)
    assert list(table.columns[:3]) == ["Participant", "Visit", "Where"]
    assert "Reason" not in table
    assert not (table == "").all().any()
