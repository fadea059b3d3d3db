"""The decoded text of a file, or why it cannot be read."""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path

from planner.faults import Faults, Place

_REFUSED = re.compile("[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def text_of(path: Path, file: str, faults: Faults, most: int, most_words: str) -> str | None:
    """The decoded text of a regular file of at most that many bytes, byte-order mark removed."""
    data = _bytes(path, file, faults, most, most_words)
    if data is None:
        return None
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        faults.add(Place(file), "encoding", "the file is in UTF-16", "Save it as UTF-8.")
        return None
    try:
        text = data.removeprefix(b"\xef\xbb\xbf").decode()
    except UnicodeDecodeError as error:
        place = place_in(error.object[: error.start].decode(), file)
        faults.add(place, "encoding", "a character here is not UTF-8", "Save the file as UTF-8.")
        return None
    if refused := _REFUSED.search(text):
        place = place_in(text[: refused.start()], file)
        code = f"U+{ord(refused[0]):04X}"
        faults.add(place, "control-character", f"the control character {code} stands here", "Remove it.")
        return None
    return text


def without_refused(text: str) -> tuple[str, str]:
    """The text without characters that no document can hold, and the name of the first such one, or ""."""
    found = _REFUSED.search(text)
    return (_REFUSED.sub("", text), f"U+{ord(found[0]):04X}") if found else (text, "")


def _bytes(path: Path, file: str, faults: Faults, most: int, most_words: str) -> bytes | None:
    try:
        mode = os.stat(path).st_mode
        if not stat.S_ISREG(mode):  # a pipe or device would block or never end
            what = "a folder" if stat.S_ISDIR(mode) else "no ordinary file"
            faults.add(Place(file), "not-a-file", f"{file} is {what}", "Name a file.")
            return None
        with open(path, "rb") as stream:
            data = stream.read(most + 1)
    except (FileNotFoundError, NotADirectoryError):
        faults.add(Place(file), "no-file", f"there is no file {file}", nearest_file(path))
        return None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "its name is not one"
        faults.add(Place(file), "unreadable", f"{file} cannot be read: {why}")
        return None
    if len(data) > most:
        faults.add(Place(file), "too-big", f"{file} is larger than {most_words}", "It was not read.")
        return None
    return data


def place_in(before: str, file: str) -> Place:
    """The place that follows a piece of text."""
    lines = re.split("\r\n|\n|\r", before)
    return Place(file, len(lines), len(lines[-1]) + 1)


def nearest_file(path: Path) -> str:
    """A hint naming the file of that folder whose name comes nearest, or nothing."""
    from difflib import get_close_matches

    try:
        names = sorted(name for name in os.listdir(path.parent) if name.endswith(path.suffix or "."))
    except (OSError, ValueError):
        return ""
    near = get_close_matches(path.name, names[:1000], 1)
    return f"Did you mean {near[0]}?" if near else ""
