"""Papers that are no pages, read back for the eye: a text document as its text, a calendar as its entries."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import docx
import icalendar


class Grid(NamedTuple):
    """A table: the names of its columns and the cells of its rows, all text."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


_SIGNS = re.compile(r"([\\`*_{}\[\]<>#|~$:])")  # that a text with marks would take for marks


def text_document(content: bytes) -> tuple[str | Grid, ...]:
    """The document in order: headings, paragraphs and lists as text with marks (Markdown), and its tables."""
    return tuple(_pieces(docx.Document(io.BytesIO(content))))


def _pieces(document: Any) -> Iterator[str | Grid]:
    text: list[str] = []
    for block in document.iter_inner_content():
        if hasattr(block, "rows"):
            yield "".join(text)
            text = []
            yield _grid(block)
        else:
            text.append(_paragraph(block.text, block.style.name if block.style is not None else ""))
    yield "".join(text)


def _paragraph(text: str, style: str) -> str:
    """Below the page's own title, a document's title is a heading of the second level."""
    if style == "List Bullet":
        return f"- {_plain(text)}\n"
    level = 0 if style == "Title" else int(style.removeprefix("Heading ")) if "Heading" in style else None
    return f"\n{_plain(text)}\n\n" if level is None else f"\n{'#' * (level + 2)} {_plain(text)}\n\n"


def _grid(table: Any) -> Grid:
    """A cell that spans a row stands once, in the first column."""
    head, *rows = [_cells(row) for row in table.rows]
    return Grid(_names(head), tuple(map(tuple, rows)))


def _names(head: Sequence[str]) -> tuple[str, ...]:
    """Full names where some stand twice: "most" after "Visit, min: least" is "Visit, min: most"."""
    if len(set(head)) == len(head):
        return tuple(head)
    found, group = [], ""
    for cell in head:
        group = cell.rpartition(": ")[0] or group
        found.append(cell if ": " in cell or not group else f"{group}: {cell}")
    return tuple(found)


def _cells(row: Any) -> list[str]:
    seen, found = [], []
    for cell in row.cells:
        found.append("" if cell._tc in seen else _one_line(cell.text))
        seen.append(cell._tc)
    return found


def _plain(text: str) -> str:
    return _SIGNS.sub(r"\\\1", _one_line(text))


def _one_line(text: str) -> str:
    """Without line ends and double spaces; a space that does not break, as inside a length, stays one."""
    return re.sub(r"[ \t\r\n]+", " ", text).strip()


def calendar_rows(content: bytes) -> Sequence[dict[str, str]]:
    """The entries of a calendar by their start, with clock times as they stand in it."""
    events: Any = icalendar.Calendar.from_ical(content).walk("VEVENT")
    rows = [
        {
            "Starts": f"{event['DTSTART'].dt:%a %d %b %Y %H:%M}",
            "Ends": f"{event['DTEND'].dt:%H:%M}",
            "What": str(event.get("SUMMARY", "")),
            "Cancelled": "yes" if event.get("STATUS") == "CANCELLED" else "",
        }
        for event in sorted(events, key=lambda event: event["DTSTART"].dt.timestamp())  # instants, any zone
    ]
    if not any(row["Cancelled"] for row in rows):
        return [{name: value for name, value in row.items() if name != "Cancelled"} for row in rows]
    return rows
