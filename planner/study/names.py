"""Names that lead nowhere, looked up in bounded time, and names that differ in capitals only."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator

from planner.protocol.nearest import nearest

MOST_COMPARED = 300  # more names are not compared letter by letter: a table may hold 10 000 of them


class Known:
    """The names that a column may hold; called with a text it gives the name, or says what was meant."""

    def __init__(self, names: Collection[str], what: str, where: str) -> None:
        self._names = dict.fromkeys(names)
        self._what, self._where = what, where
        self._hints: dict[str, str] = {}
        self._plain: dict[str, str] | None = None

    def __call__(self, text: str) -> str:
        """The name itself; ValueError, with the nearest name, where there is none.

        Without any names every text passes: what they should be read from has a fault of its own.
        """
        if self._names and text not in self._names:
            raise ValueError(
                f"there is no {self._what} {text!r} in {self._where}. {self._hint(text)}".strip()
            )
        return text

    def _hint(self, text: str) -> str:
        if text not in self._hints:
            few = len(self._names) <= MOST_COMPARED
            self._hints[text] = nearest(text, self._names, self._what) if few else self._same_but_form(text)
        return self._hints[text]

    def _same_but_form(self, text: str) -> str:
        """A name that differs in capitals, dashes or leading zeros only."""
        if self._plain is None:
            self._plain = {_plain(name): name for name in self._names}
        near = self._plain.get(_plain(text))
        return f"Did you mean {near!r}?" if near else ""


def _plain(name: str) -> str:
    return re.sub(r"(?<!\d)0+(?=\d)|[-_ ]", "", name.casefold())


def alike(names: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Pairs (later, earlier) of different names that differ in case alone."""
    seen: dict[str, str] = {}
    for name in names:
        first = seen.setdefault(name.casefold(), name)
        if first != name:
            yield name, first
