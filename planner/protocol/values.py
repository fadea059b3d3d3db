"""Single values of a protocol file: text to what it means, or a ValueError that says what is wrong."""

from __future__ import annotations

import re
from decimal import Decimal

from planner.quantity import Quantity, quantity

MOST_EFFORTS = 1000
_IDENTIFIER = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")
_RESERVED = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9])", re.IGNORECASE)
_CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]")
_LABEL_WORDS = {"start", "end", "stopped"}
MOST_LABEL = 60


def identifier(text: str) -> str:
    """The identifier, which also names files: ASCII letters, digits, `-`, `_`, at most 40 characters."""
    if _RESERVED.fullmatch(text):
        raise ValueError(f"{text!r} is a name that an operating system reserves; choose another")
    if not _IDENTIFIER.fullmatch(text):
        raise ValueError(
            f"{text!r} cannot be used as a short name: it holds only letters A to Z, digits, '-' and '_', "
            "no spaces, begins with a letter or digit, and is at most 40 long"
        )
    return text


def label(text: str) -> str:
    """The label (a class of rig, a role, a reading): words, at most 60 characters, outer spaces removed."""
    words = text.strip()
    if not words:
        raise ValueError("the label is empty")
    if len(words) > MOST_LABEL:
        raise ValueError(f"{words[:20]!r}… is longer than {MOST_LABEL} characters")
    if found := re.search("[;/]", words) or _CONTROL.search(words):
        raise ValueError(f"{words!r} holds {found[0]!r}, which a label may not")
    if words.casefold() in _LABEL_WORDS or re.fullmatch(r"[+-]?\d+", words):
        raise ValueError(f"{words!r} cannot be a label: it has a meaning of its own in the efforts file")
    return words


def words(text: str) -> str:
    """Text that is not empty, as one line: what stands between words becomes one space."""
    if not text.strip():
        raise ValueError("the text is empty")
    return " ".join(text.split())


def unit(text: str) -> str:
    """The unit of a reading, letter for letter: at most 60 characters, no control characters."""
    found = text.strip()
    if not found or len(found) > MOST_LABEL or _CONTROL.search(found):
        raise ValueError(f"{found[:20]!r} is no unit; write it as the readings do, such as 'L' or 'cmH2O'")
    return found


def whole_number(text: str) -> int:
    """A whole number from 1 to 1000."""
    if not re.fullmatch(r"[0-9]{1,9}", text.strip()) or not 1 <= int(text) <= MOST_EFFORTS:
        raise ValueError(f"{text!r} is not a whole number from 1 to {MOST_EFFORTS}")
    return int(text)


def true_or_false(text: str) -> bool:
    """`true` or `false`, as YAML 1.2 has them; `yes`, `no`, `on` and `off` are text."""
    if text not in ("true", "True", "TRUE", "false", "False", "FALSE"):
        raise ValueError(f"{text!r} is neither true nor false")
    return text.lower() == "true"


def share(text: str) -> Decimal:
    """A percentage above 0 %, at most 100 %, as a share of 1."""
    words = f"{text!r} is not a percentage above 0 % and up to 100 %, such as '5 %'"
    try:
        found = quantity(text)
    except ValueError:
        raise ValueError(words) from None
    if not found.is_percent or not 0 < found.value <= 100:
        raise ValueError(words)
    return found.value / 100


def width(text: str) -> Quantity:
    """A quantity that is not negative, such as a spread."""
    found = quantity(text)
    if found.value < 0:
        raise ValueError(f"{text!r} is negative; a width or spread is not")
    return found


def format_number(text: str) -> int:
    """The number of the format that this program reads."""
    if text.strip() != "1":
        raise ValueError(f"{text!r} is not a format that can be read here; the format is 1")
    return 1


def side_of_anchor(text: str) -> str:
    """`start` or `end` of the step that due times count from."""
    if text not in ("start", "end"):
        raise ValueError(f"{text!r} is neither 'start' nor 'end'")
    return text


def first(text: str) -> str:
    """The one value that a stop reason is compared with."""
    if text != "first":
        raise ValueError(f"{text!r} is not known here; write 'first'")
    return text
