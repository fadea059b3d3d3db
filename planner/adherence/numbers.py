"""How many efforts blocks took, against how many were forecast."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.adherence.model import Adherence, Ended
from planner.adherence.recorded import protocol_files
from planner.adherence.scores import Forecasts
from planner.study.model import Study
from planner.timing.forecast import Forecast


class EffortNumber(NamedTuple):
    """Of `of` recorded blocks of a manoeuvre, `seen` took so many efforts; `forecast`: that share."""

    protocol: str
    manoeuvre: str
    efforts: int
    seen: int
    of: int
    forecast: float


def effort_numbers(study: Study, found: Adherence, ahead: Forecasts) -> tuple[EffortNumber, ...]:
    """Every number of efforts that was seen or forecast, by protocol and manoeuvre."""
    protocols = protocol_files(study)
    seen: dict[tuple[str, str], list[int]] = {}
    for block in found.blocks:
        if block.ended is Ended.STOPPED:
            continue
        seen.setdefault((protocols[block.key], block.manoeuvre), []).append(block.efforts)
    return tuple(
        line
        for (file, manoeuvre), counts in seen.items()
        for line in _lines(study.protocols[file].name, manoeuvre, counts, ahead[file])
    )


def _lines(protocol: str, manoeuvre: str, counts: list[int], ahead: Forecast) -> list[EffortNumber]:
    draws = ahead.draws
    rows = [s.index for s in draws.outline.spots if s.manoeuvre and s.manoeuvre.id == manoeuvre]
    drawn = draws.efforts[rows].ravel()
    drawn = drawn[drawn > 0]
    numbers = sorted({*counts, *np.unique(drawn).tolist()})
    return [
        EffortNumber(
            protocol,
            manoeuvre,
            int(n),
            counts.count(n),
            len(counts),
            float((drawn == n).mean()) if drawn.size else 0.0,
        )
        for n in numbers
    ]
