"""Who wrote lines down, and what was refused, from a real record."""

from pathlib import Path

import pytest

from planner.adherence.as_json import document
from planner.adherence.beside import beside, refused_notes
from planner.adherence.compare import compare
from planner.adherence.words import summary_words
from planner.record.beside import RefusedKept
from planner.record.drafts import Hand, line_draft
from planner.record.efforts_file import read_efforts
from planner.record.store import open_store
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

PLAN = Path(__file__).parents[1] / "data" / "small-plan.json"
HEAD = "participant,visit,step,at,manoeuvre,effort,started,reading,value,unit\n"
ROWS = (
    "ROW-01,practice,learn,,mep,1,2027-03-01T09:00:00,,,\n",
    "ROW-01,practice,learn,,mep,2,2027-03-01T09:00:40,,,\n",
    "ROW-01,practice,learn,,mep,3,2027-03-01T09:01:20,,,\n",
)


@pytest.fixture
def taken(small):
    """Takes rows into the record by a hand; what is found then, people named or not."""
    study = read_study(small)
    plan = read_plan(PLAN, study)

    def take(rows, hand=None, *, by_person=False):
        path = small / "efforts.csv"
        path.write_text(HEAD + "".join(rows), encoding="utf-8")
        file = read_efforts(path, study)
        with open_store(study) as store:
            if hand is None:
                store.take(file, by="K1")
            else:
                store.append([line_draft(line, hand) for line in file.lines])
            known = beside(store, by_person=by_person)
            return compare(study, plan, store.happened(), beside=known)

    return take


def test_whoever_hands_in_a_file_has_served_nobody(taken):
    found = taken(ROWS)
    assert found.staff == (0, 0, 1)
    assert not [d for d in found.deviations if d.kind == "other staff member"]
    assert "Measures by the planned people: none to judge; 1 not recorded." in summary_words(found)
    assert "Lines from a file, and those that nobody signed for, do not tell who served." in summary_words(
        found
    )


def test_people_are_counted_and_only_named_where_turned_on(taken):
    somebody = Hand("K9", "picked")
    found = taken(ROWS, somebody)
    assert found.staff == (0, 1, 0)
    assert not [d for d in found.deviations if d.kind == "other staff member"]
    assert "K9" not in summary_words(found) + str(document(found))
    found = taken(ROWS, somebody, by_person=True)
    (one,) = [d for d in found.deviations if d.kind == "other staff member"]
    assert one.words.startswith("written down by K9; planned for ")


def test_the_planned_people_are_as_planned(taken, small):
    plan = read_plan(PLAN, read_study(small))
    people = next(a for v in plan.visits for a in v.activities if a.manoeuvre == "mep").staff
    assert taken(ROWS, Hand(people["operator"], "picked")).staff == (1, 0, 0)


REFUSED = {
    "an unknown block": ("ROW-01,practice,learn,,spitting,1,2027-03-01T09:00:00,,,\n", "spitting"),
    "a time that never was": (
        "ROW-01,practice,learn,,mep,1,2027-09-26T03:00:00,,,\n",
        "clocks were put forward",
    ),
    "no time": ("ROW-01,practice,learn,,mep,1,half past nine,,,\n", "is not a date-time"),
    "a year that cannot be": ("ROW-01,practice,learn,,mep,1,1027-03-01T09:00:00,,,\n", "outside the years"),
    "an unknown visit": ("ROW-01,swimming,learn,,mep,1,2027-03-01T09:00:00,,,\n", "no visit of ROW-01"),
}


@pytest.mark.parametrize("what", REFUSED)
def test_a_refused_row_is_told_with_its_reason(taken, what):
    """The zone is Chatham's: at 02:45 on 26 September 2027 its clocks go to 03:45."""
    row, words = REFUSED[what]
    found = taken([*ROWS, row])
    (note,) = [n for n in found.notes if n.kind == "refused rows"]
    assert note.words.startswith("efforts.csv: 1 row was refused when taken in")
    assert "row 4: " in note.words
    assert words in note.words
    assert found.refused_rows == 1
    assert found.counts.recorded == 3 == found.counts.matched + found.counts.extra + found.counts.refused
    assert "Rows refused when taken in: 1" in summary_words(found)


def test_a_visit_recorded_once_more_on_another_day_is_told(taken):
    taken(ROWS)
    found = taken([row.replace("03-01", "03-02") for row in ROWS])
    (note,) = [n for n in found.notes if n.kind == "refused rows"]
    assert note.words.startswith("efforts.csv: 3 rows were refused when taken in")
    assert found.counts.recorded == 3


def test_a_condition_in_a_refused_row_stays_veiled(taken):
    found = taken([*ROWS, "ROW-01,rowing/cold air,before,,fvc,1,2027-03-02T09:00:00,,,\n"])
    assert "names the condition of a blind visit" in summary_words(found)
    assert "cold air" not in summary_words(found)


def test_many_refused_rows_are_counted():
    (note,) = refused_notes(RefusedKept("a.csv", n, "no such step") for n in range(1, 8))
    assert note.words.endswith("row 3: no such step; and 4 more, all in the export of the record")
