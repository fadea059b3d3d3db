"""One event of the record: what happened, who says so, by which clocks, chained to the event before it.

What may have to be removed on a participant's withdrawal (values, notes, reasons, refused rows) is
the event's `Content`. The chain covers its digest, never the text itself, so that blanking leaves
every hash as it was. The digest is salted: without the salt, which is blanked too, a reading
cannot be guessed back from it.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from dataclasses import asdict, dataclass, field, fields
from datetime import UTC, datetime
from enum import StrEnum

FIRST_HASH = "0" * 64


class Kind(StrEnum):
    """What an event is about."""

    EFFORT = "effort"  # an effort began
    READING = "reading"  # one reading of an effort
    MARK = "mark"  # start or end of a task or bout, or the visit stopped
    DONE = "done"  # an effort is over
    NOT_NOW = "not now"  # the participant is not ready
    NOTE = "note"
    CORRECTION = "correction"  # of one line, with a reason; or its undoing
    PLAN = "plan"  # a plan was put in force
    OFFSET = "offset"  # a device's clock differs from the room's
    CLOCK = "clock"  # this machine's clock was found set back
    REFUSED = "refused"  # a row that was not taken, and why
    REMOVAL = "removal"  # a participant's readings were blanked
    BACKUP = "backup"  # a copy was made, and where
    DENIED = "denied"  # somebody tried what their role does not allow


LINES = frozenset({Kind.EFFORT, Kind.READING, Kind.MARK})


@dataclass(frozen=True, slots=True)
class Content:
    """What an event says besides its place: all of it can be blanked. `raw` is JSON of all else."""

    value: str | None = None
    unit: str | None = None
    acceptable: bool | None = None
    note: str = ""
    reason: str = ""
    raw: str = ""


@dataclass(frozen=True, slots=True)
class Draft:
    """An event before it is recorded. `token` is made by whoever sends it: the same token is recorded once.

    `started` is ISO 8601 with its offset; `corrects` the number of the line that a correction is
    about, `undone` whether it takes that line back. `by_how`: "signed in", "picked" or "file". `rig` are
    the devices used, joined by a semicolon.
    """

    kind: Kind
    participant: str | None = None
    visit: str | None = None
    number: int | None = None
    step: str | None = None
    at_s: int | None = None
    manoeuvre: str | None = None
    effort: int | None = None
    reading: str | None = None
    started: str | None = None
    by: str = ""
    by_how: str = ""
    station: str = ""
    device_clock: str | None = None
    plan_version: int | None = None
    corrects: int | None = None
    undone: bool = False
    rig: str | None = None
    content: Content = Content()
    token: str = field(default_factory=lambda: secrets.token_hex(16))

    def as_json(self) -> dict[str, object]:
        """All fields, plain."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Event:
    """A recorded event: `seq` counts from 1 without a gap; `server_clock` is UTC."""

    seq: int
    draft: Draft
    server_clock: str
    salt: str
    digest: str
    hash_before: str
    hash: str


def draft_of(data: dict[str, object]) -> Draft:
    """The draft that `Draft.as_json` gave."""
    content = data["content"]
    assert isinstance(content, dict)
    plain = {**data, "kind": Kind(str(data["kind"])), "content": Content(**content)}
    return Draft(**plain)  # type: ignore[arg-type]


def utc_text(moment: datetime) -> str:
    """The instant as text that sorts, in UTC with microseconds."""
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def canonical(data: object) -> bytes:
    """JSON with sorted keys and no spaces, in UTF-8: one text for one value."""
    return json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def content_digest(salt: str, content: Content) -> str:
    """SHA-256 over salt and content."""
    plain = {name: getattr(content, name) for name in _CONTENT}
    return hashlib.sha256(canonical([salt, plain])).hexdigest()


def event_hash(seq: int, draft: Draft, server_clock: str, digest: str, hash_before: str) -> str:
    """SHA-256 over an event and the hash before it; of its content it covers the digest.

    An event without a device is hashed as before devices were told: older records stay whole.
    """
    plain = {name: getattr(draft, name) for name in _PLACE if name != "rig" or draft.rig is not None}
    return hashlib.sha256(canonical([seq, plain, server_clock, digest, hash_before])).hexdigest()


def seal(seq: int, draft: Draft, server_clock: str, hash_before: str) -> Event:
    """The draft as event number `seq`, chained to the one before it."""
    salt = secrets.token_hex(16)
    digest = content_digest(salt, draft.content)
    made = event_hash(seq, draft, server_clock, digest, hash_before)
    return Event(seq, draft, server_clock, salt, digest, hash_before, made)


_CONTENT = tuple(one.name for one in fields(Content))
_PLACE = tuple(one.name for one in fields(Draft) if one.name != "content")
