"""What every column of an export means: the data dictionary."""

from __future__ import annotations

from dataclasses import dataclass

from planner.record.efforts_file import COLUMNS, RIG

EVENT_COLUMNS = (
    "seq", "kind", "participant", "visit", "number", "step", "at_s", "manoeuvre", "effort", "reading",
    "started", "value", "unit", "acceptable", "note", "reason", "corrects", "undone", "rig", "who", "who_how",
    "station", "device_clock", "server_clock", "plan_version", "blanked", "raw", "token", "salt", "digest",
    "hash_before", "hash",
)  # fmt: skip
VISIT_COLUMNS = ("participant", "visit", "number", "condition")


@dataclass(frozen=True, slots=True)
class Meaning:
    """One line of the data dictionary."""

    file: str
    column: str
    kind: str
    meaning: str


def dictionary(zone: str, *, conditions: bool) -> tuple[Meaning, ...]:
    """What every column of every file means; `zone` is the study's."""
    lines = [Meaning("efforts.csv", name, *_EFFORTS[name]) for name in (*COLUMNS, RIG)]
    lines += [Meaning("events.csv", name, *_EVENTS[name]) for name in EVENT_COLUMNS]
    if conditions:
        lines += [Meaning("visits.csv", name, *_VISITS[name]) for name in VISIT_COLUMNS]
    return tuple(
        Meaning(line.file, line.column, line.kind, line.meaning.replace("ZONE", zone)) for line in lines
    )


_PLACE = {
    "participant": ("code", "whose visit it is"),
    "step": ("code", "part of the visit, as in the protocol; may be empty for 'stopped'"),
    "manoeuvre": ("code", "which manoeuvre; empty for a task or a bout"),
    "effort": ("whole number", "counts from 1 in its block; empty for a task or a bout"),
    "unit": ("text", "unit of the value, as the protocol writes it; nothing is converted"),
    "note": ("text", "free text; in a rehearsal it begins with 'rehearsed'"),
    "rig": ("code", "the device that it was made on, several joined by a semicolon; empty where not told"),
}
_EFFORTS = _PLACE | {
    "visit": ("text", "the visit's id; with conditions id/condition or, blind, id/number in the order"),
    "at": ("duration", "the time point as in the protocol, such as 10 min; empty where there is none"),
    "started": (
        "local date-time",
        "start of the effort, or moment of the mark, in ZONE; with its offset in the hour shown twice",
    ),
    "reading": ("text", "which reading; empty for an effort without one; start, end or stopped for a mark"),
    "value": ("decimal", "the reading as it was written"),
    "acceptable": ("yes or no", "as the technician judged; empty where there is no reading"),
}
_EVENTS = _PLACE | {
    "seq": ("whole number", "counts events from 1 without a gap, in the order of recording"),
    "kind": (
        "text",
        "effort, reading, mark, done, not now, note, correction, plan, offset, clock, refused, removal, "
        "backup, denied",
    ),
    "visit": ("code", "the visit's id"),
    "number": ("whole number", "which visit of its kind in the participant's order; else empty"),
    "at_s": ("seconds", "the time point; empty where there is none"),
    "reading": ("text", "which reading; start, end or stopped for a mark"),
    "started": ("ISO 8601 date-time with offset", "start of the effort or moment of the mark"),
    "value": ("decimal", "the reading as it was written; of a correction, the new one"),
    "acceptable": ("yes or no", "as the technician judged"),
    "reason": ("text", "of a correction or a removal, why; of a refused row, why it was refused"),
    "corrects": ("whole number", "the seq of the line that a correction is about"),
    "undone": ("yes or no", "whether the correction takes the line back"),
    "who": ("code", "staff code of who recorded it; empty where nobody said"),
    "who_how": ("text", "how that person is known: signed in, picked, or file"),
    "station": ("text", "where it was recorded"),
    "device_clock": ("ISO 8601 date-time, UTC", "the clock of the device that sent it"),
    "server_clock": ("ISO 8601 date-time, UTC", "the clock of the machine that recorded it, then"),
    "plan_version": ("whole number", "the plan that the person worked by; of a plan, its own version"),
    "blanked": ("yes or no", "whether its content was removed on a participant's withdrawal"),
    "raw": ("JSON", "of a refused row its file, row and cells; of a removal the events and backups"),
    "token": ("text", "made by the sender: the same token is recorded once"),
    "salt": ("text", "random; makes the digest unguessable once the content is blanked"),
    "digest": ("SHA-256", "over the JSON of [salt, content]; keys sorted, no spaces, UTF-8"),
    "hash_before": ("SHA-256", "the hash of the event before; 64 zeros for the first"),
    "hash": (
        "SHA-256",
        "over the JSON of [seq, event without content, server_clock, digest, hash_before]; an event without "
        "a rig is hashed without that key",
    ),
}
_VISITS = {
    "participant": ("code", "whose visit it is"),
    "visit": ("code", "the visit's id"),
    "number": ("whole number", "which visit of its kind in this participant's order"),
    "condition": ("text", "the condition: unblinding information"),
}
