"""What pages share: the open study, its plan in force, faults in plain words, the foot of each page.

The study's folder comes from the environment that `testday open` sets, never from the address.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path

import streamlit as st

from planner.faults import Fault, FaultyInput
from planner.record.dry_run import is_dry
from planner.record.effort import Happened
from planner.record.store import Store, open_recorded
from planner.schedule.in_force import in_force
from planner.schedule.model import Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import read_study
from planner.timing.plan import VisitPlan

FOOT = (
    "Paper stays valid if this app stops. Sounds are no patient alarm. "
    "Follow your local rules; a licensed person decides. A participant who is unwell comes before any time."
)


def study_folder() -> Path:
    """The folder of the open study."""
    folder = os.environ.get("TESTDAY_STUDY")
    if not folder:
        st.error("No study is open. Start the app from a terminal: testday open STUDY")
        st.stop()
    return Path(folder)


def files_mark(folder: Path) -> tuple[tuple[str, int, int], ...]:
    """Changes whenever a file that the study may read changes: name, size and time of each."""
    candidates = [*folder.glob("*.*"), *folder.parent.glob("*.yaml"), *folder.parent.glob("*/*.yaml")]
    candidates += [*folder.glob(".testday/*.json"), *folder.glob(".testday/plans/*.json")]
    return tuple(sorted((str(f), f.stat().st_size, f.stat().st_mtime_ns) for f in candidates if f.is_file()))


@st.cache_resource(max_entries=4, show_spinner=False)
def _read(folder: Path, mark: tuple[tuple[str, int, int], ...]) -> Study | FaultyInput:
    """Frozen, so that all sessions may share it; faults are kept as well, to be shown again at once."""
    try:
        return read_study(folder)
    except FaultyInput as error:
        return error


@st.cache_resource(max_entries=4, show_spinner=False)
def _plans(folder: Path, mark: tuple[tuple[str, int, int], ...], _study: Study) -> Mapping[str, VisitPlan]:
    return visit_plans(_study)


@st.cache_resource(max_entries=8, show_spinner=False)
def _plan(path: Path, mark: tuple[tuple[str, int, int], ...], _study: Study) -> Schedule | FaultyInput:
    try:
        return read_plan(path, _study)
    except FaultyInput as error:
        return error


def open_study() -> Study:
    """The open study; where its files have mistakes, they are shown and the page ends."""
    folder = study_folder()
    found = _read(folder, files_mark(folder))
    if isinstance(found, FaultyInput):
        st.warning(
            "The study's files have mistakes. Mend them on the Protocol and Study pages, or in the files."
        )
        show_faults(found.faults, found.warnings)
        st.stop()
    return found


def visit_plans_of(study: Study) -> Mapping[str, VisitPlan]:
    """The timed plan of each protocol of the study."""
    return _plans(study.folder, files_mark(study.folder), study)


def plan_in_force(study: Study) -> Schedule | None:
    """The plan in force, or None; a plan file that cannot be read is said and counts as none."""
    path = in_force(study.folder)
    if path is None:
        return None
    return plan_at(study, path)


def plan_at(study: Study, path: Path) -> Schedule | None:
    """The plan in that file; None where it cannot be read, which is said."""
    found = _plan(path, files_mark(study.folder), study)
    if isinstance(found, FaultyInput):
        show_faults(found.faults, found.warnings)
        return None
    return found


def no_plan() -> None:
    """What to do where no plan is in force."""
    st.info("No plan is in force yet. Make one on the Schedule page and put it in force there.")


def recorded(study: Study) -> tuple[Happened, object]:
    """What is recorded, and a mark that changes with it."""
    with open_recorded(study) as store:
        mark = (store.rehearsed, store.length())
        return _happened(study.folder, mark, store), mark


@st.cache_resource(max_entries=4, show_spinner=False)
def _happened(folder: Path, mark: object, _store: Store) -> Happened:
    return _store.happened()


def show_faults(faults: Iterable[Fault], warnings: Iterable[Fault] = ()) -> None:
    """Each mistake in plain words, with its file and line."""
    for fault in faults:
        st.error(f"**{fault.place.file}, mistake in line {fault.place.line}:** {fault.message} {fault.hint}")
    for warning in warnings:
        st.warning(f"**{warning.place.file}, line {warning.place.line}:** {warning.message} {warning.hint}")


def study_mark() -> None:
    """Which study is open, and whether its numbers are made up; on every page."""
    folder = study_folder()
    found = _read(folder, files_mark(folder))
    if is_dry(folder):
        st.warning("**Dry run.** What is recorded now is made up and goes to the rehearsal's own record.")
    if isinstance(found, Study) and found.demo:
        st.info(f"**{found.name}**: an invented study. Every participant and every number here is made up.")
    else:
        st.markdown(f":small[{folder.name}]")  # a caption is too pale to read


def footer() -> None:
    """The cautions that stand at the foot of each page."""
    st.divider()
    st.markdown(f":small[{FOOT}]")
