"""What is wrong in a user's file, where, and what to do; collected, and raised all together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Place:
    """A place in a file: its name as the user wrote it, line and column counted from 1."""

    file: str
    line: int = 1
    column: int = 1


@dataclass(frozen=True, slots=True)
class Fault:
    """One mistake (or warning) in a file.

    `code` is a short word for programs, `message` says what was found and expected, `hint` what to
    do next (it may be empty).
    """

    place: Place
    code: str
    message: str
    hint: str = ""

    @property
    def words(self) -> str:
        """The message and what to do, as sentences."""
        if not self.hint:
            return self.message
        end = "" if self.message.endswith((".", "?", ";", ":")) else "."
        return f"{self.message}{end} {self.hint}"

    def as_json(self) -> dict[str, object]:
        """The five keys fixed by the formats: file, line, column, code, message (with its hint)."""
        return {
            "file": self.place.file,
            "line": self.place.line,
            "column": self.place.column,
            "code": self.code,
            "message": self.words,
        }

    def __str__(self) -> str:
        place = self.place
        return f"{place.file}:{place.line}:{place.column}: {self.words}"


class FaultyInput(Exception):  # noqa: N818 - names what the user handed in, not a slip of ours
    """Raised with every fault of the input, never with only the first."""

    def __init__(self, faults: Iterable[Fault], warnings: Iterable[Fault] = ()) -> None:
        self.faults = tuple(faults)
        self.warnings = tuple(warnings)
        super().__init__("\n".join(map(str, self.faults)))


@dataclass(slots=True)
class Faults:
    """Collects faults and warnings while a file is read."""

    faults: list[Fault] = field(default_factory=list)
    warnings: list[Fault] = field(default_factory=list)

    def add(self, place: Place, code: str, message: str, hint: str = "") -> None:
        """Note a fault."""
        self.faults.append(Fault(place, code, message, hint))

    def warn(self, place: Place, code: str, message: str, hint: str = "") -> None:
        """Note a warning: the input is taken all the same."""
        self.warnings.append(Fault(place, code, message, hint))

    def raise_if_any(self) -> None:
        """Raise `FaultyInput` with all faults, in the order of the file, if there is one."""
        if self.faults:
            in_order = sorted(self.faults, key=lambda f: (f.place.file, f.place.line, f.place.column))
            raise FaultyInput(in_order, self.warnings)
