"""Single-use things, counted by hand."""

import io
from datetime import date
from itertools import pairwise

import openpyxl
import pytest

from planner.documents.kit import day_needs, kit_list, spares, study_needs, things_of

DAY = date(2027, 3, 1)


@pytest.fixture
def three(make):
    """Two visits on one day, one on the next, each with a spirometer and a mouth-pressure meter."""
    protocol = make.rowing_protocol()
    study = make.study({protocol.file: protocol}, participants=("ROW-07", "ROW-08"))
    visits = [
        make.placed(protocol, make.at(9), number=1),
        make.placed(protocol, make.at(13), participant="ROW-08", number=1),
        make.placed(protocol, make.at(9, on=date(2027, 3, 2))),
    ]
    return study, make.schedule(visits)


def test_one_of_each_for_each_visit_and_class_of_device(three):
    needs = {need.thing: need for need in day_needs(*three, DAY)}
    # per visit: mouthpiece and filter for each of two devices, a nose clip for the spirometer
    assert {thing: need.needed for thing, need in needs.items()} == {
        "filter": 4,
        "mouthpiece": 4,
        "nose clip": 2,
    }
    assert needs["filter"].spare == 2
    assert needs["filter"].take == 6


def test_the_study_is_the_sum_of_its_days(three):
    assert {need.thing: need.needed for need in study_needs(*three)} == {
        "filter": 6,
        "mouthpiece": 6,
        "nose clip": 3,
    }


def test_every_change_of_participant_counts_where_fresh_things_are_taken(make):
    protocol = make.rowing_protocol()
    study = make.study({protocol.file: protocol}, participants=("A", "B"))
    visits = [
        make.placed(protocol, make.at(9), participant="A"),
        make.placed(protocol, make.at(9, 25), participant="B"),
    ]
    schedule = make.schedule(visits)
    blocks = sorted(
        (a.start.timestamp(), v.participant)
        for v in visits
        for a in v.activities
        if a.rigs == ("S1",) and a.manoeuvre
    )
    changes = 1 + sum(one[1] != other[1] for one, other in pairwise(blocks))
    assert next(n for n in day_needs(study, schedule, DAY) if n.thing == "nose clip").if_fresh == changes


def test_spares():
    assert [spares(n) for n in (1, 20, 21, 100)] == [2, 2, 3, 10]


def test_usual_things_where_the_protocol_names_none(make):
    protocol = make.rowing_protocol()
    assert things_of(protocol, make.manoeuvre(kit=())) == ("mouthpiece", "filter", "nose clip")
    assert things_of(protocol, make.mep(kit=())) == ("mouthpiece", "filter")
    assert things_of(protocol, make.manoeuvre("grip", title="Handgrip", readings={}, enough=(), kit=())) == ()


def test_the_file_has_both_tables(three):
    book = openpyxl.load_workbook(io.BytesIO(kit_list(*three)))
    assert book.sheetnames == ["Kit list, by day", "Kit list, whole study"]
    rows = list(book["Kit list, by day"].iter_rows(min_row=3, values_only=True))
    assert (str(rows[0][0])[:10], *rows[0][1:5]) == ("2027-03-01", "filter", 4, 2, 6)


def test_one_day_alone(three):
    book = openpyxl.load_workbook(io.BytesIO(kit_list(*three, DAY)))
    assert book.sheetnames == ["Kit list, by day"]
    assert len(list(book.active.iter_rows(min_row=3))) == 3
