"""What each stage of packing improves, in words: one home for the pages and the command line."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

CHANGED_FROM = "participants_touched"  # the first stage of a mended plan that is about change, not about loss
LONG_MIN = 180  # from here on people count in hours


@dataclass(frozen=True, slots=True)
class StageWords:
    """One stage: what is being done, what is found by it, and the unit in which a person reads it."""

    doing: str
    found: str
    unit: str


STAGE_WORDS = {
    "placed": StageWords("Placing as many visits as possible", "Visits placed", "visits"),
    "last_day": StageWords("Ending on an early day", "Last day", "days after the first"),
    "waiting_s": StageWords(
        "Less waiting, time points close to their due time",
        "Waiting and distance from due times, over all visits",
        "min",
    ),
    "last_end_s": StageWords("Ending each day early", "From opening to the last end, over all days", "min"),
    "spare_s": StageWords(
        "More spare time before the tightest window", "Spare time before the tightest window", "min"
    ),
    "demands_missed": StageWords("Keeping every demand", "Demands that are not kept", "demands"),
    "participants_touched": StageWords(
        "Leaving as many participants as possible as they are",
        "Participants for whom something changes",
        "participants",
    ),
    "blocks_changed": StageWords(
        "Leaving as many blocks as possible as they are", "Blocks that change", "blocks"
    ),
    "shift_s": StageWords(
        "Moving what changes as little as possible", "Shifted within the day, over all blocks", "min"
    ),
}
SEARCHING = StageWords("Searching", "Found", "")


def stage_words(name: str) -> StageWords:
    """The words of the stage of that name; general ones where it has none."""
    return STAGE_WORDS.get(name, SEARCHING)


def order_words(names: Collection[str]) -> str | None:
    """What comes between the stages of these names and is no stage, in words; None where nothing does."""
    if CHANGED_FROM not in names:
        return None
    return (
        "Each of these is as good as those above it allow. From the participants on also: what is missed, is "
        "missed by as little as can be, and nobody is called sooner than they can come where that can be."
    )


def amount_words(name: str, value: int | None) -> str:
    """A value of that stage with its unit, such as `12 visits` or `35 min`."""
    if value is None:
        return "not known yet"
    unit = stage_words(name).unit
    if unit == "min":
        return _minutes(round(value / 60))
    return f"{value} {_one_of(unit) if value == 1 else unit}".strip()


def _one_of(unit: str) -> str:
    """The unit of one: `day after the first`."""
    first, *others = unit.split(" ")
    return " ".join([first.removesuffix("s"), *others])


def _minutes(minutes: int) -> str:
    """Minutes; long spans in hours and minutes, from a day on in days and hours: nobody counts closer."""
    if minutes < LONG_MIN:
        return f"{minutes} min"
    days, rest = divmod(minutes, 24 * 60)
    parts = ((days, "day" if days == 1 else "days"), (rest // 60, "h"), (0 if days else rest % 60, "min"))
    return " ".join(f"{number} {name}" for number, name in parts if number)
