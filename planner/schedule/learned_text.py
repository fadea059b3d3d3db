"""What the record had taught when a plan was made, as the plan file keeps it beside the plan, and back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from planner.timing.learned import Estimate, Learned

OF_READING = "spread"
KINDS = (OF_READING, "prepare_s", "effort_s", "rest_s", "clear_s", "bout_s", "delay_s", "late_s")
SIGNED = ("late_s",)  # what may lie below zero


class Taught(NamedTuple):
    """One learned value. `of` is the manoeuvre or step, `reading` only there where it is a spread."""

    what: str
    protocol: str
    of: str
    reading: str | None
    estimate: Estimate


def learned_json(learned: Learned) -> list[dict[str, Any]]:
    """A row for each value: what, protocol, of, reading, assumed, learned, observations, drawn (maybe)."""
    return [
        {
            "what": one.what,
            "protocol": one.protocol,
            "of": one.of,
            "reading": one.reading,
            "assumed": one.estimate.assumed,
            "learned": one.estimate.learned,
            "observations": one.estimate.observations,
            **({"drawn": list(one.estimate.drawn)} if one.estimate.drawn else {}),
        }
        for one in _rows(learned)
    ]


def _rows(learned: Learned) -> Iterable[Taught]:
    for kind in KINDS:
        values: Mapping[tuple[str, ...], Estimate] = getattr(learned, kind)
        for (protocol, of, *reading), estimate in sorted(values.items()):
            yield Taught(kind, protocol, of, reading[0] if reading else None, estimate)


def learned_from(rows: Iterable[Taught]) -> Learned:
    """The values of those rows; the way back from `learned_json`."""
    spread: dict[tuple[str, str, str], Estimate] = {}
    lengths: dict[str, dict[tuple[str, str], Estimate]] = {kind: {} for kind in KINDS if kind != OF_READING}
    for row in rows:
        if row.what == OF_READING:
            spread[row.protocol, row.of, row.reading or ""] = row.estimate
        else:
            lengths[row.what][row.protocol, row.of] = row.estimate
    return Learned(spread=spread, **lengths)


def learned_words(learned: Learned) -> str:
    """A sentence for a person: how many values the plan took from the record."""
    count = len(list(_rows(learned)))
    return f"Made with {count} lengths and spreads learned from the record, not as the protocols assume."
