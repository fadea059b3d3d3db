"""Short words for the parts of a visit: who and with what, how long, what to say."""

from __future__ import annotations

from collections.abc import Sequence

from planner.documents.shown import length_words
from planner.documents.texts import say
from planner.protocol.model import Length, Manoeuvre, Step
from planner.schedule.model import Activity


def who_words(activity: Activity) -> str:
    """Devices first, then each role with the person's code: `S1 · operator K1, cheek support K2`."""
    people = ", ".join(f"{role} {person}" for role, person in activity.staff.items())
    extra = ", ".join(f"{role} {person}" for role, person in activity.clear_staff.items())
    return " · ".join(part for part in (", ".join(activity.rigs), people, extra) if part)


def efforts_words(manoeuvre: Manoeuvre) -> str:
    """`FVC efforts`, from the first reading; the title where an effort gives none."""
    for reading in manoeuvre.readings:
        return say("run_sheet.efforts", reading=reading)
    return manoeuvre.title


def said_words(texts: Sequence[str]) -> str:
    """What to say, each text in its own quotes; empty where there is nothing."""
    if not texts:
        return ""
    return say("run_sheet.say", texts=" ".join(say("run_sheet.say_one", text=text) for text in texts))


def starts_words(step: Step) -> list[str]:
    """How soon after the part before it a step starts; empty where that is open."""
    if step.starts_within_s is None:
        return []
    if step.starts_within_s == 0:
        return [say("run_sheet.starts_at_once")]
    return [say("run_sheet.starts_within", length=length_words(step.starts_within_s))]


def takes_words(takes: Length) -> str:
    """How long a task or bout takes, or its range."""
    if takes.is_known:
        return say("run_sheet.takes", length=length_words(takes.about_s))
    return say(
        "run_sheet.about",
        about=length_words(takes.about_s),
        shortest=length_words(takes.shortest_s),
        longest=length_words(takes.longest_s),
    )
