"""Spreadsheets: no formula from a user's text, the same bytes again."""

import io
import zipfile
from datetime import UTC, date, datetime, time

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.documents.spreadsheet import Table, guarded, spreadsheet

MADE = datetime(2027, 2, 20, 14, 5, tzinfo=UTC)


def book_of(rows):
    content = spreadsheet([Table("A", ["x", "y"], rows)], title="t", made=MADE)
    return content, openpyxl.load_workbook(io.BytesIO(content))


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx", '=HYPERLINK("http://x","y")'])
def test_no_text_becomes_a_formula(text):
    content, book = book_of([[text, "plain"]])
    cell = book["A"]["A2"]
    assert cell.data_type == "s"
    assert str(cell.value).startswith("'")
    assert b"<f>" not in zipfile.ZipFile(io.BytesIO(content)).read("xl/worksheets/sheet1.xml")


def test_no_text_becomes_a_link_or_a_number():
    content, book = book_of([["http://example.org", "007"]])
    assert book["A"]["B2"].value == "007"
    assert b"<hyperlink" not in zipfile.ZipFile(io.BytesIO(content)).read("xl/worksheets/sheet1.xml")


@given(st.text())
def test_guarding_leaves_nothing_that_begins_like_a_formula(text):
    assert not guarded(text).startswith(("=", "+", "-", "@", "\t", "\r"))
    assert guarded(text) in (text, "'" + text)


def test_dates_times_and_numbers_stay_what_they_are():
    _, book = book_of([[date(2027, 3, 1), time(9, 3, 15)], [3, None]])
    assert book["A"]["A2"].value == datetime(2027, 3, 1)  # noqa: DTZ001 - spreadsheets know no zones
    assert book["A"]["B2"].value == time(9, 3, 15)
    assert book["A"]["A3"].value == 3
    assert book["A"]["B3"].value is None


def test_the_same_rows_give_the_same_bytes():
    assert book_of([["a", 1]])[0] == book_of([["a", 1]])[0]
