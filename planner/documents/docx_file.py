"""A text document with styles that a person can restyle; the bytes follow from the content."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import docx
from docx.enum.section import WD_ORIENT
from docx.oxml import OxmlElement
from docx.oxml.ns import qn
from docx.shared import Mm, Pt

_WIDTH_MM = 257
_MANY_COLUMNS = 10
# A letter of a wide bold face is seldom wider than this part of its size; a cell has a margin on both sides.
_LETTER, _MARGINS_MM, _MM_A_POINT = 0.7, 4.0, 25.4 / 72
_LONG_LETTERS = 60  # a text longer than this asks for no more room: it runs over lines anyway
_ZIP_TIME = (1980, 1, 1, 0, 0, 0)


class Document:
    """Headings, paragraphs, lists and tables, in the named styles of the word processor."""

    def __init__(self, title: str, made: datetime) -> None:
        self._document: Any = docx.Document()
        about = self._document.core_properties
        about.title, about.author, about.comments, about.language = title, "", "", "en-GB"
        about.created = about.modified = made.replace(tzinfo=None, microsecond=0)
        about.last_modified_by, about.revision = "", 1
        self._document.styles["Normal"].font.size = Pt(10.5)
        self._landscape_a4()
        self._is_after_table = False
        self._document.add_heading(title, level=0)

    def _landscape_a4(self) -> None:
        """Wide tables need the long side."""
        section = self._document.sections[0]
        section.orientation = WD_ORIENT.LANDSCAPE
        section.page_width, section.page_height = Mm(297), Mm(210)
        section.left_margin = section.right_margin = Mm(20)

    def heading(self, text: str, level: int = 1) -> None:
        """A heading of that level."""
        self._document.add_heading(text, level=level)
        self._is_after_table = False

    def paragraph(self, text: str, style: str = "Normal") -> None:
        """A paragraph in a named style, such as `Normal`, `Caption`, `Subtitle`."""
        added = self._document.add_paragraph(_printable(text), style=style)
        added.paragraph_format.keep_with_next = style == "Caption"
        if self._is_after_table:
            added.paragraph_format.space_before = Pt(8)
        self._is_after_table = False

    def bullets(self, texts: Sequence[str]) -> None:
        """A list."""
        for text in texts:
            self.paragraph(text, "List Bullet")

    def table(
        self, columns: Sequence[str], rows: Sequence[Sequence[str]], *, groups: Sequence[str] = ()
    ) -> None:
        """A table whose head repeats on each page; a row that begins with one of `groups` spans it, bold.

        No column is narrower than its longest word; columns of long texts have the room that is left.
        """
        points = 9 if len(columns) <= _MANY_COLUMNS else 8
        table = self._document.add_table(rows=1, cols=len(columns), style="Table Grid")
        for cell, text in zip(table.rows[0].cells, columns, strict=True):
            _fill(cell, text, points, bold=True)
        _repeat(table.rows[0])
        for row in rows:
            cells = table.add_row().cells
            if row[0] in groups:
                _fill(cells[0].merge(cells[-1]), row[0], points, bold=True)
                continue
            for number, (cell, text) in enumerate(zip(cells, row, strict=True)):
                _fill(cell, text, points, bold=False, centre=text == "X" and number > 0)
        _set_widths(table, widths_mm([columns, *(row for row in rows if row[0] not in groups)], points))
        for row_of_table in table.rows:
            _keep_whole(row_of_table)
        self._is_after_table = True

    def content(self) -> bytes:
        """The file; times inside it are fixed, so that equal content gives equal bytes."""
        written = io.BytesIO()
        self._document.save(written)
        return _without_times(written.getvalue())


def _fill(cell: Any, text: str, points: int, *, bold: bool, centre: bool = False) -> None:
    paragraph = cell.paragraphs[0]
    run = paragraph.add_run(_printable(text))
    run.bold = bold
    run.font.size = Pt(points)
    if centre:
        paragraph.alignment = 1


def _printable(text: str) -> str:
    """The text without characters that XML forbids."""
    return "".join(letter for letter in text if letter >= " " or letter in "\t\n")


def _repeat(row: Any) -> None:
    mark = OxmlElement("w:tblHeader")
    mark.set(qn("w:val"), "true")
    row._tr.get_or_add_trPr().append(mark)


def widths_mm(rows: Sequence[Sequence[str]], points: int) -> list[float]:
    """Of each column: its longest word at least, where all fit; what is left goes by the longest text."""
    columns = list(zip(*rows, strict=True))
    letter = _LETTER * points * _MM_A_POINT
    needs = [
        _MARGINS_MM + letter * max(len(word) for text in column for word in text.split(" "))
        for column in columns
    ]
    asks = [min(_LONG_LETTERS, max(len(text) for text in column)) + 1 for column in columns]
    spare = _WIDTH_MM - sum(needs)
    if spare < 0:
        return [_WIDTH_MM * need / sum(needs) for need in needs]
    return [need + spare * ask / sum(asks) for need, ask in zip(needs, asks, strict=True)]


def _set_widths(table: Any, widths: Sequence[float]) -> None:
    """Word reads the widths of cells, others those of the grid: both are set."""
    table.autofit = False
    for column, width in zip(table.columns, widths, strict=True):
        column.width = Mm(width)
    for row in table.rows:
        for cell in row._tr.tc_lst:  # a cell that spans several is as wide as they are
            cell.width = Mm(sum(widths[cell.left : cell.right]))


def _keep_whole(row: Any) -> None:
    """No page break inside the row."""
    row._tr.get_or_add_trPr().append(OxmlElement("w:cantSplit"))


def _without_times(content: bytes) -> bytes:
    target = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            info = zipfile.ZipInfo(name, _ZIP_TIME)
            info.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(info, old.read(name))
    return target.getvalue()
