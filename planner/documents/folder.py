"""A folder of documents: what a person changed by hand is never overwritten, what is outdated steps aside."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from pathlib import Path

from planner.documents.texts import say

_LIST = ".documents.json"


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


class Folder:
    """Writes files and remembers in a hidden list what it wrote, so that changes by hand are seen."""

    def __init__(self, path: Path, study: str) -> None:
        self.path = path
        self.study = study
        path.mkdir(parents=True, exist_ok=True)
        self.known = self._read_list()
        self.beside: dict[str, str] = {}
        self.retired: list[str] = []
        self.kept: list[str] = []

    def _read_list(self) -> dict[str, str]:
        """The digests of what this study wrote here before; a damaged list counts as none."""
        try:
            found = json.loads((self.path / _LIST).read_text("utf-8"))
            return dict(found["files"]) if found["study"] == self.study else {}
        except (OSError, ValueError, KeyError, TypeError):
            return {}

    def _is_ours(self, name: str) -> bool:
        """Whether the file is as we wrote it."""
        path = self.path / name
        return name in self.known and path.is_file() and _digest(path.read_bytes()) == self.known[name]

    def put(self, name: str, content: bytes) -> Path:
        """Write the file, beside the old one where a person changed that; the path that was written."""
        target = self._free_name(name, content)
        if target != name:
            self.beside[name] = target
        path = self.path / target
        if not path.is_file() or path.read_bytes() != content:
            _write_whole(path, content)
        self.known[target] = _digest(content)
        return path

    def _free_name(self, name: str, content: bytes) -> str:
        stem, suffix = Path(name).stem, Path(name).suffix
        tried, number = name, 1
        while not self._may_be_written(tried, content):
            key = "folder.new" if number == 1 else "folder.new_again"
            tried = say(key, stem=stem, suffix=suffix, number=number)
            number += 1
        return tried

    def _may_be_written(self, name: str, content: bytes) -> bool:
        path = self.path / name
        if not path.exists() or self._is_ours(name):
            return True
        return path.is_file() and path.read_bytes() == content

    def retire(self, current: Iterable[str]) -> None:
        """Move what earlier plans left here, and this one did not make, aside; nothing is deleted."""
        outdated = sorted(set(self.known) - set(current))
        for name in outdated:
            if self._is_ours(name):
                _move_aside(self.path / name, self.path / say("folder.replaced"))
                self.retired.append(name)
                del self.known[name]
            elif (self.path / name).exists():
                self.kept.append(name)
            else:
                del self.known[name]

    def close(self) -> None:
        """Remember what was written."""
        document = {"study": self.study, "files": dict(sorted(self.known.items()))}
        _write_whole(self.path / _LIST, json.dumps(document, indent=1).encode())


def _move_aside(path: Path, folder: Path) -> None:
    folder.mkdir(exist_ok=True)
    target, number = folder / path.name, 1
    while target.exists():
        number += 1
        target = folder / f"{path.stem} ({number}){path.suffix}"
    path.rename(target)


def _write_whole(path: Path, content: bytes) -> None:
    """The whole file or none of it: a half sheet would be printed by somebody in a hurry."""
    beside = path.with_name(f".{path.name}.part")
    beside.write_bytes(content)
    beside.replace(path)
