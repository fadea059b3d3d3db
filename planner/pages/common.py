"""What pages share: the open study, its plan in force, faults in plain words, the foot of each page.

The study's folder comes from the environment that `testday open` sets, never from the address.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from planner.faults import Fault, FaultyInput
from planner.record.dry_run import is_dry
from planner.record.effort import Happened
from planner.schedule.in_force import in_force
from planner.schedule.learned_text import learned_json
from planner.schedule.model import Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import STUDY_FILE, read_study
from planner.timing.learned import Learned
from planner.timing.plan import VisitPlan

if TYPE_CHECKING:
    from planner.record.store import Store

HERE = Path(__file__).parent
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


def files_mark(folder: Path) -> str:
    """Changes whenever a file that the study may read changes: a digest of name, size and time of each."""
    candidates = [*folder.glob("*.*"), *folder.parent.glob("*.yaml"), *folder.parent.glob("*/*.yaml")]
    candidates += [*folder.glob(".testday/*.json"), *folder.glob(".testday/plans/*.json")]
    seen = sorted((str(f), f.stat().st_size, f.stat().st_mtime_ns) for f in candidates if f.is_file())
    return hashlib.sha256(repr(seen).encode()).hexdigest()  # a text: all caches go by it at each click


@st.cache_resource(max_entries=4, show_spinner=False)
def _read(folder: Path, mark: str) -> Study | FaultyInput:
    """Frozen, so that all sessions may share it; faults are kept as well, to be shown again at once."""
    try:
        return read_study(folder)
    except FaultyInput as error:
        return error


@st.cache_resource(max_entries=4, show_spinner=False)
def _plans(
    folder: Path, mark: str, taught: str, _study: Study, _learned: Learned | None
) -> Mapping[str, VisitPlan]:
    return visit_plans(_study, _learned)


@st.cache_resource(max_entries=8, show_spinner=False)
def _plan(path: Path, mark: str, _study: Study) -> Schedule | FaultyInput:
    try:
        return read_plan(path, _study)
    except FaultyInput as error:
        return error


def open_study() -> Study:
    """The open study; where its files have mistakes, they are shown and the page ends."""
    folder = study_folder()
    found = _read(folder, files_mark(folder))
    if isinstance(found, FaultyInput):
        if (folder / STUDY_FILE).exists():
            _where_to_mend(found)
        else:
            _where_to_begin()
        footer()  # nothing of the page's frame follows a stop
        st.stop()
    return found


def _where_to_begin() -> None:
    """The next step where there is no study yet, or one that was begun and is not saved."""
    st.info(
        "There is no study here yet. Begin it on the Study page, fill in what is asked for there and save it."
    )
    st.page_link(str(HERE / "study.py"), label="Go to the Study page")


def _where_to_mend(found: FaultyInput) -> None:
    """What is wrong, and the two pages where it can be mended."""
    st.warning("Something in the study's files is missing or mistaken. It can be mended on these two pages.")
    left, right = st.columns(2)
    left.page_link(str(HERE / "study.py"), label="Go to the Study page")
    right.page_link(str(HERE / "protocol.py"), label="Go to the Protocol page")
    show_faults(found.faults, found.warnings)


def study_if_whole() -> Study | None:
    """The open study, or None where its files have mistakes: for pages on which those are mended."""
    folder = study_folder()
    found = _read(folder, files_mark(folder))
    return None if isinstance(found, FaultyInput) else found


def visit_plans_of(study: Study, schedule: Schedule | None = None) -> Mapping[str, VisitPlan]:
    """The timed plan of each protocol of the study; with a schedule, what that one was made with."""
    learned = schedule.learned if schedule else None
    taught = json.dumps(learned_json(learned)) if learned else ""
    return _plans(study.folder, files_mark(study.folder), taught, study, learned)


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
    st.page_link(str(HERE / "schedule.py"), label="Go to the Schedule page")


def recorded(study: Study) -> tuple[Happened, object]:
    """What is recorded, and a mark that changes with it."""
    from planner.record.store import open_recorded  # the database is read in by who needs it, not by all

    with open_recorded(study) as store:
        mark = (store.rehearsed, store.length())
        return _happened(study.folder, mark, store), mark


@st.cache_resource(max_entries=4, show_spinner=False)
def _happened(folder: Path, mark: object, _store: Store) -> Happened:
    return _store.happened()


def show_faults(faults: Iterable[Fault], warnings: Iterable[Fault] = ()) -> None:
    """Each mistake in plain words, with its file and line; once, however many parts of a file lead to it."""
    wrong = dict.fromkeys(f"**{f.place.file}, mistake in line {f.place.line}:** {f.words}" for f in faults)
    noted = dict.fromkeys(f"**{w.place.file}, line {w.place.line}:** {w.words}" for w in warnings)
    show_all(st.error, list(wrong))
    show_all(st.warning, list(noted))


def show_all(show: Callable[[str], object], lines: Sequence[str]) -> None:
    """All these lines in one box; none where there are none."""
    if lines:
        show("\n".join(f"- {line}" for line in lines) if len(lines) > 1 else lines[0])


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


def keep_address(page: str, told: Mapping[str, str]) -> None:
    """What was chosen on the page stands in the address, so that it can be bookmarked and outlives a reload.

    What a page shows by itself is not written: each writing is a step of the browser's history, and one
    that is made anew at each arrival lets nobody go back past the page.
    """
    before = st.session_state.get(f"address-{page}")
    st.session_state[f"address-{page}"] = dict(told)
    if before not in (None, told):
        st.query_params.update(told)
