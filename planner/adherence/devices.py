"""Were efforts and bouts made on the devices of the plan? Judged only where the record tells the device."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from planner.adherence.asked import Label
from planner.adherence.model import AsPlanned, BlockLine, Deviation
from planner.adherence.moments import PlannedMoments
from planner.adherence.recorded import Timed, VisitRecord, local
from planner.record.effort import Mark
from planner.schedule.model import Activity


def rigs_of(rig: str | None) -> tuple[str, ...]:
    """The devices that a line names, none where it names none."""
    return tuple(code.strip() for code in rig.split(";") if code.strip()) if rig else ()


def devices(efforts: Sequence[Timed]) -> tuple[str, ...]:
    """The devices recorded for a block, each once, in order of time."""
    told = dict.fromkeys(timed.effort.rig for timed in efforts if timed.effort.rig)
    if len(told) == 1 and ";" not in (only := next(iter(told))):  # nearly always, and there may be many
        return (only,)
    return tuple(dict.fromkeys(code for rig in told for code in rigs_of(rig)))


def as_planned(recorded: Sequence[str], activity: Activity | None) -> bool | None:
    """Whether a block's recorded devices are those of its plan; None where either is not known."""
    if activity is None or not activity.rigs or not recorded:
        return None
    return set(recorded) <= set(activity.rigs)


def rigs_kept(blocks: Iterable[BlockLine]) -> AsPlanned:
    """How many recorded blocks that the plan gives a device were made on it, on another, on one not told."""
    counts = {True: 0, False: 0, None: 0}
    for block in blocks:
        if block.planned_rigs:
            counts[block.on_planned_rigs] += 1
    return AsPlanned(counts[True], counts[False], counts[None])


def of_devices(record: VisitRecord, planned: PlannedMoments | None) -> Iterator[Deviation]:
    """Blocks with efforts on another device, each with how many; and bouts on another one."""
    if planned is None:
        return
    for (step, at_s), activities in planned.activities.items():
        for activity in activities:
            if activity.rigs and activity.manoeuvre is not None:
                yield from _of_block(record, Label(step, at_s, activity.manoeuvre), activity)
            elif activity.rigs:
                yield from _of_bout(record, step, at_s, activity)


def _of_block(record: VisitRecord, label: Label, activity: Activity) -> Iterator[Deviation]:
    efforts = [timed.effort for timed in record.blocks.get(label, ())]
    if {effort.rig for effort in efforts} <= {None, *activity.rigs}:
        return
    wrong = [e for e in efforts if not set(rigs_of(e.rig)) <= set(activity.rigs)]
    if wrong:
        made_on = dict.fromkeys(code for effort in wrong for code in rigs_of(effort.rig))
        count, first = len(wrong), wrong[0]
        words = f"{count} of {len(efforts)} efforts on {', '.join(made_on)}; planned on {_names(activity)}"
        when = local(first.started, activity.start.tzinfo or first.started.tzinfo)  # type: ignore[arg-type]
        yield Deviation(
            "other device", record.key, *label, first.number, when, count, "efforts", False, words, first.note
        )


def _of_bout(record: VisitRecord, step: str, at_s: int | None, activity: Activity) -> Iterator[Deviation]:
    marks: Mapping[tuple[str, int | None, str], Mark] = record.marks
    for what in ("start", "end"):
        mark = marks.get((step, at_s, what))
        used = rigs_of(mark.rig) if mark else ()
        if mark is not None and not set(used) <= set(activity.rigs):
            words = f"on {', '.join(used)}; planned on {_names(activity)}"
            when = mark.at.astimezone(activity.start.tzinfo)
            yield Deviation(
                "other device", record.key, step, at_s, None, None, when, None, "", False, words, mark.note
            )
            return


def _names(activity: Activity) -> str:
    return ", ".join(activity.rigs)
