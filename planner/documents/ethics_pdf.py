"""The ethics text as pages: the same pieces as the text document, set by the typesetter."""

from __future__ import annotations

from collections.abc import Sequence

from planner.documents.docx_file import widths_mm
from planner.documents.ethics import fill
from planner.documents.shown import page_values
from planner.documents.texts import say
from planner.documents.typeset import typeset
from planner.schedule.model import Schedule
from planner.study.model import Study

_POINTS = 9  # of the letters in tables


def ethics_pdf(study: Study, schedule: Schedule, *, paper: str = "a4") -> bytes:
    """The text as a PDF on that paper (`a4`, `letter`), on its long side as the text document is."""
    title = say("ethics.title")
    pieces = _Pieces()
    fill(pieces, study, schedule)
    values = page_values(study, schedule, title, paper=paper) | {"pieces": pieces.all}
    return typeset("ethics_text.typ", values, schedule.made)


class _Pieces:
    """What the text consists of, in order, as values for the template."""

    def __init__(self) -> None:
        self.all: list[dict[str, object]] = []

    def heading(self, text: str, level: int = 1) -> None:
        self.all.append({"is": "heading", "text": text, "level": level + 1})  # below the title

    def paragraph(self, text: str, style: str = "Normal") -> None:
        self.all.append({"is": style.lower(), "text": text})

    def bullets(self, texts: Sequence[str]) -> None:
        self.all.append({"is": "list", "texts": list(texts)})

    def table(
        self, columns: Sequence[str], rows: Sequence[Sequence[str]], *, groups: Sequence[str] = ()
    ) -> None:
        cells = [list(row[:1]) if row[0] in groups else list(row) for row in rows]
        widths = widths_mm([columns, *(row for row in cells if len(row) == len(columns))], _POINTS)
        self.all.append({"is": "table", "columns": list(columns), "rows": cells, "widths": widths})
