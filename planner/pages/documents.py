"""What do people hold in their hands? Every paper as it will print, before anything is downloaded."""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Mapping, Sequence
from datetime import date
from functools import partial
from pathlib import Path

import streamlit as st

from planner.documents.ethics_pdf import ethics_pdf
from planner.documents.jobs import WHOLE, Kind, Wanted
from planner.documents.protocol_changes import changes
from planner.documents.shown import date_words
from planner.documents.write import Made, write
from planner.faults import FaultyInput
from planner.pages.access import checked, is_reader
from planner.pages.arrival import title
from planner.pages.as_it_stands import stands
from planner.pages.common import (
    keep_address,
    no_plan,
    open_study,
    plan_in_force,
    show_faults,
    visit_plans_of,
)
from planner.pages.documents_made import (
    Paper,
    Plans,
    bytes_of,
    days_and_participants,
    of_the_study,
    papers,
)
from planner.pages.documents_shown import show_paper
from planner.pages.drawing import plan_mark
from planner.pages.fold import fold
from planner.protocol.read import read_protocol
from planner.record.access import Right
from planner.schedule.model import Schedule
from planner.study.model import Study

DAY, KIND, PAPER = "documents-day", "documents-kind", "documents-paper"
PAPERS = ("A4", "Letter")


def _choose(study: Study, schedule: Schedule) -> tuple[Wanted, str]:
    """For whom, for which day, on which paper."""
    whom, when, on = st.columns([2, 2, 1])
    if PAPER not in st.session_state:
        asked = st.query_params.get("paper", "")
        st.session_state[PAPER] = next((one for one in PAPERS if one.lower() == asked), PAPERS[0])
    people = [person.id for person in study.people]
    dates, placed = days_and_participants(schedule, plan_mark(study, schedule))
    names = [WHOLE, *people, *(name for name in study.participants if name in placed)]
    chosen = whom.selectbox("For", names, key="documents-for", persist_state="session")
    day = _day(when, [None, *dates])
    paper = on.radio("Paper", PAPERS, horizontal=True, key=PAPER, persist_state="session")
    person = chosen if chosen in people else None
    participant = chosen if chosen not in (WHOLE, *people) else None
    return Wanted(day, person, participant), paper.lower()


def _day(place: st.delta_generator.DeltaGenerator, days: Sequence[date | None]) -> date | None:
    """The day chosen, at first that of the address, else the first of the plan."""
    known = {day.isoformat() if day else "all": day for day in days}
    if DAY not in st.session_state or st.session_state[DAY] not in days:
        st.session_state[DAY] = known.get(st.query_params.get("day", ""), days[1] if len(days) > 1 else None)
    return place.selectbox(
        "Day",
        days,
        format_func=lambda day: date_words(day) if day else "all days",
        key=DAY,
        persist_state="session",
    )


def _kind(found: Mapping[Kind, Sequence[Paper]]) -> Kind:
    """The kind of paper to look at, at first that of the address; a reader comes for the ethics text."""
    if KIND not in st.session_state:
        asked = st.query_params.get("kind", Kind.ETHICS.in_address if is_reader() else "")
        if named := [kind for kind in found if kind.in_address == asked]:
            st.session_state[KIND] = named[0]
    counts = {
        kind: f"{kind} ({len(of_it)})" if len(of_it) > 1 else str(kind) for kind, of_it in found.items()
    }
    kind = st.radio("Kind of paper", list(found), format_func=counts.__getitem__, key=KIND, horizontal=True)
    return kind or next(iter(found))


def _paper(of_it: Sequence[Paper]) -> Paper:
    """Whose paper it is, where there are several of the kind."""
    if len(of_it) == 1:
        return of_it[0]
    return st.selectbox(
        "Which of them", of_it, format_func=lambda one: one.words, key=f"documents-{of_it[0].kind}"
    )


def _keep_address(day: date | None, kind: Kind, paper: str) -> None:
    """What is looked at can be bookmarked; for whom never is, since an address holds nobody's code."""
    told = {"day": day.isoformat() if day else "all", "kind": kind.in_address, "paper": paper}
    keep_address("documents", told)


def _all_of_it(study: Study, schedule: Schedule, plans: Plans, wanted: Wanted, paper: str) -> None:
    """Everything that is chosen, in one archive, made when it is asked for."""
    if not st.button("Make all papers", key="documents-make"):
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
            for job in of_the_study(study, schedule, wanted):
                archive.writestr(job.name, job.make())
    bar.empty()
    archived = checked(Right.READ, held.getvalue())
    st.download_button("Download them (zip)", archived, f"{study.name}_papers.zip", "application/zip")


def _versions(study: Study) -> None:
    """Two versions of a protocol: what changed, for an amendment."""
    place = fold("More: what changed between two versions of a protocol", "documents-more-versions")
    if place is None:
        return
    with place:
        old = st.file_uploader("The older version (YAML)", type=["yaml", "yml"], key="documents-old")
        name = st.selectbox("The version now", list(study.protocols), key="documents-new")
        if old is None or name is None:
            return
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "older.yaml"
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
    title("What do people hold in their hands?")
    study = open_study()
    schedule = plan_in_force(study)
    if schedule is None:
        no_plan()
        return
    plans = visit_plans_of(study, schedule)
    mark = plan_mark(study, schedule)
    if not stands(study, schedule, plans):
        _versions(study)
        return
    wanted, paper = _choose(study, schedule)
    found = papers(study, schedule, plans, mark, paper, wanted)
    if not found:
        st.info("There is nothing to print for this choice. Choose another day or another person.")
        return
    kind = _kind(found)
    _keep_address(wanted.day, kind, paper)
    of_it = found[kind]
    beside = st.columns([3, 1], vertical_alignment="bottom") if len(of_it) > 1 else [st.container()]
    with beside[0]:
        chosen = _paper(of_it)
    with beside[-1]:
        _all_of_it(study, schedule, plans, wanted, paper)
    with st.spinner("Setting the page", show_time=False):
        content = bytes_of(study, schedule, plans, mark, paper, chosen.name, wanted)
    as_pages = partial(ethics_pdf, study, schedule, paper=paper) if kind is Kind.ETHICS else None
    show_paper(chosen.name, f"{chosen.kind}: {chosen.words}", content, as_pages)
    _versions(study)


page()
