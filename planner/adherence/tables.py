"""What was found as tables, for pages and for people's own analysis; conditions of blind visits left out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import pandas as pd

from planner.adherence.groups import Group
from planner.adherence.learn import Lesson
from planner.adherence.log import COLUMNS, log_rows
from planner.adherence.measure_names import measure_names
from planner.adherence.model import Adherence
from planner.adherence.shares import Share, percent
from planner.protocol.model import Protocol
from planner.record.effort import VisitKey
from planner.study.model import Study


def efforts_table(found: Adherence) -> pd.DataFrame:
    """A row an effort, recorded or missing: planned and happened, seconds off the clock, rest before."""
    return _table(
        {
            **_whose(found, line.key, line.condition),
            "step": line.step,
            "at_s": line.at_s,
            "manoeuvre": line.manoeuvre,
            "effort": line.effort,
            "planned": line.planned,
            "happened": line.happened,
            "off_s": line.off_s,
            "rest_before_s": line.rest_before_s,
            "state": line.fate.value,
        }
        for line in found.efforts
    )


def points_table(found: Adherence) -> pd.DataFrame:
    """A row a time point: window and what happened in seconds from the anchor, and how it was kept."""
    return _table(
        {
            **_whose(found, line.key, line.condition),
            "step": line.step,
            "at_s": line.at_s,
            "manoeuvre": line.manoeuvre,
            "not_before_s": line.low_s,
            "not_after_s": line.high_s,
            "planned_after_s": line.planned_after_s,
            "happened_after_s": line.happened_after_s,
            "off_s": line.off_s,
            "kept": line.kept.value,
            "important": line.important,
        }
        for line in found.time_points
    )


def blocks_table(found: Adherence) -> pd.DataFrame:
    """A row a recorded block: efforts done and planned, after how many the rule held, how it ended."""
    return _table(
        {
            **_whose(found, line.key, None),
            "step": line.step,
            "at_s": line.at_s,
            "manoeuvre": line.manoeuvre,
            "started": line.started,
            "efforts": line.efforts,
            "planned_efforts": line.planned_efforts,
            "close_enough_after": line.held_after,
            "ended": line.ended.value if line.ended else None,
            "devices": ", ".join(line.rigs) or "not recorded",
            "planned_devices": ", ".join(line.planned_rigs),
        }
        for line in found.blocks
    )


def deviations_table(found: Adherence) -> pd.DataFrame:
    """The deviation log as it is exported."""
    return pd.DataFrame(log_rows(found), columns=list(COLUMNS))


def groups_table(groups: Iterable[Group]) -> pd.DataFrame:
    """A row a group: on time, of, and the share with its 95 % range."""
    return _table(
        {"group": group.name, "on_time": group.share.kept, "of": group.share.of, **group.share.as_json()}
        for group in groups
    )


def shares_in_words(groups: Iterable[Group], heading: str) -> pd.DataFrame:
    """The same for a page: `heading` names what the groups are; shares in percent with their range."""
    return pd.DataFrame(
        {
            heading: group.name,
            "On time": group.share.kept,
            "Of": group.share.of,
            "Share (95 % range)": _range_words(group.share),
        }
        for group in groups
    )


def _range_words(share: Share) -> str:
    if share.share is None or share.low is None or share.high is None:
        return "none to judge"
    return f"{percent(share.share)} % ({percent(share.low)} to {percent(share.high)} %)"


_LOG_WORDS = {
    "when": "When",
    "participant": "Participant",
    "visit": "Visit",
    "where": "Where",
    "effort": "Effort",
    "what": "What",
    "size": "Size",
    "unit": "Unit",
    "important": "Important",
    "words": "In words",
    "note": "Note",
    "reason": "Reason",
    "who": "Who says so",
}


def deviations_in_words(found: Adherence) -> pd.DataFrame:
    """The deviation log for a page: the columns that hold anything, the sentence and its place first."""
    table = deviations_table(found)
    shown = [name for name in _LOG_WORDS if (table[name] != "").any()]
    shown.sort(key=lambda name: name not in ("participant", "visit", "where", "words"))
    return table[shown].rename(columns=_LOG_WORDS)


def lessons_table(lessons: Iterable[Lesson]) -> pd.DataFrame:
    """A row a thing learned: assumed, seen with its range, learned, observations."""
    return _table(
        {name: value for name, value in lesson._asdict().items() if name != "drawn"} for lesson in lessons
    )


_WHAT = {
    "spread": "usual difference between efforts",
    "preparing": "getting ready",
    "clearing": "cleaning and reset",
    "length": "length",
    "rest": "rest between efforts",
    "delay": "starts later than it could",
    "lateness": "begins later than due",
}


def assumed_and_learned(lessons: Iterable[Lesson], study: Study) -> pd.DataFrame:
    """The same in words for a page: what, of what, assumed, learned, and what stands behind it."""
    by_name = {protocol.name: protocol for protocol in study.protocols.values()}
    names = measure_names(study)
    return pd.DataFrame(
        {
            "Protocol": by_name[one.protocol].title,
            "What": f"{_WHAT[one.what]}{f' in {one.reading}' if one.reading else ''}",
            "Of": _of(by_name[one.protocol], one.of, names),
            "Assumed": _quantity(one.assumed, one.unit),
            "Learned": _quantity(one.learned, one.unit),
            "Seen (95 % range)": _seen(one),
            "Recorded": one.observations,
            "Participants": one.participants,
        }
        for one in lessons
    )


def _of(protocol: Protocol, of: str, names: Mapping[tuple[str, str], str]) -> str:
    """The measure or the part of the visit by its title."""
    if of in protocol.manoeuvres:
        return names[protocol.file, of]
    return next((step.title for step in protocol.visit if step.id == of), of)


def _quantity(value: float, unit: str) -> str:
    return f"{value:.0f} s" if unit == "s" else f"{value:.3g} {unit}"


def _seen(one: Lesson) -> str:
    seen = _quantity(one.seen, one.unit)
    if one.low is None or one.high is None:
        return f"{seen} (too few for a range)"
    return f"{seen} ({_quantity(one.low, one.unit)} to {_quantity(one.high, one.unit)})"


def _whose(found: Adherence, key: VisitKey, condition: str | None) -> dict[str, Any]:
    return {"participant": key.participant, "visit": found.visit_name(key, condition)}


_WHOLE = ("effort", "efforts", "planned_efforts", "close_enough_after")


def _table(rows: Iterable[dict[str, Any]]) -> pd.DataFrame:
    table = pd.DataFrame(list(rows))
    whole = [name for name in table.columns if name.endswith("_s") or name in _WHOLE]
    return table.astype(dict.fromkeys(whole, "Int64"))
