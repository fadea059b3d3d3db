"""The files of one study: each is read once through here, so that all are in the fingerprint."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from planner.faults import Faults, FaultyInput, Place
from planner.files import Table, inside
from planner.protocol.model import Protocol
from planner.study.tables import read_any_table


@dataclass
class Source:
    """The study folder, the faults found so far, and what has been read from where."""

    folder: Path
    faults: Faults
    read: dict[str, Path] = field(default_factory=dict)
    protocols: dict[str, Protocol | None] = field(default_factory=dict)

    def table(
        self, name: str, place: Place, *, needed: Sequence[str], optional: Sequence[str] = ()
    ) -> Table | None:
        """The table of that name; None with a fault where it cannot be read. `place` names it."""
        path = inside(self.folder, name, place, self.faults)
        if path is None:
            return None
        self.read[name] = path
        return read_any_table(path, self.faults, needed=needed, optional=optional, shown=name)

    def protocol(self, name: str, place: Place) -> Protocol | None:
        """The protocol of that file name; None where it has faults, which are noted once."""
        from planner.protocol.read import read_protocol

        if name not in self.protocols:
            self.protocols[name] = None
            if path := inside(self.folder, name, place, self.faults):
                self.read[name] = path
                try:
                    self.protocols[name] = found = read_protocol(path, shown=name)
                    self.faults.warnings += found.warnings
                except FaultyInput as faulty:
                    self.faults.faults += faulty.faults
                    self.faults.warnings += faulty.warnings
        return self.protocols[name]

    def fingerprint(self) -> str:
        """SHA-256 over the names and contents of all files read, in hexadecimal."""
        whole = hashlib.sha256()
        for name in sorted(self.read):
            whole.update(f"{name}\0".encode())
            whole.update(_digest(self.read[name]))
        return whole.hexdigest()


def _digest(path: Path) -> bytes:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").digest()
