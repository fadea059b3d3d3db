"""Text documents and calendars, read back as people see them before they are downloaded."""

from __future__ import annotations

from datetime import UTC, date, datetime

from planner.documents.calendars import calendars
from planner.documents.docx_file import Document
from planner.documents.read_back import calendar_rows, text_document


def test_a_text_document_keeps_its_order_and_its_tables():
    document = Document("A title", datetime(2027, 3, 1, 8, tzinfo=UTC))
    document.heading("First")
    document.paragraph("Words * with [signs] | and 5:00.")
    document.bullets(["one", "two"])
    document.table(["", "Visit, min: least", "most"], [["GROUP", "", ""], ["FVC", "X", ""]], groups=["GROUP"])
    document.table(
        ["", "Visit, min: least", "most", "Rest, min: least", "most"], [["all", "1", "2", "3", "4"]]
    )
    document.paragraph("The end.")
    text, first, between, second, end = text_document(document.content())
    assert [line for line in text.splitlines() if line] == [
        "## A title",
        "### First",
        r"Words \* with \[signs\] \| and 5\:00.",
        "- one",
        "- two",
    ]
    assert first == (("", "Visit, min: least", "most"), (("GROUP", "", ""), ("FVC", "X", "")))
    assert second.columns == (
        "", "Visit, min: least", "Visit, min: most", "Rest, min: least", "Rest, min: most",
    )  # fmt: skip
    assert (between.strip(), end.strip()) == ("", "The end.")


def test_a_space_that_does_not_break_stays_one_on_the_page():
    """A length is read as one word: 5 at the end of a line and min on the next are read as two."""
    document = Document("A title", datetime(2027, 3, 1, 8, tzinfo=UTC))
    document.paragraph("It takes  5\u00a0min.")
    document.table(["Takes"], [["5\u00a0min"]])
    text, table, _ = text_document(document.content())
    assert "It takes 5\u00a0min." in text
    assert table.rows == (("5\u00a0min",),)


def test_a_calendar_is_its_entries_by_their_start(make):
    protocol = make.rowing_protocol()
    study = make.study({protocol.file: protocol})
    late = make.placed(protocol, make.at(9, 3, on=date(2027, 3, 16)))  # clocks changed on 14 March 2027
    early = make.placed(protocol, make.at(9, 3), number=1, condition="mild air")
    own = next(
        one for one in calendars(study, make.schedule([late, early])) if one.whose.kind == "participant"
    )
    rows = calendar_rows(own.calendar())
    assert [row["Starts"] for row in rows] == ["Mon 01 Mar 2027 09:03", "Tue 16 Mar 2027 09:03"]
    assert not any("rowing" in row["What"].lower() or "mild" in row["What"] for row in rows)
