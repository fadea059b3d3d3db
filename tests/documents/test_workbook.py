"""The whole plan as tables."""

import io
from dataclasses import replace

import openpyxl

from planner.documents.workbook import workbook
from planner.schedule.model import Change, NotPlaced


def opened(study, schedule):
    return openpyxl.load_workbook(io.BytesIO(workbook(study, schedule)))


def test_every_activity_has_a_row_with_its_local_times(one_day):
    study, schedule = one_day
    rows = list(opened(study, schedule)["Activities"].iter_rows(min_row=2, values_only=True))
    assert len(rows) == len(schedule.visits[0].activities)
    first = schedule.visits[0].activities[0]
    assert rows[0][1] == first.start.time()
    assert rows[0][-1] == "America/Halifax"
    mep = next(row for row in rows if row[9] == "mep")
    assert mep[10:12] == ("M1", "operator K1, cheek support K2")


def test_blind_conditions_are_in_no_cell(one_day):
    study, schedule = one_day
    visit = replace(schedule.visits[0], condition="secret")
    book = opened(study, replace(schedule, visits=(visit,)))
    cells = [str(c) for sheet in book for row in sheet.iter_rows(values_only=True) for c in row]
    assert "rowing 2" in cells
    assert not any("secret" in cell for cell in cells)


def test_what_was_not_placed_and_what_changed_have_their_sheets(one_day):
    study, schedule = one_day
    full = replace(
        schedule,
        not_placed=(NotPlaced("ROW-09", "rowing-1", "=no day fits"),),
        changes=(Change("ROW-07", "rowing-2", "10 min later", before="09:00", after="09:10"),),
    )
    book = opened(study, full)
    assert book["Not placed"]["C2"].value == "'=no day fits"
    assert book["Changes"]["D2"].value == "09:00"
    assert "Not placed" not in opened(study, schedule).sheetnames


def test_the_plan_sheet_names_version_and_counts(one_day):
    rows = dict(opened(*one_day)["Plan"].iter_rows(min_row=2, max_col=2, values_only=True))
    assert (rows["Plan version"], rows["Asked"], rows["Placed"], rows["How sure"]) == (3, 1, 1, "optimal")


def test_the_same_plan_gives_the_same_bytes(one_day):
    assert workbook(*one_day) == workbook(*one_day)
