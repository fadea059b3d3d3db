"""What a person can do on the test day: each deed is recorded once, however often it is sent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from planner.record.append import Outcome
from planner.record.devices import device_text, devices_of
from planner.record.drafts import Hand, line_draft, signed
from planner.record.effort import VisitKey
from planner.record.events import Content, Draft, Kind
from planner.record.happenings import EffortNow
from planner.record.lines import REHEARSED, Line, is_rehearsed, plain_text
from planner.record.live import VisitNow
from planner.record.parts import Part
from planner.record.store import Store

MOST_CLOCK_GAP_S = 5


@dataclass(frozen=True, slots=True)
class Deed:
    """What became of it: `refused` says why nothing was recorded, else it is ""."""

    refused: str = ""
    warnings: tuple[str, ...] = ()
    seqs: tuple[int, ...] = ()

    @property
    def is_recorded(self) -> bool:
        """Whether it stands in the record, now or from an earlier sending."""
        return not self.refused


@dataclass(frozen=True, slots=True)
class Typed:
    """A reading as typed: its value and whether the technician accepts it."""

    value: Decimal
    acceptable: bool = True


@dataclass(frozen=True, slots=True)
class TestDay:
    """Records what is done at one visit. `hand` says who, where, with which plan; times are the server's.

    `devices` are those chosen by hand, by class, where another is used than planned.
    """

    __test__ = False  # no test, though its name begins like one

    store: Store
    shown: VisitNow
    hand: Hand
    devices: Mapping[str, str] = field(default_factory=dict)

    def start_effort(self, part: Part, *, token: str | None = None) -> Deed:
        """The next effort of that block has started now."""
        if not part.may_start_effort:
            return Deed(refused=_why_no_effort(part))
        token = token or self.shown.token(f"start {part.index} {part.next_effort}")
        line = self._line(part, part.next_effort, self.shown.now)
        return self._send([line_draft(line, self.hand, token)])

    def finish_effort(
        self,
        part: Part,
        number: int,
        readings: Mapping[str, Typed],
        *,
        note: str = "",
        ended: datetime | None = None,
        started: datetime | None = None,
        token: str | None = None,
    ) -> Deed:
        """That effort is over, now or at `ended`, with these readings; `started` where no start was."""
        manoeuvre = part.activity.manoeuvre
        effort = next((one for one in part.efforts if one.number == number), None)
        begin = effort.started if effort else started
        if begin is None or manoeuvre is None:
            return Deed(refused=f"effort {number} has not been started")
        token = token or self.shown.token(f"done {part.index} {number}")
        units = self._units(part)
        lines = [
            replace(
                self._line(part, number, begin, note, effort),
                reading=name, value=typed.value, unit=units[name], acceptable=typed.acceptable,
            )
            for name, typed in readings.items()
        ]  # fmt: skip
        if not effort and not lines:
            lines = [self._line(part, number, begin, note)]
        drafts = [line_draft(line, self.hand, f"{token}:{line.reading}") for line in lines]
        end = self._line(part, number, ended or self.shown.now, note, effort)
        over = replace(line_draft(end, self.hand, f"{token}:over"), kind=Kind.DONE)
        return self._send([*drafts, over])

    def _units(self, part: Part) -> Mapping[str, str]:
        protocol = self.store.study.protocols[self._protocol()]
        return {
            name: one.unit
            for name, one in protocol.manoeuvres[part.activity.manoeuvre or ""].readings.items()
        }

    def _protocol(self) -> str:
        key = self.shown.key
        visits = self.store.study.asked[key.participant]
        return next(one.protocol for one in visits if (one.kind, one.number) == (key.visit, key.number))

    def begin(self, part: Part, *, at: datetime | None = None, token: str | None = None) -> Deed:
        """That task or bout has started."""
        return self._mark(part, "start", at, token)

    def end(self, part: Part, *, at: datetime | None = None, token: str | None = None) -> Deed:
        """That task or bout has ended: due times count from here."""
        return self._mark(part, "end", at, token)

    def stop(self, part: Part | None = None, *, note: str = "", token: str | None = None) -> Deed:
        """The visit is stopped; no reason is asked."""
        step, at_s = (part.activity.step, part.activity.at_s) if part else ("", None)
        line = Line(self.shown.key, step, at_s, None, None, "stopped", self.shown.now, note=self._note(note))
        return self._send([line_draft(line, self.hand, token or self.shown.token("stopped"))])

    def not_now(self, part: Part, *, token: str | None = None) -> Deed:
        """The participant is not ready; no reason is asked."""
        return self._send([self._plain(Kind.NOT_NOW, part, "", token or self.shown.token("not now"))])

    def note(self, text: str, part: Part | None = None, *, token: str | None = None) -> Deed:
        """A note about the visit, or about one part of it."""
        text = plain_text(text)
        if not text:
            return Deed(refused="the note is empty")
        return self._send([self._plain(Kind.NOTE, part, text, token or self.shown.token(f"note {text}"))])

    def undo(self, seqs: Sequence[int], reason: str, *, token: str | None = None) -> Deed:
        """Take back those lines, with a reason; what was recorded stays to be seen among the events."""
        return correct(self.store, seqs, self.hand, reason, undo=True, token=token)

    def _mark(self, part: Part, what: str, at: datetime | None, token: str | None) -> Deed:
        activity = part.activity
        moment = at or self.shown.now
        line = Line(
            self.shown.key, activity.step, activity.at_s, None, None, what, moment, note=self._note(""),
            rig=self._rig(part),
        )  # fmt: skip
        return self._send([line_draft(line, self.hand, token or self.shown.token(f"{what} {part.index}"))])

    def _rig(self, part: Part) -> str | None:
        chosen = {one: code for one, code in self.devices.items() if one in part.activity.rigs}
        return device_text({**devices_of(self.shown.parts, part), **chosen})

    def _line(
        self, part: Part, number: int, at: datetime, note: str = "", effort: EffortNow | None = None
    ) -> Line:
        """The bare line of that effort; one that was begun stays on the device that it was begun on."""
        activity = part.activity
        return Line(
            self.shown.key,
            activity.step,
            activity.at_s,
            activity.manoeuvre,
            number,
            "",
            at,
            note=self._note(note),
            rig=effort.rig if effort else self._rig(part),
        )

    def _note(self, text: str) -> str:
        return _marked(self.store, text)

    def _plain(self, kind: Kind, part: Part | None, text: str, token: str) -> Draft:
        key: VisitKey = self.shown.key
        step, at_s = (part.activity.step, part.activity.at_s) if part else (None, None)
        manoeuvre = part.activity.manoeuvre if part else None
        return signed(
            Draft(
                kind, key.participant, key.visit, key.number, step, at_s, manoeuvre,
                started=self.shown.now.isoformat(), content=Content(note=text), token=token,
            ),
            self.hand,
        )  # fmt: skip

    def _send(self, drafts: Sequence[Draft]) -> Deed:
        return deed(self.store.append(drafts, whole=True), _warnings(self.store, self.hand, self.shown.now))


def correct(
    store: Store,
    seqs: Sequence[int],
    hand: Hand,
    reason: str,
    *,
    undo: bool = False,
    started: datetime | None = None,
    value: Decimal | None = None,
    acceptable: bool | None = None,
    note: str | None = None,
    rig: str | None = None,
    token: str | None = None,
) -> Deed:
    """Correct (or undo) those lines with a reason; what is not given stays as it is. All or none is changed.

    To correct when an effort started, name all of its lines.
    """
    if not reason.strip():
        return Deed(refused="a correction needs a reason")
    rows = {row.seq: row for row in store.rows_of(seqs)}
    if lacking := [seq for seq in seqs if seq not in rows]:
        return Deed(refused=f"line {lacking[0]} does not stand in the record, or was undone already")
    note = None if note is None else _marked(store, note)
    drafts = [
        _correction(rows[seq], hand, reason, undo, started, value, acceptable, note, rig, token)
        for seq in seqs
    ]
    return deed(store.append(drafts, whole=True), ())


def _correction(
    was: Any,
    hand: Hand,
    reason: str,
    undo: bool,
    started: datetime | None,
    value: Decimal | None,
    acceptable: bool | None,
    note: str | None,
    rig: str | None,
    token: str | None,
) -> Draft:
    said = Content(
        was.value if value is None else f"{value:f}",
        was.unit,
        _claim(was.acceptable) if acceptable is None else acceptable,
        (was.note or "") if note is None else note,
        plain_text(reason),
    )
    draft = Draft(
        Kind.CORRECTION, was.participant, was.visit, was.number, was.step, was.at_s, was.manoeuvre,
        was.effort, was.reading, started.isoformat() if started else was.started, corrects=was.seq,
        undone=undo, rig=rig or was.rig, content=said,
    )  # fmt: skip
    return signed(replace(draft, token=f"{token}:{was.seq}") if token else draft, hand)


def _claim(stored: Any) -> bool | None:
    """A claim as a claim: SQLite's views give whole numbers, which would be hashed as such."""
    return None if stored is None else bool(stored)


def _marked(store: Store, text: str) -> str:
    """The note without control characters; in a rehearsal every line says so."""
    text = plain_text(text)
    if not store.rehearsed or is_rehearsed(text):
        return text
    return f"{REHEARSED}; {text}" if text else REHEARSED


def deed(outcomes: Sequence[Outcome], warnings: tuple[str, ...]) -> Deed:
    """Outcomes of one sending as one deed."""
    refused = next((one.message for one in outcomes if one.what == "refused"), "")
    return Deed(refused, warnings, tuple(one.seq for one in outcomes if one.seq is not None))


def _why_no_effort(part: Part) -> str:
    if part.in_hand is not None:
        return f"effort {part.in_hand} is still under way"
    if part.agreement is not None and not part.agreement.may_go_on:
        return part.agreement.words
    return "no further effort here"


def _warnings(store: Store, hand: Hand, now: datetime) -> tuple[str, ...]:
    found = []
    in_force = store.plan_version()
    if hand.plan_version is not None and in_force is not None and in_force != hand.plan_version:
        found.append(
            f"Recorded under plan {hand.plan_version}, but plan {in_force} is in force: load the page again "
            "and check the sheets in people's hands."
        )
    if hand.device_clock is not None:
        gap_s = hand.device_clock.timestamp() - now.timestamp()
        if abs(gap_s) > MOST_CLOCK_GAP_S:
            found.append(_gap_words(gap_s))
    return tuple(found)


def _gap_words(gap_s: float) -> str:
    """A clock behind cannot be told from a tap that waited for the line."""
    apart = f"{abs(gap_s):.0f} s"
    if gap_s > 0:
        return f"This device's clock is {apart} ahead of the server's. Times are the server's."
    return (
        f"This came {apart} after this device's clock says it was tapped: the line was cut, or that clock is "
        "behind. The server's time is kept, the device's beside it; correct the time if the line was cut."
    )
