"""The rule for references from one file to another."""

from __future__ import annotations

import re
from pathlib import Path

from planner.faults import Faults, Place
from planner.files.text import nearest_file

_NAME = re.compile(r"(?:\.\./(?:[^/\\:\x00-\x1f]+/)?)?[^/\\:\x00-\x1f]+")


def inside(folder: Path, name: str, place: Place, faults: Faults) -> Path | None:
    """The path of a file that a study names, or None with a fault: a plain name in the folder or one up.

    `../x.yaml` and `../protocols/x.yaml` are one folder up. Links are not followed.
    """
    if not _NAME.fullmatch(name) or any(
        part in ("", ".", "..") for part in name.removeprefix("../").split("/")
    ):
        words = f"{name!r} is not a plain file name in the study folder or one folder up"
        faults.add(place, "outside", words, "Write it as 'x.yaml' or '../protocols/x.yaml'.")
        return None
    path = folder / name
    steps = name.removeprefix("../").split("/")
    base = folder / ".." if name.startswith("../") else folder
    for end in range(1, len(steps) + 1):
        if (base.joinpath(*steps[:end])).is_symlink():
            faults.add(
                place, "link", f"{name!r} is a link, and links are not followed", "Copy the file here."
            )
            return None
    if not path.is_file():
        faults.add(place, "no-file", f"there is no file {name!r}", nearest_file(path))
        return None
    return path
