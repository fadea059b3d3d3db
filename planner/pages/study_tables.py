"""One table of the study: typed and pasted into, or replaced by a dropped file; its mistakes by row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import streamlit as st

from planner.faults import Fault
from planner.files.drafts import Draft
from planner.files.edit import with_value
from planner.files.marks import CannotEdit
from planner.pages.access import deed, why_not
from planner.pages.cells import Column
from planner.pages.common import show_all
from planner.pages.fold import fold, held
from planner.pages.grid import grid
from planner.pages.pasted import fitted
from planner.pages.protocol_forms import change
from planner.pages.typed import tidied
from planner.record.access import Right
from planner.study.sheets import Sheet, SheetForm, dropped, sheet_of


def study_table(
    form: SheetForm, study: Draft, name: str | None, faults: Iterable[Fault], warnings: Iterable[Fault]
) -> None:
    """The table of that form; `name` is its file as study.yaml names it, None where it names none."""
    st.markdown(form.words)
    if name is None:
        can = deed(Right.EDIT)
        st.button("Begin this table", key=f"begin-{form.key}", on_click=_begin, args=(form, study), **can)
        return
    draft = Draft(study.study, study.study / name)
    if name.lower().endswith(".xlsx"):
        _workbook(form, study, draft)
        return
    with held(f"mistakes-{form.key}"):
        _mistakes(draft, faults, warnings)
    _drop(form, draft)
    _grid(form, draft)


def _begin(form: SheetForm, study: Draft) -> None:
    draft = Draft(study.study, study.study / form.file)
    if not draft.text:
        _put_in(draft, Sheet(form.columns, ()).text())
    change(study, lambda text: with_value(text, (form.key,), form.file))


def _put_in(draft: Draft, text: str) -> None:
    """That text in the place of the table's."""
    change(draft, lambda _: text)


def _grid(form: SheetForm, draft: Draft) -> None:
    try:
        columns = sheet_of(draft.text).under(form.columns).columns
    except ValueError as error:
        st.error(f"{draft.path.name}: {error}")
        can = deed(Right.EDIT)
        text = st.text_area("The text of the table", draft.text, key=f"raw-{form.key}", height=300, **can)
        st.button("Take this text", key=f"raw-take-{form.key}", on_click=_put_in, args=(draft, text), **can)
        return
    grid(
        f"table-{draft.path.name}",
        draft,
        [Column(name) for name in columns],
        lambda text: [dict(zip(columns, row, strict=True)) for row in sheet_of(text).under(columns).rows],
        lambda text, edits: with_edits(text, columns, tidied(form.key, edits)),
    )


def with_edits(text: str, columns: tuple[str, ...], edits: Mapping[str, Any]) -> str:
    """The table's text after cells were changed, rows added and taken away."""
    try:
        sheet = sheet_of(text).under(columns)
    except ValueError as error:
        raise CannotEdit(str(error)) from error
    rows = [list(row) for row in sheet.rows]
    for number, cells in edits.get("edited_rows", {}).items():
        for name, value in cells.items():
            rows[int(number)][columns.index(name)] = _text(value)
    added = [[_text(row.get(name)) for name in columns] for row in edits.get("added_rows", ())]
    gone = set(map(int, edits.get("deleted_rows", ())))
    kept = [row for number, row in enumerate(rows) if number not in gone]
    used = [name for n, name in enumerate(columns) if name in sheet_of(text).columns or _any(kept + added, n)]
    whole = Sheet(columns, tuple(map(tuple, kept + added)))
    return Sheet(tuple(used), tuple(tuple(row[columns.index(n)] for n in used) for row in whole.rows)).text()


def _any(rows: list[list[str]], column: int) -> bool:
    return any(row[column] for row in rows)


def _text(value: Any) -> str:
    return "" if value is None else str(value).strip()


def _mistakes(draft: Draft, faults: Iterable[Fault], warnings: Iterable[Fault]) -> None:
    """Each mistake and warning of this table with its row and column."""
    try:
        sheet = sheet_of(draft.text)
    except ValueError:
        return
    rows = {
        line: f"Row {number} ({next(filter(None, cells), 'empty')})"
        for number, (line, cells) in enumerate(zip(sheet.lines, sheet.rows, strict=False), 1)
    }
    for show, found in ((st.error, faults), (st.warning, warnings)):
        own = [fault for fault in found if fault.place.file == draft.path.name]
        show_all(show, [f"{rows.get(one.place.line, 'The whole table')}: {one.words}" for one in own])


def _drop(form: SheetForm, draft: Draft) -> None:
    """A file dropped in is shown first, and replaces the table only when told to."""
    if why_not(Right.EDIT):
        return
    inside = fold("Replace this table by a file", f"drop-open-{form.key}")
    if inside is None:
        return
    with inside:
        file = st.file_uploader("Drop a CSV or XLSX file here", type=["csv", "xlsx"], key=f"drop-{form.key}")
        if file is None:
            return
        try:
            sheet = dropped(file.getvalue(), file.name)
        except ValueError as error:
            st.error(f"{file.name} cannot be read: {error}")
            return
        sheet = _as_table(sheet, form)
        st.write(f"{len(sheet.rows)} rows, as they will stand in {draft.path.name}:")
        st.dataframe([dict(zip(sheet.columns, row, strict=True)) for row in sheet.rows], hide_index=True)
        st.button(
            f"Put these rows in the place of {draft.path.name}",
            key=f"replace-{form.key}",
            on_click=_put_in,
            args=(draft, sheet.text()),
        )


def _as_table(dropped_in: Sheet, form: SheetForm) -> Sheet:
    """What a dropped file holds, by the table's own columns; what it lacks and what is left out is said."""
    rows, others = fitted(dropped_in.columns, dropped_in.rows, form.columns)
    rows = tidied(form.key, {"added_rows": rows})["added_rows"]
    used = tuple(name for name in form.columns if any(name in row for row in rows))
    show_all(
        st.warning,
        [f"The column {name!r} is missing." for name in form.needed if name not in used]
        + [f"The column {name!r} is none of this table's and is left out." for name in others],
    )
    return Sheet(used, tuple(tuple(row.get(name, "") for name in used) for row in rows))


def _workbook(form: SheetForm, study: Draft, draft: Draft) -> None:
    """A workbook is shown; to change it here, a CSV copy takes its place."""
    try:
        sheet = dropped(draft.path.read_bytes(), draft.path.name)
    except (OSError, ValueError) as error:
        st.error(f"{draft.path.name}: {error}")
        return
    st.dataframe([dict(zip(sheet.columns, row, strict=True)) for row in sheet.rows], hide_index=True)
    st.write(
        "This table is a workbook. To change it here, go on with a CSV copy; the workbook stays as it is."
    )
    can = deed(Right.EDIT)
    st.button(
        "Go on with a CSV copy", key=f"copy-{form.key}", on_click=_copy, args=(form, study, sheet), **can
    )


def _copy(form: SheetForm, study: Draft, sheet: Sheet) -> None:
    _put_in(Draft(study.study, study.study / form.file), sheet.text())
    change(study, lambda text: with_value(text, (form.key,), form.file))
