"""What the record already holds of the visits that some drafts are about, and what follows for each draft."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any, Literal, NamedTuple, TypeAlias

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from planner.record.events import LINES, Content, Draft, Kind
from planner.record.lines import EffortKey, LineKey
from planner.record.tables import content, event, events_query

_AT_ONCE = 500
_FEW = 50
_ABOUT_LINES = frozenset({*LINES, Kind.CORRECTION})
WITHDRAWN = "this participant has withdrawn and the readings were removed; nothing more is taken"

Condition: TypeAlias = sa.ColumnElement[bool]
Said: TypeAlias = tuple[object, ...]  # what a line says, in a form that compares


class Version(NamedTuple):
    """A line as recorded or corrected."""

    seq: int
    started: str
    said: Said


@dataclass(slots=True)
class Story:
    """All versions of one line, and whether it was undone last."""

    line: int  # the event's number
    versions: list[Version]
    undone: bool = False


@dataclass(slots=True)
class Known:
    """The stories of lines by key; tokens, refused rows and plans that stand in the record."""

    tokens: dict[str, int] = field(default_factory=dict)
    stories: dict[LineKey, Story] = field(default_factory=dict)
    by_line: dict[int, Story] = field(default_factory=dict)
    begun: dict[EffortKey, dict[LineKey, str]] = field(
        default_factory=dict
    )  # present lines, when they started
    refused: dict[tuple[str, str], int] = field(default_factory=dict)
    plans: dict[int, str] = field(default_factory=dict)
    last_plan: tuple[int, int] | None = None  # its event, its version
    gone: set[str] = field(default_factory=set)  # participants whose readings were removed

    @classmethod
    def read(cls, connection: Connection, drafts: Sequence[Draft]) -> Known:
        """What concerns these drafts."""
        known = cls()
        withdrawn = sa.select(event.c.participant).where(event.c.kind == str(Kind.REMOVAL))
        known.gone = {row.participant for row in connection.execute(withdrawn)}
        known._read_tokens(connection, [draft.token for draft in drafts])
        known._read_lines(connection, [draft for draft in drafts if draft.kind in _ABOUT_LINES])
        if any(draft.kind is Kind.REFUSED for draft in drafts):
            known._read_refused(connection)
        if any(draft.kind is Kind.PLAN for draft in drafts):
            known._read_plans(connection)
        return known

    def _read_tokens(self, connection: Connection, tokens: Sequence[str]) -> None:
        for start in range(0, len(tokens), _AT_ONCE):
            part = tokens[start : start + _AT_ONCE]
            query = sa.select(event.c.token, event.c.seq).where(event.c.token.in_(part))
            self.tokens |= {row.token: row.seq for row in connection.execute(query)}

    def _read_lines(self, connection: Connection, drafts: Sequence[Draft]) -> None:
        """The lines of the efforts that few drafts are about, of the whole visits that many are about."""
        efforts = {(d.participant, d.visit, d.step, d.effort) for d in drafts}
        if len(efforts) <= _FEW:
            these: list[Condition] = [_about(*effort[:2]) & _effort_is(*effort[2:]) for effort in efforts]
        else:
            these = [_about(*visit) for visit in {effort[:2] for effort in efforts}]
        kinds = [str(kind) for kind in _ABOUT_LINES]
        for start in range(0, len(these), _FEW):
            of_these = sa.or_(*these[start : start + _FEW])
            for row in connection.execute(events_query().where(of_these, event.c.kind.in_(kinds))):
                self._learn_row(row)

    def _learn_row(self, row: Any) -> None:
        said = _said(row.value, row.unit, row.acceptable, row.note)
        key = LineKey(
            EffortKey(row.participant, row.visit, row.number, row.step, row.at_s, row.manoeuvre, row.effort),
            row.reading or "",
        )
        self._learn(row.seq, key, row.started, said, row.corrects, bool(row.undone))

    def _read_refused(self, connection: Connection) -> None:
        query = (
            sa.select(event.c.seq, content.c.raw, content.c.reason)
            .join(content, content.c.seq == event.c.seq)
            .where(event.c.kind == str(Kind.REFUSED))
        )
        self.refused = {(row.raw or "", row.reason or ""): row.seq for row in connection.execute(query)}

    def _read_plans(self, connection: Connection) -> None:
        query = events_query().where(event.c.kind == str(Kind.PLAN))
        for row in connection.execute(query):
            self._learn_plan(row.seq, row.plan_version, row.raw or "")

    def _learn_plan(self, seq: int, version: int, raw: str) -> None:
        self.plans.setdefault(version, _fingerprint(raw))
        self.last_plan = (seq, version)

    def token(self, token: str) -> int | None:
        """The number of the event with that token."""
        return self.tokens.get(token)

    def judge(self, draft: Draft) -> tuple[Literal["already there", "refused"], int | None, str] | None:
        """What becomes of a line that is not new; None where it is."""
        if draft.participant in self.gone:
            return "refused", None, WITHDRAWN
        key, said = _key(draft), _said_by(draft)
        if story := self.stories.get(key):
            for version in story.versions:
                if version.said == said and _same_time(version.started, draft.started):
                    return "already there", version.seq, ""
            if not story.undone:
                words = (
                    "the record holds this line with other content; a correction is made there, with a reason"
                )
                return "refused", story.line, words
        return self._out_of_time(key, draft)

    def _out_of_time(self, key: LineKey, draft: Draft) -> tuple[Literal["refused"], None, str] | None:
        started = draft.started or ""
        if draft.kind is Kind.MARK:
            words = self._ends_before_it_starts(key, started)
            return ("refused", None, words) if words else None
        for other in self.begun.get(key.of, {}).values():
            if not _same_time(other, started):
                words = (
                    f"effort {draft.effort} started at {other} in another line and at {started} in this one"
                )
                return "refused", None, words
        return None

    def _ends_before_it_starts(self, key: LineKey, at: str) -> str:
        marks = {k.reading: started for k, started in self.begun.get(key.of, {}).items()}
        start = at if key.reading == "start" else marks.get("start")
        end = at if key.reading == "end" else marks.get("end")
        if key.reading in ("start", "end") and start and end and _instant(end) < _instant(start):
            return f"it would end at {end}, before it starts at {start}"
        return ""

    def objection(self, draft: Draft) -> str | None:
        """Why a draft that is no line cannot stand; None where it can."""
        if draft.participant in self.gone and draft.kind not in (Kind.REMOVAL, Kind.REFUSED):
            return WITHDRAWN
        if draft.kind is Kind.PLAN and draft.plan_version in self.plans:
            if self.plans[draft.plan_version] != _fingerprint(draft.content.raw):
                return (
                    f"plan {draft.plan_version} was in force already with other content; make a new version"
                )
            return None
        if draft.kind is not Kind.CORRECTION:
            return None
        story = self.by_line.get(draft.corrects or 0)
        if story is None:
            return "there is no such line in the record to correct"
        if not draft.content.reason.strip():
            return "a correction needs a reason"
        if story.undone:
            return "this line was undone already"
        latest = story.versions[-1]
        if not draft.undone and latest.said == _said_by(draft) and _same_time(latest.started, draft.started):
            return "the correction changes nothing"
        return None

    def excerpt(self, drafts: Sequence[Draft]) -> Known:
        """A copy of what concerns these drafts, to try them on."""
        keys = {_key(draft) for draft in drafts}
        stories = {key: replace(self.stories[key]) for key in keys if key in self.stories}
        for story in stories.values():
            story.versions = list(story.versions)
        lines = {story.line: story for story in stories.values()}
        begun = {key.of: dict(self.begun[key.of]) for key in keys if key.of in self.begun}
        plans = (dict(self.plans), self.last_plan)
        return Known(dict(self.tokens), stories, lines, begun, dict(self.refused), *plans, self.gone)

    def fit_to_keep(self, draft: Draft) -> Draft:
        """The draft; of a refused row that names somebody withdrawn, without its cells."""
        raw = draft.content.raw.casefold()
        if draft.kind is Kind.REFUSED and any(code.casefold() in raw for code in self.gone):
            return replace(draft, content=Content(reason=draft.content.reason))
        return draft

    def same(self, draft: Draft) -> int | None:
        """The event that already says what this draft says, where saying it twice means nothing."""
        if draft.kind is Kind.REFUSED:
            return self.refused.get((draft.content.raw, draft.content.reason))
        if draft.kind is Kind.PLAN and self.last_plan and self.last_plan[1] == draft.plan_version:
            return self.last_plan[0]
        return None

    def learn(self, seq: int, draft: Draft) -> None:
        """Take in a draft that has just become event `seq`."""
        self.tokens[draft.token] = seq
        if draft.kind in LINES or draft.kind is Kind.CORRECTION:
            self._learn(seq, _key(draft), draft.started, _said_by(draft), draft.corrects, draft.undone)
        elif draft.kind is Kind.REFUSED:
            self.refused[(draft.content.raw, draft.content.reason)] = seq
        elif draft.kind is Kind.PLAN and draft.plan_version is not None:
            self._learn_plan(seq, draft.plan_version, draft.content.raw)

    def _learn(
        self, seq: int, key: LineKey, started: str | None, said: Said, corrects: int | None, undone: bool
    ) -> None:
        version = Version(seq, started or "", said)
        if corrects is None:
            before = self.stories.get(key)
            story = Story(seq, [*(before.versions if before else []), version])
            self.stories[key] = self.by_line[seq] = story
        else:
            story = self.by_line[corrects]
            story.undone = undone
            if not undone:
                story.versions.append(version)
        present = self.begun.setdefault(key.of, {})
        present.pop(key, None)
        if not story.undone:
            present[key] = started or ""


def _about(participant: str | None, visit: str | None) -> Condition:
    return sa.and_(event.c.participant == participant, event.c.visit == visit)


def _effort_is(step: str | None, effort: int | None) -> Condition:
    return sa.and_(event.c.step == step, event.c.effort == effort)


def _key(draft: Draft) -> LineKey:
    of = EffortKey(
        draft.participant or "", draft.visit or "", draft.number, draft.step or "", draft.at_s,
        draft.manoeuvre, draft.effort,
    )  # fmt: skip
    return LineKey(of, draft.reading or "")


def _said_by(draft: Draft) -> Said:
    said = draft.content
    return _said(said.value, said.unit, said.acceptable, said.note)


def _said(value: str | None, unit: str | None, acceptable: bool | None, note: str | None) -> Said:
    is_yes = True if acceptable is None else bool(acceptable)
    return None if value is None else Decimal(value), unit or "", is_yes, note or ""


def _instant(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


def _same_time(one: str | None, other: str | None) -> bool:
    return _instant(one or "") == _instant(other or "") if one and other else one == other


def _fingerprint(raw: str) -> str:
    return str(json.loads(raw).get("fingerprint", "")) if raw else ""
