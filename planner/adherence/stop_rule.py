"""How the stop rule ended a block: as soon as it held, too early, too late, without agreement."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from planner.adherence.model import Ended
from planner.protocol.agreement import ended_after
from planner.protocol.model import Manoeuvre
from planner.record.effort import Effort


def acceptable_values(efforts: Sequence[Effort]) -> list[Mapping[str, Decimal]]:
    """The acceptable readings of each effort, in order."""
    return [{v.reading: v.value for v in effort.values if v.acceptable} for effort in efforts]


def ended(
    manoeuvre: Manoeuvre, efforts: Sequence[Effort], *, stopped: bool
) -> tuple[int | None, Ended | None]:
    """After how many efforts the rule held (None: it did not), and how the block ended; None: it has no rule.

    `stopped`: the visit ended in this block, so that nobody could go on. A rule on a reading that the
    block's record holds nowhere cannot be judged.
    """
    if not manoeuvre.enough:
        return None, None
    written = {value.reading for effort in efforts for value in effort.values}
    if any(line.reading not in written for line in manoeuvre.enough):
        return None, Ended.STOPPED if stopped else Ended.NO_READINGS
    held = ended_after(manoeuvre, acceptable_values(efforts))
    return held, _end(manoeuvre, len(efforts), held, stopped=stopped)


def _end(manoeuvre: Manoeuvre, recorded: int, held: int | None, *, stopped: bool) -> Ended:
    if held is not None:
        return Ended.AS_SOON if held == recorded else Ended.TOO_LATE
    if recorded >= manoeuvre.at_most:
        return Ended.WITHOUT
    return Ended.STOPPED if stopped else Ended.TOO_EARLY
