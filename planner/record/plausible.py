"""Does a typed reading look like a slip? A question to the person, never a refusal.

The limits are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from statistics import median

from planner.protocol.model import Reading

_LOW, _HIGH = Decimal("0.2"), Decimal("3")  # of `typical`
_OWN_LOW, _OWN_HIGH = Decimal("0.5"), Decimal("1.6")  # of the person's own other values of this visit


def question(reading: Reading, value: Decimal, own: Sequence[Decimal] = ()) -> str:
    """A question about the value, or "": its size against the typical one and the person's own others."""
    said = f"{reading.name} {value:f} {reading.unit}"
    size = abs(value)
    if (
        reading.typical
        and (value < 0) != (reading.typical.value < 0)
        and value != 0
        and reading.typical.value < 0
    ):
        return f"{said} is positive where {reading.name} is usually written negative. Is that right?"
    usual = Decimal(median(abs(one) for one in own)) if own else None
    if usual and not _OWN_LOW * usual <= size <= _OWN_HIGH * usual:
        others = f"this person's other values (about {usual:f})"
        return f"{said} is far from {others}{_slip(size, usual)}. Is that right?"
    if usual is None and reading.typical:
        typical = abs(reading.typical.value)
        if not _LOW * typical <= size <= _HIGH * typical:
            return (
                f"{said} is far from what is usual ({reading.typical}){_slip(size, typical)}. Is that right?"
            )
    return ""


def _slip(size: Decimal, usual: Decimal) -> str:
    """Names a slipped decimal point where ten or a hundred times more or less would fit."""
    for factor in (Decimal(10), Decimal("0.1"), Decimal(100), Decimal("0.01")):
        if _OWN_LOW * usual <= size * factor <= _OWN_HIGH * usual:
            return "; the decimal point may have slipped"
    return ""
