"""The valid name that comes nearest to what was written."""

from __future__ import annotations

from collections.abc import Collection


def meant(name: str, valid: Collection[str]) -> str | None:
    """The valid name that comes nearest to what was written, or None where none is near."""
    if not name or not valid:
        return None
    from difflib import get_close_matches

    lower = {word.casefold(): word for word in valid}
    near = get_close_matches(name.casefold()[:200], lower, 1, 0.6)
    return lower[near[0]] if near else None


def nearest(name: str, valid: Collection[str], what: str) -> str:
    """A hint: the nearest valid name, or all there are."""
    if near := meant(name, valid):
        return f"Did you mean {near!r}?"
    some = list(valid)[:12]
    return f"There is {what} {', '.join(map(repr, some))}." if some else f"There is no {what} at all."
