"""Places a day by numbers of rigs and people: what stands in a table, in words and in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True)
class Line:
    """Places of one day with a change: found, and proven not to be more than `at_most`.

    `difference` is by how many rigs or people of `what` it differs from the laboratory as it is;
    `count` how many of them there are then. `like` says whose hours a person has who is added,
    `without` which one is taken away.
    """

    change: str
    kind: str  # as it is, rig, person, both
    what: str
    difference: int
    found: int
    at_most: int
    count: int | None = None
    like: str = ""
    without: str = ""

    @property
    def is_proven(self) -> bool:
        """Whether the number found is the most that fits."""
        return self.found == self.at_most

    @property
    def places(self) -> str:
        """The range in words: one number where it is proven."""
        if self.is_proven:
            return str(self.found)
        return f"{self.found} to {self.at_most}" if self.found else f"at most {self.at_most}"

    def as_json(self) -> dict[str, object]:
        """One row."""
        return {
            "change": self.change,
            "kind": self.kind,
            "what": self.what,
            "difference": self.difference,
            "count": self.count,
            "like": self.like or None,
            "without": self.without or None,
            "found": self.found,
            "at_most": self.at_most,
            "proven": self.is_proven,
        }


@dataclass(frozen=True)
class Table:
    """Places of one day for visits of one protocol; the first line is the laboratory as it is.

    `days` are all dates with the same opening hours, people and devices.
    """

    protocol: str
    days: tuple[date, ...]
    lines: tuple[Line, ...]
    more: tuple[Line, ...] = ()  # two more of a kind, one more of two kinds
    numbers: Mapping[str, int] = field(default_factory=dict)  # rigs and people as they are
    cap: int | None = None  # the study's own most visits a day

    def as_json(self) -> dict[str, object]:
        """The table with what it was counted for."""
        return {
            "protocol": self.protocol,
            "day": str(self.days[0]),
            "days": [str(day) for day in self.days],
            "numbers": dict(self.numbers),
            "at_most_visits_a_day": self.cap,
            "lines": [line.as_json() for line in self.lines],
            "more": [line.as_json() for line in self.more],
        }

    def words(self) -> str:
        """`9 to 13 a day`, then what each change makes of it, those without any together in one line."""
        base = self.lines[0]
        there = "; ".join(f"{what}: {number}" for what, number in self.numbers.items())
        if len(self.lines) == 1:
            return f"{self._of()}: {base.places} a day{_sure(base)}"
        singles = max(line.found for line in self.lines)
        told = [*self.lines[1:], *(line for line in self.more if line.found > singles)]
        rows = [(line.change, effect(line, base)) for line in told]
        width = max(len(change) for change, _ in (*rows, (base.change, "")))
        table = [f"  {change:{width}}  {words}" for change, words in rows if words != "nothing"]
        idle = [change for change, words in rows if words == "nothing"]
        is_capped = self.cap == base.found
        why = ", for the study itself takes no more a day," if is_capped else ""
        nothing = [f"  nothing would change{why} with: {'; '.join(idle)}"] if idle else []
        cap = [f"  the study itself takes at most {self.cap} a day"] if is_capped else []
        first = f"  {base.change:{width}}  {base.places} a day{_sure(base)}"
        return "\n".join(
            [
                f"{self._of()}, by made-up participants who may come all day",
                f"  with {there}",
                first,
                *table,
                *nothing,
                *cap,
            ]
        )

    def _of(self) -> str:
        more = len(self.days) - 1
        alike = f" and {more} {'day' if more == 1 else 'days'} like it" if more else ""
        return f"{self.days[0]}{alike}, visits of {self.protocol}"


@dataclass(frozen=True)
class Capacity:
    """The first table is that of the commonest protocol on the day that holds most; others follow."""

    tables: tuple[Table, ...]
    uncounted: int = 0  # kinds of day, each for visits of one protocol, that are left out

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines of the first table."""
        return self.tables[0].lines if self.tables else ()

    def as_json(self) -> dict[str, object]:
        """One document: the first table at the top, all tables, each line with places found and at most."""
        if not self.tables:
            return {"protocol": "", "day": None, "lines": [], "tables": []}
        tables = [table.as_json() for table in self.tables]
        return {**self.tables[0].as_json(), "tables": tables, "uncounted": self.uncounted}

    def words(self) -> str:
        """All tables in words."""
        if not self.tables:
            return "There is no open day and no visit to count places for."
        lines = [table.words() for table in self.tables]
        if len({table.protocol for table in self.tables}) > 1 or self.uncounted:
            lines.append(
                "Each table is for days with visits of its protocol only; mixed days are not counted."
            )
        if self.uncounted:
            lines.append(
                f"{len(self.tables)} of {len(self.tables) + self.uncounted} kinds of day are counted: those "
                "of the commonest visits, and that hold most, first."
            )
        return "\n".join(lines)


def effect(line: Line, base: Line) -> str:
    """What a change makes of the day: `nothing`, where that is proven."""
    same = (line.found, line.at_most) == (base.found, base.at_most)
    if same and base.is_proven:
        return "nothing"
    return f"{line.places} a day" + (", no difference found" if same else _sure(line))


def _sure(line: Line) -> str:
    if line.is_proven:
        return " (proven)"
    return " (between, not decided)" if line.found else " (none found in the time)"
