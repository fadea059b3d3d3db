"""Who is at work here, and may they? Signed in where sign-in is set up, else a staff code is picked."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TypedDict

import streamlit as st

from planner.faults import FaultyInput
from planner.pages.common import study_folder
from planner.pages.remember import remember
from planner.record.access import (
    Actor,
    Right,
    Role,
    denial,
    is_this_machine,
    known_as,
    needed,
    read_grants,
    refusal,
)
from planner.record.events import Content, Draft, Kind
from planner.study.model import Study
from planner.study.read import read_study

LOG = logging.getLogger(__name__)

GRANTS = "TESTDAY_ACCESS"  # names the table issuer,subject,person,role; else .testday/access.csv
PICKED = "access-person"
# What is done on a page, by its address.
WORKED_ON = {"protocol": Right.EDIT, "study": Right.EDIT, "schedule": Right.PLAN, "day": Right.RECORD}


def sign_in_is_asked() -> bool:
    """Whether the server was set up with a provider to sign in with."""
    try:
        return "auth" in st.secrets
    except FileNotFoundError:
        return False


def actor(study: Study) -> Actor | None:
    """The person at work: signed in, or as picked on this machine; None where nobody is picked yet.

    Where sign-in is asked and the person is not signed in, or not known here, the page ends.
    """
    if sign_in_is_asked():
        return gate(study.folder)
    code = st.session_state.get(PICKED)
    return Actor(code, Role.COORDINATOR) if code in {person.id for person in study.people} else None


def pick(study: Study) -> Actor | None:
    """A choice of staff code where nobody signs in; who is signed in is only named."""
    known = actor(study)
    if known and known.how == "signed in":
        st.write(f"**{known.code}**, {known.role}")
        st.button("Sign out", on_click=st.logout, key="access-leave")
        return known
    st.selectbox(
        "Who records?",
        [person.id for person in study.people],
        index=None,
        placeholder="Staff code",
        key=PICKED,
        persist_state="session",
        help="A code that is picked proves nothing: the record says so beside every line.",
    )
    remember(PICKED, {person.id for person in study.people})
    return actor(study)


def gate(folder: Path) -> Actor | None:
    """Who is signed in; None where nobody needs to be. Who is not, or is not known here, sees no page."""
    if not sign_in_is_asked():
        return None
    if not st.user.get("is_logged_in", False):
        st.write("This study is open to people who are signed in.")
        st.button("Sign in", on_click=st.login, key="access-sign-in")
        st.stop()
    issuer, subject = str(st.user.get("iss", "")), str(st.user.get("sub", ""))
    table = _table(folder)
    try:
        known = known_as(read_grants(table), issuer, subject) if table.exists() else None
    except FaultyInput as error:
        st.error(f"The table of who may do what cannot be read. {error.faults[0].message}")
        st.stop()
    if known is None:
        st.error("You are signed in, but not known here. Give these two lines to a coordinator:")
        st.code(f"issuer: {issuer}\nsubject: {subject}")
        if not table.exists():
            st.write("Nobody is known here yet: the table of who may do what is still to be written.")
        st.button("Sign out", on_click=st.logout, key="access-sign-out")
        _keep_refusal(folder, _stranger(issuer, subject))
        st.stop()
    return known


def is_reader() -> bool:
    """Whether the person at work may look and take files along, and nothing else."""
    person = gate(study_folder())
    return person is not None and person.role is Role.READER


def say_reading(page: str) -> None:
    """Tells who may only look at a page made for deeds that none of them is theirs: before they press."""
    person = gate(study_folder())
    right = WORKED_ON.get(page)
    if person is not None and right is not None and not person.may(right):
        st.info(
            f"You are signed in as a {person.role}: you may look at everything here and take papers along. "
            f"What would change, make or record something on this page takes a {needed(right)}."
        )


def why_not(right: Right) -> str:
    """Who it takes, where the person at work may not do that; empty where they may. Nothing is recorded."""
    person = gate(study_folder())
    return "" if person is None or person.may(right) else f"This takes a {needed(right)}."


class Pressed(TypedDict):
    """What a button or field of a deed is told."""

    disabled: bool
    help: str | None


def deed(right: Right, *, disabled: bool = False, hint: str | None = None) -> Pressed:
    """For a button or field: it cannot be used by who may not do that, and says whom it takes."""
    why = why_not(right)
    return {"disabled": disabled or bool(why), "help": why or hint}


def _stranger(issuer: str, subject: str) -> Draft:
    """Who was signed in and not let in; recorded once a day."""
    words = f"open the study; not known here: {issuer} {subject}"
    token = f"stranger/{issuer}/{subject}/{datetime.now(UTC):%Y-%m-%d}"
    return Draft(Kind.DENIED, by_how="signed in", content=Content(note=words), token=token)


def refuse_open_network() -> None:
    """The page ends where others on the network could open it and nobody signs in."""
    if not st.runtime.exists() or sign_in_is_asked():
        return
    if not is_this_machine(str(st.get_option("server.address") or "")):
        st.error(
            "This app listens on a network, and nobody is asked to sign in: it shows nothing. Start it with "
            "`testday open STUDY`, which listens on this machine only, or with `--sign-in`."
        )
        st.stop()


def _table(folder: Path) -> Path:
    named = os.environ.get(GRANTS)
    return Path(named) if named else folder / ".testday" / "access.csv"


def may(study: Study, right: Right) -> bool:
    """Whether the person at work may do that; a refusal is said and recorded. Ask at each write and download.

    Where nobody signs in, this machine's user may do everything: whoever sits at it.
    """
    return may_in(study.folder, right, study)


def may_in(folder: Path, right: Right, study: Study | None = None) -> bool:
    """The same for the study in that folder, whose files may be faulty at the moment."""
    person = gate(folder)
    if person is None or person.may(right):
        return True
    st.error(refusal(person, right).message)
    _keep_refusal(folder, person.sign(denial(right)), study)
    return False


def may_edit() -> bool:
    """Whether the person at work may change the files of the open study."""
    return may_in(study_folder(), Right.EDIT)


def _keep_refusal(folder: Path, draft: Draft, study: Study | None = None) -> None:
    """Record it; where the record cannot be opened now, the refusal stands all the same."""
    from planner.record.store import open_recorded  # the database is read in by who needs it, not by all

    try:
        with open_recorded(study or read_study(folder)) as store:
            store.append([draft])
    except FaultyInput as error:
        LOG.warning("a refusal could not be recorded: %s", error.faults[0].code)


def checked(right: Right, content: bytes | Callable[[], str | bytes]) -> Callable[[], str | bytes]:
    """A download's content, handed over only where the person may have it at the moment they ask for it."""

    def hand_over() -> str | bytes:
        if not may_in(study_folder(), right):
            raise PermissionError("not allowed")
        return content() if callable(content) else content

    return hand_over
