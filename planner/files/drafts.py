"""What was typed and not yet saved, kept on disk; saving at once and whole; and the way back.

A draft of STUDY/x.yaml lies in STUDY/.testday/drafts/, every earlier text in STUDY/.testday/undo/, so
that neither a reload nor a mistake loses what was typed.
"""

from __future__ import annotations

import json
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

_MOST_STEPS = 100  # earlier texts of one file that are kept


def write_text(path: Path, text: str) -> None:
    """The text in that file, whole or not at all; what stood there before stays until then."""
    number, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    try:
        with os.fdopen(number, "w", encoding="utf-8", newline="") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, path.stat().st_mode & 0o777 if path.exists() else 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def text_in(path: Path) -> str:
    """The text of a file, bytes that are no UTF-8 shown as such; empty where there is no file."""
    try:
        return path.read_bytes().decode("utf-8-sig", "replace")
    except OSError:
        return ""


@dataclass(frozen=True, slots=True)
class Draft:
    """The working text of one file of a study; everything it knows lies on disk."""

    study: Path
    path: Path

    @property
    def text(self) -> str:
        """What is being worked on: the draft, or the file where there is none."""
        kept = self._kept()
        return text_in(self.path) if kept is None else kept["text"]

    @property
    def is_changed(self) -> bool:
        """Whether the draft says something else than the file."""
        kept = self._kept()
        return kept is not None and kept["text"] != text_in(self.path)

    @property
    def is_overtaken(self) -> bool:
        """Whether the file was changed by somebody else since the draft was begun."""
        kept = self._kept()
        return kept is not None and text_in(self.path) not in (kept["base"], kept["text"])

    def change(self, text: str) -> None:
        """Keep that text as the draft; the one before can be had back by `undo`."""
        before = self.text
        if text == before:
            return
        kept = self._kept()
        base = text_in(self.path) if kept is None else kept["base"]
        self._remember(before)
        self._keep(text, base)

    def save(self) -> None:
        """Put the draft into its file. The file's own text goes to the earlier ones if it is not there."""
        text = self.text
        if self.is_overtaken:
            self._remember(text_in(self.path))
        write_text(self.path, text)
        self._draft.unlink(missing_ok=True)

    def throw_away(self) -> None:
        """Go back to the file; the draft can still be had back by `undo`."""
        if self.is_changed:
            self._remember(self.text)
        self._draft.unlink(missing_ok=True)

    def can_undo(self) -> bool:
        """Whether there is an earlier text."""
        return bool(self._steps())

    def last_change(self) -> float:
        """When the last change was made, in seconds of the system's clock; 0 where there is none."""
        steps = self._steps()
        return steps[-1].stat().st_mtime if steps else 0.0

    def earlier(self) -> tuple[str, ...]:
        """The earlier texts that are kept, the newest first."""
        return tuple(text_in(step) for step in reversed(self._steps()))

    def undo(self) -> bool:
        """Work on the text before the last change again; the file changes only when it is saved."""
        steps = self._steps()
        if not steps:
            return False
        text, kept = text_in(steps[-1]), self._kept()
        steps[-1].unlink()
        self._keep(text, text_in(self.path) if kept is None else kept["base"])
        return True

    @property
    def _draft(self) -> Path:
        return self.study / ".testday" / "drafts" / f"{self._name}.json"

    @property
    def _name(self) -> str:
        """The file's name, with the folder's where it lies outside the study."""
        near = self.path.parent == self.study
        return self.path.name if near else f"{self.path.parent.name}+{self.path.name}"

    def _kept(self) -> dict[str, str] | None:
        try:
            found = json.loads(self._draft.read_text("utf-8"))
            return {"text": str(found["text"]), "base": str(found["base"])}
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def _keep(self, text: str, base: str) -> None:
        self._draft.parent.mkdir(parents=True, exist_ok=True)
        write_text(self._draft, json.dumps({"text": text, "base": base}, ensure_ascii=False))

    def _steps(self) -> list[Path]:
        return sorted((self.study / ".testday" / "undo" / self._name).glob("*.txt"))

    def _remember(self, text: str) -> None:
        steps = self._steps()
        folder = self.study / ".testday" / "undo" / self._name
        folder.mkdir(parents=True, exist_ok=True)
        number = int(steps[-1].stem) + 1 if steps else 1
        write_text(folder / f"{number:06}.txt", text)
        for old in steps[: max(0, len(steps) + 1 - _MOST_STEPS)]:
            old.unlink(missing_ok=True)
