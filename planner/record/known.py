"""What the record already holds of the visits that some drafts are about, and what follows for each draft."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any, Literal, NamedTuple, TypeAlias

from planner.record.events import LINES, Content, Draft, Kind
from planner.record.lines import EffortKey, LineKey

WITHDRAWN = "this participant has withdrawn and the readings were removed; nothing more is taken"

Said: TypeAlias = tuple[object, ...]  # what a line says, in a form that compares


class Version(NamedTuple):
    """A line as recorded or corrected."""

    seq: int
    started: str
    said: Said
    rig: str | None


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

    def learn_gone(self, rows: Sequence[Any]) -> None:
        """Who has withdrawn with erasure."""
        self.gone = {participant for (participant,) in rows}

    def learn_tokens(self, rows: Sequence[Any]) -> None:
        """Tokens that stand in the record, and where."""
        self.tokens |= dict(rows)

    def learn_rows(self, rows: Sequence[Any]) -> None:
        """Lines and their corrections, in order."""
        for seq, one, visit, number, step, at_s, manoeuvre, effort, reading, started, *rest in rows:
            corrects, undone, rig, *said = rest
            key = LineKey(EffortKey(one, visit, number, step, at_s, manoeuvre, effort), reading or "")
            self._learn(key, Version(seq, started or "", _said(*said), rig), corrects, bool(undone))

    def learn_refused(self, rows: Sequence[Any]) -> None:
        """Rows that were refused before."""
        self.refused = {(raw or "", reason or ""): seq for seq, raw, reason in rows}

    def learn_plans(self, rows: Sequence[Any]) -> None:
        """Plans that were put in force, in order."""
        for seq, version, raw in rows:
            self._learn_plan(seq, version, raw or "")

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
                same_rig = draft.rig in (None, version.rig)  # no device named says nothing against one
                if version.said == said and same_rig and _same_time(version.started, draft.started):
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
        same = latest.said == _said_by(draft) and latest.rig == draft.rig
        if not draft.undone and same and _same_time(latest.started, draft.started):
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
            version = Version(seq, draft.started or "", _said_by(draft), draft.rig)
            self._learn(_key(draft), version, draft.corrects, draft.undone)
        elif draft.kind is Kind.REFUSED:
            self.refused[(draft.content.raw, draft.content.reason)] = seq
        elif draft.kind is Kind.PLAN and draft.plan_version is not None:
            self._learn_plan(seq, draft.plan_version, draft.content.raw)

    def _learn(self, key: LineKey, version: Version, corrects: int | None, undone: bool) -> None:
        if corrects is None:
            before = self.stories.get(key)
            story = Story(version.seq, [*(before.versions if before else []), version])
            self.stories[key] = self.by_line[version.seq] = story
        else:
            story = self.by_line[corrects]
            story.undone = undone
            if not undone:
                story.versions.append(version)
        present = self.begun.setdefault(key.of, {})
        present.pop(key, None)
        if not story.undone:
            present[key] = version.started


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
