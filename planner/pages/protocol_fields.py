"""The fields of a protocol as forms and tables show them: where each stands, how it is read and written."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from planner.files import KeyPath, Node
from planner.pages.typed import as_written

_SHORT: Mapping[str, tuple[str, ...]] = {
    "efforts": ("at_least", "at_most"),
    "takes": ("about", "shortest", "longest"),
    "clear": ("takes",),
    "within": ("greater_of",),
}


@dataclass(frozen=True, slots=True)
class Field:
    """One field below an item of the file; `kind` says how its text becomes a value."""

    label: str
    path: KeyPath
    kind: Literal["text", "list", "flag", "long", "lines"] = "text"  # `lines`: texts, each on a line
    help: str = ""
    is_when: bool = False  # a time or a day, put down as files write it


ID = Field("Short name", ("id",), help="Letters, digits, - and _; it names files and is used by other parts.")
TITLE = Field("Title", ("title",))
RIG = Field("Device", ("rig",), "list", "Class of device; several with commas: one of each, together.")
STAFF = Field("Staff", ("staff",), "list", "Roles, one person each, with commas.")
CLEAR = Field("Cleaning and reset", ("clear", "takes"), help="How long the device stays busy afterwards.")
CLEAR_STAFF = Field("Staff for cleaning", ("clear", "staff"), "list")

MANOEUVRE = (
    TITLE,
    Field("Like", ("like",), help="Everything not written here is taken from that manoeuvre."),
    RIG,
    STAFF,
    Field("Getting ready", ("prepare",), help="Once, before the first effort; such as 60 s."),
    Field("One effort", ("effort",), help="With the quiet breaths that lead into it; such as 20 s."),
    Field("Rest between efforts", ("rest",), help="From the end of one effort to the start of the next."),
    Field("Efforts, at least", ("efforts", "at_least"), help="Acceptable efforts."),
    Field("Efforts, at most", ("efforts", "at_most"), help="All efforts; a hard end."),
    CLEAR,
    CLEAR_STAFF,
    Field("Single-use things", ("kit",), "list", "For one person, such as mouthpiece, filter, nose clip."),
)
MANOEUVRE_MORE = (
    Field("Said while it is done", ("say",), "lines", "Printed on the run sheet; each on a line of its own."),
    Field("What the participant does", ("how",), "long", "Plain words, for the leaflet and the ethics text."),
    Field("How it feels", ("feels",), "long", "Plain words, for the leaflet."),
    Field("Share of acceptable efforts", ("acceptable",), help="Such as 90 %; all where nothing is written."),
    Field("Learning: the first effort is lower by", ("learning", "gain"), help="Such as 5 %."),
    Field("Learning: over so many efforts", ("learning", "over"), help="After these nothing more is gained."),
    Field("Sources", ("source",), "lines", "Where each number comes from; each on a line of its own."),
)
READING = (
    Field("Unit", ("unit",)),
    Field("Typical value", ("typical",), help="With its unit, such as 4.80 L."),
    Field(
        "Usual difference between efforts", ("spread",), help="Such as 2 % or 0.095 L (standard deviation)."
    ),
)
ENOUGH = (
    Field("Reading", ("reading",)),
    Field("So many largest", ("largest",), help="The so many largest acceptable values."),
    Field("Any so many", ("any",), help="Some so many of the acceptable values."),
    Field("Lie within", ("within", "greater_of"), "list", "Such as 0.150 L; of several the widest counts."),
)
STOP_IF = (
    Field("Reading", ("reading",)),
    Field("Falls below", ("falls_below",), help="Such as 80 %."),
    Field("Of", ("of",), help="first"),
)
STEP_NAMED = (
    TITLE,
    ID,
    Field("Starts within", ("starts_within",), help="The longest gap after the part before it."),
)
STEP_DOES = (
    Field("Takes", ("takes", "about"), help="How long a task or exercise takes, such as 10 min."),
    Field("Measure", ("measure",), "list", "Short names of manoeuvres in this order, with commas."),
    Field("Rest", ("rest",), help="How long the participant rests, such as 5 min."),
)
STEP_NEEDS = (
    Field(
        "Device", ("rig",), "list", "Class of device; several with commas. Of a manoeuvre: under Manoeuvres."
    ),
    Field(
        "Staff", ("staff",), "list", "Roles, one person each, with commas. Of a manoeuvre: under Manoeuvres."
    ),
    CLEAR,
)
STEP_EXERCISE = (
    Field("Exercise", ("exercise",), "flag", "Times of measures count from its end."),
    Field("Shortest", ("takes", "shortest"), help="Only for exercise until one cannot go on."),
    Field("Longest", ("takes", "longest"), help="Only for exercise until one cannot go on."),
    Field("Stays with the participant", ("watch", "staff"), "list", "Roles that stay after this part."),
    Field("Stays for", ("watch", "for"), help="From the end of this part; such as 15 min."),
)
STEP_GROUPS = (
    ("", STEP_NAMED),
    ("What happens: one of these three", STEP_DOES),
    ("What a task or exercise needs", STEP_NEEDS),
    ("Only for exercise", STEP_EXERCISE),
)
# In a table the names stand first, and what decides stands before what is rare.
STEP = (ID, TITLE, *STEP_DOES, *STEP_EXERCISE[:1], *STEP_NEEDS, *STEP_EXERCISE[1:], *STEP_NAMED[2:])
STEP_MORE = (
    Field("Said meanwhile", ("say",), "lines", "Printed on the run sheet; each on a line of its own."),
    Field("What happens", ("how",), "long", "Plain words, for the leaflet and the ethics text."),
    Field("Sources", ("source",), "lines", "Each on a line of its own."),
)
WINDOW = (
    Field("After the end of", ("due", "after"), help="Short name of an earlier part of the visit."),
    Field("Before the start of", ("due", "before"), help="Short name of a later part of the visit."),
    Field("Count from", ("due", "from"), help="start or end; end where nothing is written."),
    Field("Times", ("due", "at"), "list", "Start of the first effort; such as 1 min, 10 min, 30 min."),
    Field("Not earlier than by", ("due", "early"), "list", "One, or one for each time; 0 s if empty."),
    Field("Not later than by", ("due", "late"), "list", "One, or one for each time."),
    Field("Important", ("due", "important"), "flag"),
)
DURING = (
    Field("Measure", ("measure",), "list"),
    Field("Times", ("at",), "list", "From the start of the exercise."),
    Field("Not earlier than by", ("early",), "list"),
    Field("Not later than by", ("late",), "list"),
    Field("Only if reached", ("if_reached",), "flag", "Where the exercise has no fixed length."),
    Field("Important", ("important",), "flag"),
)
PREPARATION = (
    Field("Avoid", ("avoid",)),
    Field("For", ("for",), help="How long it is avoided, such as 4 h."),
    Field("Bring", ("bring",)),
    Field("Wear", ("wear",)),
    Field("Stay away if", ("stay away",)),
    Field("Source", ("source",), "lines"),
)
HEAD = (
    Field("Short name", ("name",), help="Names the files made from it."),
    TITLE,
    Field("Version", ("version",)),
)
HEAD_MORE = (
    Field("Cautions on every sheet", ("cautions",), "lines", "Each on a line of its own."),
    Field(
        "What to keep when time is short",
        ("priority",),
        "lines",
        "The most important first, each on a line: a part of the visit, or part/manoeuvre, as after/fvc.",
    ),
    Field("Sources", ("source",), "lines", "Where the timing comes from; each on a line of its own."),
)


def shown(item: Node, field: Field) -> str:
    """What stands in the file for that field, as a person types it; empty where nothing does."""
    value, before = item, ""
    for part in field.path:
        if field.kind == "lines" and isinstance(value, dict) and isinstance(value.get(str(part)), list):
            return "\n".join(one for one in value[str(part)] if isinstance(one, str))  # type: ignore[union-attr]
        if isinstance(value, str | list) and part in _SHORT.get(before, ()):
            return _joined(value) if part in _SHORT[before][:1] or before == "efforts" else ""
        if not isinstance(value, dict) or part not in value:
            return ""
        value, before = value[str(part)], str(part)
    if isinstance(value, dict):
        return shown(value, Field("", _SHORT[before][:1])) if before in _SHORT else ""
    return _joined(value)


def _joined(value: Node) -> str:
    if isinstance(value, list):
        return ", ".join(item for item in value if isinstance(item, str))
    return value if isinstance(value, str) else ""


def written(item: Node, field: Field, text: str) -> Node:
    """The item with that text in the field; an empty text takes the key away."""
    value = _value(text, field, item)
    return _put(item, field.path, value, "")


def _value(text: str, field: Field, item: Node) -> Node:
    text = as_written(text) if field.is_when else text.strip()
    if not text:
        return None
    if field.kind == "flag":
        return "true" if text.lower() in ("true", "yes") else None
    if field.kind in ("lines", "long"):
        lines = [line.strip() for line in text.splitlines() if line.strip()]
        if field.kind == "long":
            return " ".join(lines)
        return lines[0] if len(lines) == 1 and not _is_list(item, field.path) else list(lines)
    if field.kind == "list":
        parts = [part.strip() for part in re.split("[,;]", text) if part.strip()]
        return parts[0] if len(parts) == 1 and not _is_list(item, field.path) else list(parts)
    return text


def _is_list(item: Node, path: KeyPath) -> bool:
    for part in path:
        item = item.get(str(part)) if isinstance(item, dict) else None
    return isinstance(item, list)


def _put(node: Node, path: KeyPath, value: Node, before: str) -> Node:
    """The node with the value below it; None where nothing is left of it."""
    if not path:
        return value
    part = str(path[0])
    if isinstance(node, str | list) and before in _SHORT:
        node = dict.fromkeys(_SHORT[before] if before == "efforts" else _SHORT[before][:1], node)
    found = dict(node) if isinstance(node, dict) else {}
    inner = _put(found.get(part), path[1:], value, part)
    if inner is None:
        found.pop(part, None)
    else:
        found[part] = inner
    return _shortened(found, before) if found or not before else None


def _shortened(found: dict[str, Node], before: str) -> Node:
    """The short way to write a mapping, where it says all."""
    keys = _SHORT.get(before)
    if keys is None or set(found) - set(keys):
        return found
    same = len({str(value) for value in found.values()}) == 1
    if before == "efforts":
        return found["at_least"] if same and len(found) == 2 else found
    if keys[0] in found and (len(found) == 1 or (same and len(found) == len(keys))):
        return found[keys[0]]
    return found
