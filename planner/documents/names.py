"""Names of the files of documents: they sort, and say nothing of conditions or health."""

from __future__ import annotations

from datetime import date

from planner.schedule.model import PlacedVisit


def run_sheet_name(visit: PlacedVisit) -> str:
    """`run-sheet_2027-03-01_ROW-07_rowing-2.pdf`."""
    return f"run-sheet_{visit.date.isoformat()}_{visit.participant}_{visit.file_id}.pdf"


def day_name(what: str, on: date, suffix: str = "pdf") -> str:
    """`day-board_2027-03-01.pdf` and its like."""
    return f"{what}_{on.isoformat()}.{suffix}"


def own_name(what: str, whose: str, suffix: str = "pdf") -> str:
    """`leaflet_ROW-07.pdf`, `calendar_person_K1.ics` and their like."""
    return f"{what}_{whose}.{suffix}"
