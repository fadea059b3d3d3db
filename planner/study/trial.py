"""The study as it would be with texts that are not saved yet: `read_trial(folder, texts) -> Study`."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from planner.study.model import Study
from planner.study.read import STUDY_FILE, read_study

_UP = re.compile(r"\.\./(?:[^/\\:\s,{}\[\]\"']+/)?[^/\\:\s,{}\[\]\"']+")


def read_trial(folder: Path, texts: Mapping[str, str]) -> Study:
    """The study with these texts in place of files of the same name. Raises FaultyInput as `read_study`."""
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place) / "studies" / folder.name
        copy.mkdir(parents=True)
        for path in folder.iterdir():
            if path.is_file() and not path.is_symlink() and path.name not in texts:
                _take(path, copy / path.name)
        for name, text in texts.items():
            (copy / name).write_text(text, encoding="utf-8", newline="")
        study = copy / STUDY_FILE
        for name in set(_UP.findall(study.read_text("utf-8", "replace"))) if study.exists() else ():
            source, target = folder / name, copy / name
            is_link = source.is_symlink() or source.parent.is_symlink()
            if source.is_file() and not is_link and not target.exists():
                target.parent.mkdir(parents=True, exist_ok=True)
                _take(source, target)
        return read_study(copy)


def _take(source: Path, target: Path) -> None:
    """A second name for the same file where the disk allows it, else a copy."""
    try:
        os.link(source, target)
    except OSError:
        shutil.copyfile(source, target)
