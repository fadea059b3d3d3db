"""Who is at work here, and may they? Signed in where sign-in is set up, else a staff code is picked."""

from __future__ import annotations

import os
from pathlib import Path

import streamlit as st

from planner.faults import FaultyInput
from planner.pages.remember import remember
from planner.record.access import Actor, Right, Role, known_as, read_grants, refuse_unless
from planner.record.store import open_recorded
from planner.record.troubles import RecordTrouble
from planner.study.model import Study

GRANTS = "TESTDAY_ACCESS"  # names the table issuer,subject,person,role; else .testday/access.csv
PICKED = "access-person"


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
        st.button("Sign in", on_click=st.login, type="primary", key="access-sign-in")
        st.stop()
    issuer, subject = str(st.user.get("iss", "")), str(st.user.get("sub", ""))
    try:
        known = known_as(read_grants(_table(folder)), issuer, subject)
    except FaultyInput as error:
        st.error(f"The table of who may do what cannot be read. {error.faults[0].message}")
        st.stop()
    if known is None:
        st.error("You are signed in, but not known here. Give these two lines to a coordinator:")
        st.code(f"issuer: {issuer}\nsubject: {subject}")
        st.button("Sign out", on_click=st.logout, key="access-sign-out")
        st.stop()
    return known


def _table(folder: Path) -> Path:
    named = os.environ.get(GRANTS)
    return Path(named) if named else folder / ".testday" / "access.csv"


def may(study: Study, right: Right) -> bool:
    """Whether the person at work may do that; a refusal is said and recorded. Ask at each write and download.

    Where nobody signs in, this machine's user may do everything: whoever sits at it.
    """
    person = gate(study.folder)
    if person is None:
        return True
    try:
        with open_recorded(study) as store:
            refuse_unless(store, person, right)
    except RecordTrouble as trouble:
        st.error(trouble.message)
        return False
    return True
