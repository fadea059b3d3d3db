"""The one call to the typesetter: a template and its values to a tagged PDF with every font embedded."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from pathlib import Path

import typst

HERE = Path(__file__).parent
STANDARDS: tuple[typst.PDFStandard, ...] = ("ua-1", "a-2a")
PAPERS = {"a4": "a4", "letter": "us-letter"}


@cache
def _fonts(with_system: bool) -> typst.Fonts:
    """The faces shipped with the product; those of the machine only where a letter is in none of them."""
    return typst.Fonts(
        include_system_fonts=with_system, include_embedded_fonts=False, font_paths=[HERE / "fonts"]
    )


@cache
def _template(name: str) -> bytes:
    return (HERE / "templates" / name).read_bytes()


def typeset(template: str, values: Mapping[str, object], made: datetime) -> bytes:
    """The PDF of a template (`run_sheet.typ`) filled with values; the same bytes for the same values.

    The values travel as JSON, so no text of a user can act as mark-up. `made` is the document's date.
    Letters that none of our faces holds are taken from the machine's; where those lack them too, the
    page is printed all the same, with a box for the letter and without the archive standard, which
    forbids it. `typst.TypstError` means a slip in a template.
    """
    files = {
        "main.typ": _template(template),
        "base.typ": _template("base.typ"),
        "data.json": json.dumps(values, ensure_ascii=False).encode(),
    }
    attempts = ((False, STANDARDS), (True, STANDARDS), (True, ()))
    for number, (with_system, standards) in enumerate(attempts, 1):
        try:
            return _compile(files, made, with_system, standards)
        except typst.TypstError as error:
            if number == len(attempts) or "could not be displayed" not in f"{error} {error.diagnostic}":
                raise
    raise AssertionError("the last attempt returns or raises")


def _compile(
    files: Mapping[str, bytes], made: datetime, with_system: bool, standards: tuple[typst.PDFStandard, ...]
) -> bytes:
    pdf: object = typst.compile(  # type: ignore[call-overload]  # its stub omits several files
        dict(files),
        font_paths=_fonts(with_system),
        ignore_system_fonts=not with_system,
        pdf_standards=list(standards),
        timestamp=int(made.timestamp()),
    )
    assert isinstance(pdf, bytes)
    return pdf
