"""What this page writes: visits fixed and days left out, at once and whole, with a way back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path

import streamlit as st

from planner.documents.shown import date_words
from planner.files.drafts import Draft, text_in, write_text
from planner.files.marks import CannotEdit
from planner.pages import access
from planner.pages.fold import fold
from planner.record.access import Right
from planner.study.fixing import (
    HEADER,
    TABLE,
    named_table,
    names_table,
    with_closed,
    with_fixed,
    without_fixed,
)
from planner.study.model import Study, Wish

UNDO = "schedule-written.json"  # names of the files of the last changes, newest last
MOST_CHANGES = 50  # that can be taken back


def fix(study: Study, row: Mapping[str, str]) -> None:
    """Put that row into the table of fixed visits; study.yaml names the table from then on."""
    if not any(row[name] for name in ("date", "start", "rig", "person")):
        st.warning("Nothing is ticked or chosen, so nothing was fixed.")
        return
    table = _table(study.folder)
    if table is None or not access.may(study, Right.PLAN):
        return
    if not table.exists():
        write_text(table, HEADER)
    changes = [(table, with_fixed(text_in(table), row))]
    changes += _naming(study.folder, table)
    _write(study, changes)


def let_go(study: Study, wish: Wish) -> None:
    """Take the rows of that fixed visit out of the table."""
    table = _table(study.folder)
    if table is not None:
        _write(study, [(table, without_fixed(text_in(table), wish.participant, wish.visit))])


def leave_out(study: Study, day: date) -> None:
    """Write that day among the closed ones."""
    path = study.folder / "study.yaml"
    try:
        _write(study, [(path, with_closed(text_in(path), day))])
    except CannotEdit as error:
        st.error(f"This could not be written: {error}. Write the day under days, closed, in study.yaml.")


def show_fixed(study: Study) -> None:
    """What is fixed, a day to leave out, and the way back."""
    if inside := fold("More: fixed visits, and days to leave out", "schedule-more-fixed"):
        with inside:
            _fixed(study)


def _fixed(study: Study) -> None:
    """Each fixed visit, a choice of days, and the way back."""
    can = access.deed(Right.PLAN)
    if not study.wishes:
        st.write("No visit is fixed. Choose one above to fix it where it is.")
    for place, wish in enumerate(study.wishes):
        words, button = st.columns([4, 1], vertical_alignment="center")
        words.write(wish_words(wish))
        if button.button("Let it go", key=f"schedule-let-go-{place}", width="stretch", **can):
            let_go(study, wish)
    if left_out := days_left_out(study):
        st.write(f"Closed: {', '.join(map(date_words, left_out))}. To open one again, see the Study page.")
    choose, button = st.columns([4, 1], vertical_alignment="bottom")
    day = choose.selectbox(
        "A day to leave out",
        list(study.open),
        index=None,
        format_func=date_words,
        key="schedule-exclude",
        placeholder="Choose an open day",
    )
    can = access.deed(Right.PLAN, disabled=day is None)
    if button.button("Leave it out", key="schedule-leave-out", width="stretch", **can):
        assert day is not None
        leave_out(study, day)
    can = access.deed(Right.PLAN, disabled=not _changes(study.folder))
    if st.button("Undo the last change", key="schedule-undo", **can):
        _undo(study)


def days_left_out(study: Study) -> list[date]:
    """The days of the study that are closed although the laboratory is open on that weekday."""
    weekdays = {on.weekday() for on in study.open}
    span = (study.last_day - study.first_day).days + 1
    days = [study.first_day + timedelta(days=number) for number in range(span)]
    return [on for on in days if on.weekday() in weekdays and on not in study.open]


def wish_words(wish: Wish) -> str:
    """One fixed visit in words."""
    what = [
        f"{wish.start:%A} {wish.start.day} {wish.start:%B, start %H:%M:%S}" if wish.start else "",
        date_words(wish.date) if wish.date and not wish.start else "",
        f"device {wish.rig}" if wish.rig else "",
        f"staff member {wish.person}" if wish.person else "",
    ]
    return f"{wish.participant}, {wish.visit or 'all visits'}: " + ", ".join(filter(None, what))


def _table(folder: Path) -> Path | None:
    """The table of fixed visits; None, said, where it is a spreadsheet or lies elsewhere."""
    name = named_table(text_in(folder / "study.yaml")) or TABLE
    if not name.lower().endswith(".csv") or Path(name).name != name:
        st.error(
            f"The fixed visits stand in {name}. This page writes only a CSV table in the study's folder."
        )
        return None
    return folder / name


def _naming(folder: Path, table: Path) -> list[tuple[Path, str]]:
    path = folder / "study.yaml"
    text = text_in(path)
    named = names_table(text, table.name)
    return [(path, named)] if named != text else []


def _write(study: Study, changes: list[tuple[Path, str]]) -> None:
    """Write every file whole, and remember which: table first, then the file that names it."""
    if not access.may(study, Right.PLAN):
        return
    drafts = [Draft(study.folder, path) for path, _ in changes]
    waiting = [draft.path.name for draft in drafts if draft.is_changed]
    if waiting:
        st.warning(f"{' and '.join(waiting)}: changes are not saved yet. Save them on the Study page first.")
        return
    for draft, (_, text) in zip(drafts, changes, strict=True):
        draft.change(text)
        draft.save()
    _keep_changes(study.folder, [*_changes(study.folder), [draft.path.name for draft in drafts]])
    st.rerun()


def _changes(folder: Path) -> list[list[str]]:
    """The files of each change that can be taken back; kept on disk, so that a reload loses none."""
    try:
        found = json.loads((folder / ".testday" / UNDO).read_text("utf-8"))
        return [[Path(str(name)).name for name in names] for names in found]
    except (OSError, ValueError, TypeError):
        return []


def _keep_changes(folder: Path, done: list[list[str]]) -> None:
    (folder / ".testday").mkdir(exist_ok=True)
    write_text(folder / ".testday" / UNDO, json.dumps(done[-MOST_CHANGES:]))


def _undo(study: Study) -> None:
    """The files as they were before the last change of this page."""
    if not access.may(study, Right.PLAN):
        return
    *before, last = _changes(study.folder)
    for name in reversed(last):
        draft = Draft(study.folder, study.folder / name)
        if draft.undo():
            draft.save()
    _keep_changes(study.folder, before)
    st.rerun()
