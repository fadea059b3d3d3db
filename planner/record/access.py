"""Who may do what: reader, technician, coordinator; asked again at each write, and refusals are recorded."""

from __future__ import annotations

import csv
import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from planner.faults import Faults
from planner.files import read_table
from planner.record.events import Content, Draft, Kind
from planner.record.troubles import RecordTrouble

if TYPE_CHECKING:
    from planner.record.store import Store


class Role(StrEnum):
    """What a person may do; each may also do what those before it may."""

    READER = "reader"
    TECHNICIAN = "technician"
    COORDINATOR = "coordinator"


class Right(StrEnum):
    """A deed that needs a role."""

    READ = "read"
    RECORD = "record"
    EXPORT = "export"
    EDIT = "change the study's files"
    PLAN = "put a plan in force"
    REMOVE = "remove a participant's readings"
    RESTORE = "restore a backup"


_NEEDS = {
    Right.READ: Role.READER,
    Right.RECORD: Role.TECHNICIAN,
    Right.EXPORT: Role.COORDINATOR,
    Right.EDIT: Role.COORDINATOR,
    Right.PLAN: Role.COORDINATOR,
    Right.REMOVE: Role.COORDINATOR,
    Right.RESTORE: Role.COORDINATOR,
}
_ORDER = tuple(Role)


@dataclass(frozen=True, slots=True)
class Actor:
    """A person at work: staff code, role, and how they are known; a picked code proves nothing."""

    code: str
    role: Role
    how: Literal["signed in", "picked"] = "picked"

    def may(self, right: Right) -> bool:
        """Whether the role allows that deed."""
        return _ORDER.index(self.role) >= _ORDER.index(_NEEDS[right])

    def sign(self, draft: Draft) -> Draft:
        """The draft with this person's name under it."""
        return replace(draft, by=self.code, by_how=self.how)


def needed(right: Right) -> Role:
    """The least role that may do that."""
    return _NEEDS[right]


def refuse_unless(store: Store, actor: Actor, right: Right) -> None:
    """RecordTrouble where the role does not allow the deed; the refusal is recorded."""
    if actor.may(right):
        return
    store.append([actor.sign(denial(right))])
    raise refusal(actor, right)


def denial(right: Right) -> Draft:
    """What is recorded where somebody may not do that."""
    return Draft(Kind.DENIED, content=Content(note=str(right)))


def refusal(actor: Actor, right: Right) -> RecordTrouble:
    """What they are told."""
    return RecordTrouble("not-allowed", f"a {actor.role} may not {right}.", f"It takes a {_NEEDS[right]}.")


def is_this_machine(host: str) -> bool:
    """Whether only programs on this machine reach that address."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


@dataclass(frozen=True, slots=True)
class Grant:
    """A signed-in person, known by issuer and subject, never by e-mail, with staff code and role."""

    issuer: str
    subject: str
    code: str
    role: Role


def read_grants(path: Path) -> tuple[Grant, ...]:
    """The table `issuer,subject,person,role`; FaultyInput with every mistake in it."""
    faults = Faults()
    table = read_table(path, faults, needed=("issuer", "subject", "person", "role"))
    grants = []
    seen: set[tuple[str, str]] = set()
    for row in table.rows if table else ():
        cells = row.cells
        who = (cells["issuer"], cells["subject"])
        if cells["role"] not in _ORDER:
            known = ", ".join(_ORDER)
            faults.add(
                row.place("role"), "role", f"there is no role {cells['role']!r}", f"Known are {known}."
            )
        elif not all(who) or not cells["person"]:
            faults.add(row.place("issuer"), "empty", "issuer, subject and person must be filled")
        elif who in seen:
            faults.add(row.place("subject"), "twice", "this issuer and subject stand here again")
        else:
            grants.append(Grant(*who, cells["person"], Role(cells["role"])))
        seen.add(who)
    faults.raise_if_any()
    return tuple(grants)


def known_as(grants: Iterable[Grant], issuer: str, subject: str) -> Actor | None:
    """The person of that issuer and subject, or None: signed in, but not known here."""
    for grant in grants:
        if (grant.issuer, grant.subject) == (issuer, subject):
            return Actor(grant.code, grant.role, "signed in")
    return None


def write_grants(path: Path, grants: Iterable[Grant]) -> None:
    """Write the table for its owner alone."""
    import io

    from planner.record.efforts_file import safe, write_whole

    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(("issuer", "subject", "person", "role"))
    writer.writerows([safe(g.issuer), safe(g.subject), safe(g.code), str(g.role)] for g in grants)
    write_whole(path, text.getvalue())
