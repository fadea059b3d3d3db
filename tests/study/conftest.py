"""A copy of the small study that tests may spoil."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from planner.faults import Fault, FaultyInput
from planner.study.model import Study
from planner.study.read import read_study


class Folder:
    """A study folder with ways to change its files and to read it."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def write(self, file: str, text: str) -> Folder:
        """One file anew."""
        (self.path / file).write_text(text, "utf-8")
        return self

    def replace(self, file: str, old: str, new: str) -> Folder:
        """Words of one file replaced, once."""
        text = (self.path / file).read_text("utf-8")
        assert old in text, f"{old!r} is not in {file}"
        return self.write(file, text.replace(old, new, 1))

    def add(self, file: str, line: str) -> Folder:
        """A line at the end of one file."""
        return self.write(file, (self.path / file).read_text("utf-8") + line + "\n")

    def study(self) -> Study:
        """The study; it must be sound."""
        return read_study(self.path)

    def faults(self) -> tuple[Fault, ...]:
        """Its faults; there must be some."""
        with pytest.raises(FaultyInput) as caught:
            read_study(self.path)
        return caught.value.faults

    def fault(self) -> Fault:
        """Its only fault."""
        faults = self.faults()
        assert len(faults) == 1, [str(one) for one in faults]
        return faults[0]

    def where(self, fault: Fault) -> str:
        """The text that stands where the fault points."""
        lines = (self.path / fault.place.file).read_text("utf-8-sig").splitlines()
        return lines[fault.place.line - 1][fault.place.column - 1 :]


@pytest.fixture
def folder(small: Path) -> Folder:
    """The small study's folder."""
    return Folder(small)


@pytest.fixture
def spoilt(folder: Folder) -> Callable[..., Fault]:
    """The one fault after a replacement: spoilt("staff.csv", "K1", "K 1")."""

    def read(file: str, old: str, new: str) -> Fault:
        return folder.replace(file, old, new).fault()

    return read
