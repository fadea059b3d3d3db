"""A dry run: a test day played before the first participant comes, on a clock of its own, at any speed.

Whether a study is in a dry run stands in a file beside its record, so that every station sees the
same clock. What is recorded meanwhile goes to the rehearsal's own database.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from planner.clock import later
from planner.protocol.model import Protocol
from planner.record.efforts_file import write_whole
from planner.record.lines import Line
from planner.study.model import Study

FILE = "dry-run.json"


@dataclass(frozen=True, slots=True)
class DryRun:
    """`began` by the real clock, when the played clock stood at `at`; `speed` is played over real time.

    `played`: made-up people come to every visit of the day but the one that is worked `by_hand`, which
    is its number in the plan.
    """

    began: datetime
    at: datetime
    speed: float = 1.0
    played: bool = False
    by_hand: int = 0

    def now(self, real: datetime) -> datetime:
        """The played clock, in the zone of `at`, at that real moment."""
        gone_s = (real.timestamp() - self.began.timestamp()) * self.speed
        return (self.at.astimezone(real.tzinfo) + timedelta(seconds=gone_s)).astimezone(self.at.tzinfo)


def dry_run(study: Study) -> DryRun | None:
    """The dry run that the study is in, or None."""
    try:
        found = json.loads((study.folder / ".testday" / FILE).read_text("utf-8"))
        began, at = (datetime.fromisoformat(found[name]) for name in ("began", "at"))
        return DryRun(
            began,
            at.astimezone(study.zone),
            float(found["speed"]),
            bool(found["played"]),
            int(found["by_hand"]),
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None


def is_dry(folder: Path) -> bool:
    """Whether the study in that folder is in a dry run."""
    return (folder / ".testday" / FILE).exists()


def begin(study: Study, run: DryRun) -> None:
    """Put the study into that dry run; one that was on is left."""
    folder = study.folder / ".testday"
    folder.mkdir(exist_ok=True)
    note = {
        "began": run.began.isoformat(),
        "at": run.at.isoformat(),
        "speed": run.speed,
        "played": run.played,
        "by_hand": run.by_hand,
    }
    write_whole(folder / FILE, json.dumps(note))


def end(study: Study) -> None:
    """Back to the real record; what was rehearsed stays in its own."""
    (study.folder / ".testday" / FILE).unlink(missing_ok=True)


def happened_by(lines: Sequence[Line], study: Study, now: datetime) -> tuple[Line, ...]:
    """Of played lines those that have happened by now: an effort's readings come at its end."""
    return tuple(line for line in lines if _known_at(line, study).timestamp() <= now.timestamp())


def _known_at(line: Line, study: Study) -> datetime:
    if line.manoeuvre is None:
        return line.started
    return later(line.started, _protocol(line, study).manoeuvres[line.manoeuvre].effort_s)


def _protocol(line: Line, study: Study) -> Protocol:
    key = line.key
    name = next(
        visit.protocol
        for visit in study.asked[key.participant]
        if (visit.kind, visit.number) == (key.visit, key.number)
    )
    return study.protocols[name]
