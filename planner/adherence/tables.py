"""What was found as tables, for pages and for people's own analysis; conditions of blind visits left out."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pandas as pd

from planner.adherence.groups import Group
from planner.adherence.learn import Lesson
from planner.adherence.log import COLUMNS, log_rows
from planner.adherence.model import Adherence
from planner.record.effort import VisitKey


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


def lessons_table(lessons: Iterable[Lesson]) -> pd.DataFrame:
    """A row a thing learned: assumed, seen with its range, learned, observations."""
    return _table(lesson._asdict() for lesson in lessons)


def _whose(found: Adherence, key: VisitKey, condition: str | None) -> dict[str, Any]:
    return {"participant": key.participant, "visit": found.visit_name(key, condition)}


_WHOLE = ("effort", "efforts", "planned_efforts", "close_enough_after")


def _table(rows: Iterable[dict[str, Any]]) -> pd.DataFrame:
    table = pd.DataFrame(list(rows))
    whole = [name for name in table.columns if name.endswith("_s") or name in _WHOLE]
    return table.astype(dict.fromkeys(whole, "Int64"))
