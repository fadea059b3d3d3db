"""Roles: who may do what, known by issuer and subject."""

from __future__ import annotations

import pytest

from planner.faults import FaultyInput
from planner.record.access import (
    Actor,
    Grant,
    Right,
    Role,
    known_as,
    read_grants,
    refuse_unless,
    write_grants,
)
from planner.record.troubles import RecordTrouble

ALLOWED = {
    Role.READER: {Right.READ},
    Role.TECHNICIAN: {Right.READ, Right.RECORD},
    Role.COORDINATOR: set(Right),
}


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("right", Right)
def test_each_role_may_what_it_needs_and_no_more(role, right):
    assert Actor("K1", role).may(right) is (right in ALLOWED[role])


def test_a_person_is_known_by_issuer_and_subject(tmp_path):
    grants = (Grant("https://id.example", "a1", "K1", Role.TECHNICIAN),
              Grant("https://other.example", "a1", "K2", Role.COORDINATOR))  # fmt: skip
    write_grants(tmp_path / "access.csv", grants)
    read = read_grants(tmp_path / "access.csv")
    assert read == grants
    assert known_as(read, "https://other.example", "a1") == Actor("K2", Role.COORDINATOR, "signed in")
    assert known_as(read, "https://id.example", "A1") is None
    assert (tmp_path / "access.csv").stat().st_mode & 0o077 == 0


def test_every_mistake_in_the_table_is_named(tmp_path):
    path = tmp_path / "access.csv"
    path.write_text("issuer,subject,person,role\nx,1,K1,chief\nx,2,,reader\nx,3,K3,reader\nx,3,K4,reader\n")
    with pytest.raises(FaultyInput) as caught:
        read_grants(path)
    assert [(fault.place.line, fault.code) for fault in caught.value.faults] == [
        (2, "role"), (3, "empty"), (5, "twice")
    ]  # fmt: skip


def test_a_refusal_is_recorded_with_who(store):
    from planner.record.tables import events_query

    with pytest.raises(RecordTrouble, match="It takes a coordinator"):
        refuse_unless(store, Actor("K1", Role.TECHNICIAN, "signed in"), Right.EXPORT)
    (denied,) = store.read(events_query())
    assert (denied.kind, denied.who, denied.who_how, denied.note) == ("denied", "K1", "signed in", "export")
