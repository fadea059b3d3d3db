"""What the Documents page shows, made once for all sessions: the papers of a choice, the bytes of each."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import NamedTuple

import streamlit as st

from planner.documents.jobs import Job, Kind, Wanted, jobs, study_jobs
from planner.documents.preview import pages
from planner.pages.as_it_stands import broken_now
from planner.pages.common import plan_in_force, study_if_whole, visit_plans_of
from planner.pages.drawing import plan_mark
from planner.schedule.as_it_stands import strange
from planner.schedule.model import Schedule
from planner.study.model import Study
from planner.timing.plan import VisitPlan

Plans = Mapping[str, VisitPlan]
PAPER = "a4"  # that the page opens with


class Paper(NamedTuple):
    """One paper that can be looked at: its file name, its kind, and whose or for when it is."""

    name: str
    kind: Kind
    words: str


@st.cache_data(max_entries=64, show_spinner=False)
def bytes_of(
    _study: Study, _schedule: Schedule, _plans: Plans, mark: object, paper: str, name: str, wanted: Wanted
) -> bytes:
    """The bytes of one paper."""
    made = _jobs(_study, _schedule, _plans, paper, wanted)
    return next(job.make() for job in made if job.name == name)


def _jobs(study: Study, schedule: Schedule, plans: Plans, paper: str, wanted: Wanted) -> Sequence[Job]:
    """All papers of that choice; for a day, those of the whole study stand after its own."""
    return [*jobs(study, schedule, plans, wanted, paper=paper), *of_the_study(study, schedule, wanted)]


def of_the_study(study: Study, schedule: Schedule, wanted: Wanted) -> Sequence[Job]:
    """What is about the whole study, where a day is chosen and nobody in particular."""
    if wanted.day is None or wanted.person is not None or wanted.participant is not None:
        return ()
    return tuple(study_jobs(study, schedule))


@st.cache_resource(max_entries=64, show_spinner=False)
def papers(
    _study: Study, _schedule: Schedule, _plans: Plans, mark: object, paper: str, wanted: Wanted
) -> Mapping[Kind, tuple[Paper, ...]]:
    """All papers of that choice, by kind."""
    found: dict[Kind, list[Paper]] = {}
    for job in _jobs(_study, _schedule, _plans, paper, wanted):
        found.setdefault(job.kind, []).append(Paper(job.name, job.kind, job.words))
    return {kind: tuple(papers) for kind, papers in found.items()}


@st.cache_resource(max_entries=8, show_spinner=False)
def days_and_participants(_schedule: Schedule, mark: object) -> tuple[tuple[date, ...], frozenset[str]]:
    """The days of the plan and its participants."""
    return _schedule.dates, frozenset(visit.participant for visit in _schedule.visits)


@st.cache_data(max_entries=64, show_spinner=False)
def pictures(pdf: bytes) -> tuple[bytes, ...]:
    """The pages of a PDF as pictures."""
    return pages(pdf)


def draw_ahead(folder: Path) -> None:
    """The paper that the page opens with, before anybody asks for it: the first of the plan's first day."""
    study = study_if_whole()
    schedule = plan_in_force(study) if study else None
    if study is None or schedule is None or not schedule.dates:
        return
    plans, mark = visit_plans_of(study, schedule), plan_mark(study, schedule)
    if strange(broken_now(study, schedule, plans, mark)):
        return
    wanted = Wanted(days_and_participants(schedule, mark)[0][0])
    first = next(iter(papers(study, schedule, plans, mark, PAPER, wanted).values()))[0]
    time.sleep(0.05)  # whoever waits for a page comes first
    content = bytes_of(study, schedule, plans, mark, PAPER, first.name, wanted)
    if first.name.endswith(".pdf"):
        pictures(content)
