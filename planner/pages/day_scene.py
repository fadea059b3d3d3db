"""What the parts of the Test day page share: the visit in hand, its plan, its record, who works here."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from threading import Thread

import streamlit as st

from planner.documents.shown import length_words
from planner.pages.common import plan_in_force, study_if_whole
from planner.record.actions import TestDay
from planner.record.drafts import Hand
from planner.record.dry_run import DryRun, dry_run
from planner.record.effort import VisitKey
from planner.record.engine import database_file
from planner.record.happenings import Happenings, newest, read_happenings
from planner.record.last_deed import LastDeed, last_deed
from planner.record.live import VisitNow, visit_now
from planner.record.parts import Part, Status
from planner.record.store import URL_NAME, Store, open_store
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study, Visit
from planner.timing.plan import Kind, VisitPlan

_Place = tuple[str, str, bool, str, str]  # folder, study, whether rehearsed, the server's URL, the file
_News = tuple[str, bool, VisitKey, str]  # which record and visit, and the hash of its last event


@st.cache_resource(max_entries=32, show_spinner=False)
def _happenings(news: _News, _store: Store) -> Happenings:
    """What the record holds of a visit; read again only when something has come."""
    return read_happenings(_store, news[2])


@st.cache_resource(max_entries=32, show_spinner=False)
def _last_deed(news: _News, _store: Store) -> LastDeed | None:
    return last_deed(_store, news[2])


@dataclass(frozen=True, slots=True)
class Scene:
    """One visit at one station. `number` is the visit's number in the plan, from 1."""

    study: Study
    schedule: Schedule
    plan: VisitPlan
    placed: PlacedVisit
    number: int
    visit: Visit
    store: Store
    hand: Hand
    run: DryRun | None

    def at(self, store: Store) -> Scene:
        """The same visit through another open record."""
        return replace(self, store=store)

    def now(self) -> datetime:
        """The server's clock, or the played one in a dry run."""
        real = self.store.now()
        return self.run.now(real) if self.run else real

    def look(self) -> VisitNow:
        """The visit as it stands now."""
        seen = _happenings(self._news(), self.store)
        return visit_now(self.store, self.visit, self.plan, self.placed, now=self.now(), happened=seen)

    def last_deed(self) -> LastDeed | None:
        """What could be taken back."""
        return _last_deed(self._news(), self.store)

    def _news(self) -> _News:
        key = VisitKey(self.visit.participant, self.visit.kind, self.visit.number)
        return str(self.store.engine.url), self.store.rehearsed, key, newest(self.store, key)

    def day(self, shown: VisitNow) -> TestDay:
        """What can be done, signed by who works here, on the devices chosen at this station."""
        return TestDay(self.store, shown, self.hand, chosen_devices(self.number))


def chosen_devices(number: int) -> dict[str, str]:
    """The devices chosen by hand for that visit, by class."""
    return st.session_state.setdefault("day-devices", {}).setdefault(number, {})  # type: ignore[no-any-return]


def is_rehearsed(study: Study) -> bool:
    """Whether what is recorded now goes to the rehearsal: always for an invented study."""
    return study.demo or dry_run(study) is not None


@contextmanager
def open_day(study: Study) -> Iterator[Store]:
    """The record that the test day writes to; it stays open between two looks."""
    yield replace(_open(study, rehearsed=is_rehearsed(study)), study=study)


def _open(study: Study, *, rehearsed: bool) -> Store:
    """Kept by where it stands: another file in its place, or another server, is another record."""
    url = os.environ.get(URL_NAME, "")
    file = database_file(study, rehearsed=rehearsed)
    place = "" if url else str(file.stat().st_ino if file.exists() else "")
    return _opened((str(study.folder), study.name, rehearsed, url, place), study)


@st.cache_resource(max_entries=8, show_spinner=False, on_release=Store.close)
def _opened(place: _Place, _study: Study) -> Store:
    store = open_store(_study, rehearsed=place[2])
    Thread(target=store.prepare, name="prepare-record", daemon=True).start()
    return store


def draw_ahead(folder: Path) -> None:
    """The record that the page opens, made where there is none yet, before anybody asks for it."""
    study = study_if_whole()
    if study is None or plan_in_force(study) is None:
        return
    for _ in range(2):  # where there was none, the second time knows it by the file that the first has made
        with open_day(study):
            pass


def visit_name(placed: PlacedVisit) -> str:
    """`rowing 2`, never the condition."""
    return placed.visit if placed.number is None else f"{placed.visit} {placed.number}"


def acting(shown: VisitNow, chosen: int | None = None) -> Part | None:
    """The part that the buttons are for: the one in hand; while the participant rests, the one after."""
    if shown.stopped or (shown.current is None and chosen is None):
        return None
    part = shown.parts[shown.current if chosen is None else chosen]  # type: ignore[index]
    return part if part.activity.kind is not Kind.REST else following(shown, part.index)


def following(shown: VisitNow, index: int) -> Part | None:
    """The next part after that one that is still to come; parts inside exercise only while it lasts."""
    around = shown.around if shown.around is not None else shown.current
    for part in shown.parts[index + 1 :]:
        reached = part.activity.inside in (None, around)
        if part.status is Status.TO_COME and reached and part.activity.kind is not Kind.REST:
            return part
    return None


def instead(shown: VisitNow, part: Part | None) -> Part | None:
    """The part to go on with where a time point was missed before it was begun: the next time point's first.

    None where nothing was missed, or nothing follows.
    """
    if part is None or part.status is not Status.TO_COME or shown.stopped:
        return None
    if part.due is None or part.due.word(shown.now) != "late":
        return None
    after = following(shown, part.index)
    while after is not None and _time_point(after) == _time_point(part):
        after = following(shown, after.index)
    return after


def _time_point(part: Part) -> tuple[str, int | None]:
    return part.activity.step, part.activity.at_s


def label(part: Part) -> str:
    """Its title with its time point: the same manoeuvre comes back several times after exercise."""
    at_s = part.activity.at_s
    return part.title + (f" ({length_words(at_s)})" if at_s is not None else "")


def text(words: str) -> str:
    """A study's own words as plain text inside Markdown."""
    return re.sub(r"([\\`*_{}\[\]()#+!|<>~$:-])", r"\\\1", words)


def clock_words(seconds: float) -> str:
    """Seconds as a clock that a person reads: 0:17, 12:05, 1:02:00."""
    whole = max(0, round(seconds))
    hours, rest = divmod(whole, 3600)
    minutes = f"{rest // 60}:{rest % 60:02}"
    return f"{hours}:{rest // 60:02}:{rest % 60:02}" if hours else minutes
