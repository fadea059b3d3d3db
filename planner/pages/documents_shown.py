"""One paper before it is downloaded: as it prints, or, where it is no page, its text, tables or entries."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import PurePath

import pandas as pd
import streamlit as st

from planner.documents.read_back import Grid, calendar_rows, text_document
from planner.pages.access import checked
from planner.pages.documents_made import pictures
from planner.record.access import Right

_MOST_COLUMNS = 10  # that stand side by side at 768 pixels
MIME = {"pdf": "application/pdf", "ics": "text/calendar"}


def show_paper(name: str, words: str, content: bytes, as_pages: Callable[[], bytes] | None = None) -> None:
    """The paper of that file name; `words` say which it is, `as_pages` makes the same as a PDF."""
    kind = PurePath(name).suffix.removeprefix(".")
    with st.container(horizontal=True):
        _download(name, content)
        if as_pages is not None:
            _download(PurePath(name).with_suffix(".pdf").name, as_pages)
    if kind == "pdf":
        _pages(words, content)
    elif kind == "docx":
        st.write("As it reads; the file itself is for a text processor.")
        for piece in _text(content):
            if isinstance(piece, str):
                st.markdown(piece)
            else:
                st.table(on_screen(piece), hide_index=True)
    elif kind == "xlsx":
        _workbook(content)
    else:
        st.write("Its entries; the file itself is for a calendar.")
        st.dataframe(_entries(content), hide_index=True)


def _download(name: str, content: bytes | Callable[[], str | bytes]) -> None:
    mime = MIME.get(PurePath(name).suffix.removeprefix("."), "application/octet-stream")
    st.download_button(f"Download {name}", checked(Right.READ, content), name, mime, on_click="ignore")


def on_screen(grid: Grid) -> pd.DataFrame:
    """The table; on its side where it has more columns than a tablet is wide, and fewer rows."""
    table = pd.DataFrame(grid.rows, columns=list(grid.columns))
    if len(grid.columns) <= _MOST_COLUMNS or len(grid.rows) >= len(grid.columns):
        return table
    names, *rows = [[head, *map(str, table[head])] for head in table.columns]
    return pd.DataFrame(rows, columns=names)


@st.cache_resource(max_entries=8, show_spinner=False)
def _text(content: bytes) -> tuple[str | Grid, ...]:
    return text_document(content)


@st.cache_data(max_entries=16, show_spinner=False)
def _entries(content: bytes) -> pd.DataFrame:
    return pd.DataFrame(calendar_rows(content))


@st.cache_data(max_entries=8, show_spinner=False)
def sheets(content: bytes) -> dict[str, tuple[str, pd.DataFrame]]:
    """Of each sheet of a workbook the line above its table, if there is one, and the table."""
    read = pd.read_excel(io.BytesIO(content), sheet_name=None, header=None, dtype=str, na_filter=False)
    return {name: _sheet(rows) for name, rows in read.items()}


def _sheet(rows: pd.DataFrame) -> tuple[str, pd.DataFrame]:
    """A row of one cell above the names of the columns is a line of words; an empty one, no names at all."""
    rows = rows.map(lambda cell: str(cell).removesuffix(" 00:00:00"))  # a date alone, as the sheet shows it
    first = [cell for cell in rows.iloc[0] if cell]
    if not first:
        return "", rows.iloc[1:].set_axis(["What", "Value"][: rows.shape[1]], axis=1)
    note = first[0] if len(first) == 1 and rows.shape[1] > 1 else ""
    body = rows.iloc[1:] if note else rows
    return note, body.iloc[1:].set_axis(list(body.iloc[0]), axis=1)


def _pages(words: str, content: bytes) -> None:
    drawn = pictures(content)
    for number, picture in enumerate(drawn, 1):
        caption = f"{words}, page {number} of {len(drawn)}"
        st.image(
            picture,
            caption=caption,
            alt=f"{caption}, as it prints; the file itself has its text",
            width="content",  # as large as it prints, and never wider than the window
        )


def _workbook(content: bytes) -> None:
    st.write("Its tables; the file itself is for a spreadsheet.")
    found = sheets(content)
    names = list(found)
    name = st.selectbox("Table", names, key="documents-sheet") if len(names) > 1 else names[0]
    note, table = found[name]
    if note:
        st.write(note)
    st.dataframe(table, hide_index=True)
