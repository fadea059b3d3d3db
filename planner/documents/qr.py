"""The square code on a run sheet: participant, visit and plan version, and nothing else."""

from __future__ import annotations

import io
import re
from typing import NamedTuple

import segno

_CODE = re.compile(r"testday:1:([A-Za-z0-9][\w-]{0,39}):([A-Za-z0-9][\w-]{0,49}):(\d{1,9})", re.ASCII)


class Code(NamedTuple):
    """What a code says: the participant, the visit as in file names (`rowing-2`), the plan's version."""

    participant: str
    visit: str
    version: int


def code_text(participant: str, visit: str, version: int) -> str:
    """The text inside the code, such as `testday:1:ROW-07:rowing-2:3` (1 is the form's own version)."""
    return f"testday:1:{participant}:{visit}:{version}"


def read_code(text: str) -> Code:
    """What a scanned (or typed) code says; ValueError where it is no code of a run sheet."""
    found = _CODE.fullmatch(text.strip())
    if not found:
        raise ValueError(
            f"{text.strip()[:60]!r} is not the code of a run sheet, such as 'testday:1:ROW-07:rowing-2:3'"
        )
    return Code(found[1], found[2], int(found[3]))


def code_svg(text: str) -> str:
    """The code as an SVG picture with its quiet zone; error correction of level M."""
    drawn = io.BytesIO()
    segno.make(text, error="m", micro=False).save(drawn, kind="svg", xmldecl=False, border=2)
    return drawn.getvalue().decode()
