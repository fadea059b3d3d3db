"""How far another device's clock is off, estimated from efforts that both recorded; a person confirms it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from statistics import median

from planner.clock import later
from planner.record.drafts import Hand, signed
from planner.record.efforts_file import EffortsFile
from planner.record.events import Content, Draft, Kind
from planner.record.lines import EffortKey, Line
from planner.record.store import Store, Taken

JOINS_WITHIN_S = 10  # a shifted start this near to the recorded one is the same start


@dataclass(frozen=True, slots=True)
class Offset:
    """`ahead_s`: seconds that the device's clock is ahead of ours (median of the matching efforts).

    `spread_s`: median distance of the matches from it; large means that the efforts do not match.
    """

    ahead_s: int
    matches: int
    spread_s: float

    def words(self) -> str:
        """A sentence for the person who confirms it."""
        if not self.matches:
            return "No effort stands in both; the clock's offset cannot be estimated."
        way = "ahead of" if self.ahead_s > 0 else "behind"
        return (
            f"Its clock seems {abs(self.ahead_s)} s {way} ours, from {self.matches} efforts in both; "
            f"they agree within about {self.spread_s:.0f} s."
        )


def estimate(store: Store, lines: Iterable[Line]) -> Offset:
    """The offset of the clock behind these lines, from efforts that the record holds as well."""
    starts = _starts(lines)
    ours = _recorded(store, starts)
    gaps = [theirs.timestamp() - ours[key].timestamp() for key, theirs in starts.items() if key in ours]
    if not gaps:
        return Offset(0, 0, 0.0)
    ahead = median(gaps)
    return Offset(round(ahead), len(gaps), median(abs(gap - ahead) for gap in gaps))


def _recorded(store: Store, wanted: Iterable[EffortKey]) -> dict[EffortKey, datetime]:
    """When the efforts of these visits started, as recorded: of others nothing is read."""
    visits = sorted({(key.participant, key.visit) for key in wanted})
    return _starts(line for visit in visits for line in store.lines(*visit))


def _starts(lines: Iterable[Line]) -> dict[EffortKey, datetime]:
    return {line.line_key.of: line.started for line in lines if not line.is_mark}


def take_shifted(
    store: Store, rows: EffortsFile | Sequence[Line], offset: Offset, *, by: str, station: str = ""
) -> Taken:
    """Take another station's lines with its clock's confirmed offset taken off; that is recorded first.

    A line keeps the device's own time beside it. Where its effort is recorded already within 10 s of
    the shifted start, it joins that effort. Rows that could not be read are kept with their reason.
    """
    file = rows if isinstance(rows, EffortsFile) else EffortsFile("", tuple(rows))
    lines = file.lines
    words = f"clock {offset.ahead_s} s ahead, from {offset.matches} efforts, confirmed"
    token = f"offset/{station}/{offset.ahead_s}/{len(lines)}/{lines[0].started.isoformat() if lines else ''}"
    draft = Draft(Kind.OFFSET, content=Content(note=words), token=token)
    store.append([signed(draft, Hand(by, "file", station))])
    ours = _recorded(store, _starts(lines))
    moved = tuple(_shifted(row, offset, ours) if isinstance(row, Line) else row for row in file.rows)
    return store.take(replace(file, rows=moved), by=by, station=station)


def _shifted(line: Line, offset: Offset, ours: dict[EffortKey, datetime]) -> Line:
    moved = later(line.started, -offset.ahead_s)
    known = ours.get(line.line_key.of)
    if known is not None and abs(known.timestamp() - moved.timestamp()) <= JOINS_WITHIN_S:
        moved = known
    return replace(line, started=moved, by_device=line.started)
