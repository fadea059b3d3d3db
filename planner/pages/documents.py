"""What do people hold in their hands? Every paper as it will print, before anything is downloaded."""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Mapping
from datetime import date
from pathlib import Path

import streamlit as st

from planner.documents.jobs import Wanted, jobs
from planner.documents.preview import pages
from planner.documents.protocol_changes import changes
from planner.documents.write import Made, write
from planner.faults import FaultyInput
from planner.pages.common import files_mark, no_plan, open_study, plan_in_force, show_faults, visit_plans_of
from planner.protocol.read import read_protocol
from planner.schedule.model import Schedule
from planner.study.model import Study
from planner.timing.plan import VisitPlan

Plans = Mapping[str, VisitPlan]
WHOLE = "the whole study"
MIME = {"pdf": "application/pdf", "ics": "text/calendar"}


@st.cache_data(max_entries=64, show_spinner=False)
def _one(
    _study: Study, _schedule: Schedule, _plans: Plans, mark: object, paper: str, name: str, wanted: Wanted
) -> bytes:
    """The bytes of one paper."""
    made = jobs(_study, _schedule, _plans, wanted, paper=paper)
    return next(job.make() for job in made if job.name == name)


@st.cache_data(max_entries=64, show_spinner=False)
def _pictures(pdf: bytes) -> tuple[bytes, ...]:
    return pages(pdf)


def _choose(study: Study, schedule: Schedule) -> tuple[Wanted, str]:
    """For whom, for which day, on which paper."""
    whom, when, on = st.columns([2, 2, 1])
    people = [person.id for person in study.people]
    placed = {visit.participant for visit in schedule.visits}
    names = [WHOLE, *people, *(name for name in study.participants if name in placed)]
    chosen = whom.selectbox("For", names, key="documents-for", persist_state="session")
    days: list[date | None] = [None, *schedule.dates]
    day = when.selectbox(
        "Day",
        days,
        format_func=lambda d: f"{d:%A %d %B %Y}" if d else "all days",
        key="documents-day",
        index=1 if len(days) > 1 else 0,
        persist_state="session",
    )
    paper = on.radio(
        "Paper", ["A4", "Letter"], horizontal=True, key="documents-paper", persist_state="session"
    )
    person = chosen if chosen in people else None
    participant = chosen if chosen not in (WHOLE, *people) else None
    return Wanted(day, person, participant), paper.lower()


def _preview(name: str, content: bytes) -> None:
    """The paper as it prints; what is no page is described."""
    st.download_button(
        f"Download {name}", content, name, MIME.get(name.rpartition(".")[2], "application/octet-stream")
    )
    if not name.endswith(".pdf"):
        st.write("This file opens in another program: a calendar, a spreadsheet or a text processor.")
        return
    pictures = _pictures(content)
    for number, picture in enumerate(pictures, 1):
        words = f"{name}, page {number} of {len(pictures)}"
        st.image(
            picture,
            caption=words,
            alt=f"{words}, as it prints; the file itself has its text",
            width="stretch",
        )


def _all_of_it(study: Study, schedule: Schedule, plans: Plans, wanted: Wanted, paper: str) -> None:
    """Everything that is chosen, in one archive, made when it is asked for."""
    if not st.button("Make all of these papers", key="documents-make"):
        return
    bar = st.progress(0.0, "Making the papers")

    def tell(made: Made) -> None:
        bar.progress(made.done / made.of, str(made))

    with tempfile.TemporaryDirectory() as place:
        write(
            study,
            schedule,
            plans,
            Path(place),
            paper=paper,
            day=wanted.day,
            person=wanted.person,
            participant=wanted.participant,
            progress=tell,
        )
        held = io.BytesIO()
        with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
            for file in sorted(Path(place).rglob("*")):
                if file.is_file() and not file.name.startswith("."):
                    archive.write(file, file.relative_to(place))
    bar.empty()
    st.download_button("Download them (zip)", held.getvalue(), f"{study.name}_papers.zip", "application/zip")


def _versions(study: Study) -> None:
    """Two versions of a protocol: what changed, for an amendment."""
    with st.expander("More: what changed between two versions of a protocol"):
        old = st.file_uploader("The older version (YAML)", type=["yaml", "yml"], key="documents-old")
        name = st.selectbox("The version now", list(study.protocols), key="documents-new")
        if old is None or name is None:
            return
        with tempfile.TemporaryDirectory() as place:
            file = Path(place) / "older.yaml"
            file.write_bytes(old.getvalue())
            try:
                found = changes(read_protocol(file, shown=old.name), study.protocols[name])
            except FaultyInput as error:
                show_faults(error.faults)
                return
        for change in found:
            st.markdown(f"- {change}")
        if not found:
            st.write("Nothing changed.")


def page() -> None:
    """The page."""
    st.title("What do people hold in their hands?")
    study = open_study()
    schedule = plan_in_force(study)
    if schedule is None:
        no_plan()
        return
    plans = visit_plans_of(study)
    wanted, paper = _choose(study, schedule)
    names = [job.name for job in jobs(study, schedule, plans, wanted, paper=paper)]
    if not names:
        st.info("There is nothing to print for this choice. Choose another day or another person.")
        return
    listed, shown = st.columns([1, 2])
    with listed:
        st.write(f"{len(names)} papers, plan {schedule.version}")
        name = st.radio("Paper to look at", names, key="documents-name", label_visibility="collapsed")
        _all_of_it(study, schedule, plans, wanted, paper)
    with shown:
        with st.spinner("Setting the page", show_time=False):
            content = _one(
                study, schedule, plans, (files_mark(study.folder), schedule.version), paper, name, wanted
            )
        _preview(name, content)
    _versions(study)


page()
