"""A decimal with its unit, read as it was written."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

_QUANTITY = re.compile(r"(?P<sign>-?)(?P<whole>[0-9]+)(?:\.(?P<part>[0-9]+))?[ \u00a0]+(?P<unit>\S.*)")
_MOST_DIGITS = 12


@dataclass(frozen=True, slots=True)
class Quantity:
    """An exact decimal and its unit, letter for letter."""

    value: Decimal
    unit: str

    @property
    def is_percent(self) -> bool:
        """Whether the unit is `%`."""
        return self.unit == "%"

    def __str__(self) -> str:
        return f"{self.value} {self.unit}"


def quantity(text: str) -> Quantity:
    """The quantity that `text` writes, such as `0.150 L`; ValueError says what is wrong with it."""
    found = _QUANTITY.fullmatch(text.strip())
    if not found:
        raise ValueError(f"{text!r} is not a quantity; write a number and its unit, such as '0.150 L'")
    digits = found["whole"] + (found["part"] or "")
    if len(digits) > _MOST_DIGITS:
        raise ValueError(f"{text!r} has more than {_MOST_DIGITS} digits")
    number = found["sign"] + found["whole"] + ("." + found["part"] if found["part"] else "")
    return Quantity(Decimal(number), found["unit"].strip())
