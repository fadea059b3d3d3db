"""Does one device's clock seem to be off? All that was made on it lies as far from the plan, all else not."""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median

from planner.adherence.asked import Label
from planner.adherence.devices import rigs_of
from planner.adherence.model import Note
from planner.adherence.moments import PlannedMoments
from planner.adherence.recorded import VisitRecord
from planner.clock import duration_words

_LEAST_S = 60  # nearer than that, people rather than clocks are the reason
_ALIKE_S = 30
_BLOCKS = 2

Moment = tuple[float, float]  # planned, and how many seconds later it happened


def of_device_clocks(record: VisitRecord, planned: PlannedMoments | None) -> Iterator[Note]:
    """A note for each device whose blocks are all early or late alike, while all else of the visit is not.

    It is only asked where something else was done between the device's blocks: a visit that runs late
    from some moment on is late on every device. Whether the clock is off, a person has to look up.
    """
    if planned is None:
        return
    blocks, marks = _offsets(record, planned)
    offsets = [off for _, off in marks] + [off for (_, off), _ in blocks]
    if not blocks or max(offsets) - min(offsets) < _LEAST_S:
        return
    by_device: dict[str, list[Moment]] = {}
    for moment, used in blocks:
        for device in used:
            by_device.setdefault(device, []).append(moment)
    for device, own in by_device.items():
        others = [*marks, *(one for name, found in by_device.items() if name != device for one in found)]
        others = [one for one in others if one not in own]
        if len(own) < _BLOCKS or not _is_between(own, others):
            continue
        off_s = median(off for _, off in own) - median(off for _, off in others)
        if abs(off_s) >= _LEAST_S and _are_alike(own) and _are_alike(others):
            yield Note("clock of a device", record.key, _words(device, round(off_s), len(own)))


Block = tuple[Moment, tuple[str, ...]]


def _offsets(record: VisitRecord, planned: PlannedMoments) -> tuple[list[Block], list[Moment]]:
    """Blocks' first efforts with their devices (as recorded, else as planned), and starts of tasks."""
    blocks: list[Block] = []
    marks: list[Moment] = []
    for (step, at_s), activities in planned.activities.items():
        for activity in activities:
            if activity.manoeuvre is None or activity.first_effort is None:
                start = record.mark(step, at_s, "start")
                due = activity.start.timestamp()
                marks += [] if start is None else [(due, start.timestamp() - due)]
            elif efforts := record.blocks.get(Label(step, at_s, activity.manoeuvre)):
                due = activity.first_effort.timestamp()
                used = rigs_of(efforts[0].effort.rig) or activity.rigs
                blocks.append(((due, efforts[0].began - due), used))
    return blocks, marks


def _is_between(own: list[Moment], others: list[Moment]) -> bool:
    """Whether something else is planned between the first and the last of these."""
    return any(min(own)[0] < due < max(own)[0] for due, _ in others)


def _are_alike(moments: list[Moment]) -> bool:
    middle = median(off for _, off in moments)
    return all(abs(off - middle) <= _ALIKE_S for _, off in moments)


def _words(device: str, off_s: int, blocks: int) -> str:
    way = "later" if off_s > 0 else "earlier"
    return (
        f"all {blocks} blocks on {device} lie {duration_words(abs(off_s))} {way} against the plan than all "
        "else of this visit; look whether its clock was right"
    )
