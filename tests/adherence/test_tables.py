"""Tables for pages: a row for each thing found, whole seconds, no condition of a blind visit."""

import pandas as pd

from planner.adherence.compare import compare
from planner.adherence.groups import by_participant
from planner.adherence.learn import lessons
from planner.adherence.tables import (
    blocks_table,
    deviations_table,
    efforts_table,
    groups_table,
    lessons_table,
    points_table,
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
