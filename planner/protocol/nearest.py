"""The valid name that comes nearest to what was written."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice

MOST_NAMES = 300  # of longer lists only the first are searched


def meant(name: str, valid: Iterable[str]) -> str | None:
    """The valid name that comes nearest to what was written, or None where none is near."""
    from difflib import get_close_matches

    lower = {word.casefold(): word for word in islice(valid, MOST_NAMES) if len(word) <= 80}
    near = get_close_matches(name.casefold()[:80], lower, 1, 0.6)
    return lower[near[0]] if near else None


def nearest(name: str, valid: Iterable[str], what: str) -> str:
    """A hint: the nearest valid name, or those that there are; `what` is for example "manoeuvre"."""
    names = list(islice(valid, MOST_NAMES))
    what = what.removeprefix("the ")
    if near := meant(name, names):
        return f"Did you mean {near!r}?"
    if not names:
        return f"There is no {what} at all."
    return (
        f"Choose one of {', '.join(map(repr, names[:12]))}." if len(names) > 1 else f"There is {names[0]!r}."
    )
