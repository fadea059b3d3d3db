"""A study's tables as text cells: nothing is lost between a spreadsheet, the page and the file."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from planner.study.sheets import Sheet, dropped, sheet_of

CELLS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zs", "Zl", "Zp"]), max_size=8)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(CELLS, min_size=3, max_size=3), max_size=6))
def test_what_is_written_is_read_back_by_us_and_by_the_csv_module(rows):
    kept = [row for row in rows if any(row)]
    text = Sheet(("a", "b", "c"), tuple(map(tuple, rows))).text()
    assert [list(row) for row in sheet_of(text).rows] == kept
    assert list(csv.reader(io.StringIO(text)))[1:] == kept


def test_each_row_knows_its_line():
    assert sheet_of('a,b\n1,"x\ny"\n\n2,z\n').lines == (2, 5)


def test_no_cell_is_lost_under_a_short_or_doubled_head():
    sheet = sheet_of("a,a\n1,2,3\n")
    assert sheet.columns == ("a", "a (2)", "column 3")
    assert sheet.rows == (("1", "2", "3"),)


def test_known_columns_come_first_and_others_stay():
    sheet = sheet_of("note,person\nx,K1\n").under(("person", "roles"))
    assert (sheet.columns, sheet.rows) == (("person", "roles", "note"), (("K1", "", "x"),))


def test_a_broken_quote_is_said_with_its_line():
    with pytest.raises(ValueError, match="line 2"):
        sheet_of('a,b\n1,"x"y\n')


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_dropped_text_may_be_separated_as_spreadsheets_do(separator):
    data = f"\ufeffperson{separator}roles\nK1{separator}operator\n".encode()
    assert dropped(data, "staff.csv").rows == (("K1", "operator"),)


def test_a_dropped_workbook_is_read_and_its_dates_are_written_as_the_formats_want():
    from datetime import datetime

    book = Workbook()
    for row in (["person", "from", "to"], ["K1", datetime(2027, 3, 1, 9), datetime(2027, 3, 2)]):  # noqa: DTZ001
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    assert dropped(out.getvalue(), "absences.xlsx").rows == (("K1", "2027-03-01T09:00:00", "2027-03-02"),)


def test_what_is_no_table_is_said():
    with pytest.raises(ValueError, match="not an XLSX"):
        dropped(b"PK", "x.xlsx")
