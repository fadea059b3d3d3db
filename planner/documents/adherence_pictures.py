"""The pictures of how a study kept to its plan."""

from __future__ import annotations

from pathlib import Path

from planner.adherence.model import Adherence
from planner.adherence.scores import Forecasts
from planner.documents.adherence_counts import forecasts_kept, numbers, rests
from planner.documents.adherence_strips import time_points, weeks
from planner.documents.adherence_visit import visit_picture
from planner.documents.picture import Picture
from planner.study.model import Study

__all__ = ["Picture", "pictures", "save", "visit_picture"]


def pictures(study: Study, found: Adherence, ahead: Forecasts) -> tuple[Picture, ...]:
    """All pictures of a study: time points, weeks, rests, numbers of efforts, forecasts."""
    return (
        time_points(study, found),
        weeks(found),
        rests(study, found),
        numbers(study, found, ahead),
        forecasts_kept(study, found, ahead),
    )


def save(picture: Picture, folder: Path) -> tuple[Path, ...]:
    """Write the picture as SVG, PNG and PDF, its data as CSV and its words as text."""
    files: dict[str, bytes] = {
        "svg": picture.svg().encode(),
        "png": picture.png(),
        "pdf": picture.pdf(),
        "csv": picture.data().encode(),
        "txt": f"{picture.title}\n\n{picture.words}\n".encode(),
    }
    paths = []
    for ending, content in files.items():
        path = folder / f"{picture.name}.{ending}"
        path.write_bytes(content)
        paths.append(path)
    return tuple(paths)
