"""What was found as the JSON document of the formats."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from planner.adherence.model import (
    Adherence,
    AsPlanned,
    Deviation,
    EffortLine,
    Ended,
    Kept,
    PointLine,
    VisitLine,
    count_of,
)
from planner.adherence.shares import Share


def document(found: Adherence) -> dict[str, Any]:
    """Efforts, time points and summary as fixed; visits, deviations and notes beside them."""
    return {
        "study": found.study,
        "version": found.plan_version,
        "rehearsed": found.rehearsed,
        "efforts": [_effort(line) for line in found.efforts],
        "time_points": [_point(line) for line in found.time_points],
        "summary": summary(found),
        "visits": [_visit(line) for line in found.visits],
        "deviations": [_deviation(line) for line in found.deviations],
        "notes": [{"kind": note.kind, **_whose(note.key), "message": note.words} for note in found.notes],
    }


def summary(found: Adherence) -> dict[str, Any]:
    """The counts and shares."""
    points = count_of(point.kept for point in found.time_points)
    kept = found.kept
    return {
        "time_points": {
            "on_time": kept.kept,
            "of": kept.of,
            **kept.as_json(),
            "early": points.get(Kept.EARLY, 0),
            "late": points.get(Kept.LATE, 0),
            "never_measured": points.get(Kept.NEVER, 0),
            "no_anchor": points.get(Kept.NO_ANCHOR, 0),
            "stopped": points.get(Kept.STOPPED, 0),
        },
        "efforts": found.counts._asdict(),
        "rests": _rests(found),
        "stop_rule": _stop_rule(found),
        "rigs": served(found.rigs),
        "staff": None if found.staff is None else served(found.staff),
        "refused_rows": found.refused_rows,
    }


def served(counts: AsPlanned) -> dict[str, Any]:
    """Blocks on the planned device or by the planned people, otherwise, not recorded, and the share."""
    return {**counts._asdict(), "of": counts.share.of, **counts.share.as_json()}


def _rests(found: Adherence) -> dict[str, Any]:
    cut = sum(line.rest_s < line.asked_s for line in found.rests)
    share = Share(len(found.rests) - cut, len(found.rests))
    shortest = min((line.rest_s for line in found.rests), default=None)
    return {"kept": share.kept, "of": share.of, "cut_short": cut, **share.as_json(), "shortest_s": shortest}


def _stop_rule(found: Adherence) -> dict[str, Any]:
    ends = count_of(block.ended for block in found.blocks if block.ended)
    kept = ends.get(Ended.AS_SOON, 0) + ends.get(Ended.WITHOUT, 0)
    share = Share(kept, kept + ends.get(Ended.TOO_EARLY, 0) + ends.get(Ended.TOO_LATE, 0))
    return {
        **{end.value.replace(" ", "_"): ends.get(end, 0) for end in Ended},
        "kept": share.kept,
        "of": share.of,
        **share.as_json(),
    }


def _when(moment: datetime | None) -> str | None:
    return moment.isoformat(timespec="seconds") if moment else None


def _whose(key: Any) -> dict[str, Any]:
    if key is None:
        return {"participant": None, "visit": None, "number": None}
    return {"participant": key.participant, "visit": key.visit, "number": key.number}


def _effort(line: EffortLine) -> dict[str, Any]:
    return {
        **_whose(line.key),
        "condition": line.condition,
        "step": line.step,
        "at_s": line.at_s,
        "manoeuvre": line.manoeuvre,
        "effort": line.effort,
        "planned": _when(line.planned),
        "happened": _when(line.happened),
        "off_s": line.off_s,
        "rest_before_s": line.rest_before_s,
        "state": line.fate.value,
    }


def _point(line: PointLine) -> dict[str, Any]:
    return {
        **_whose(line.key),
        "condition": line.condition,
        "step": line.step,
        "at_s": line.at_s,
        "planned_after_s": line.planned_after_s,
        "happened_after_s": line.happened_after_s,
        "on_time": line.on_time,
        "window_s": [line.low_s, line.high_s],
        "off_s": line.off_s,
        "state": line.kept.value,
        "important": line.important,
    }


def _visit(line: VisitLine) -> dict[str, Any]:
    return {
        **_whose(line.key),
        "condition": line.condition,
        "state": line.presence.value,
        "in_plan": line.in_plan,
        "planned": _when(line.planned),
        "happened": _when(line.happened),
        "off_s": line.off_s,
        "stopped": _when(line.stopped),
    }


def _deviation(line: Deviation) -> dict[str, Any]:
    return {
        "kind": line.kind,
        **_whose(line.key),
        "step": line.step,
        "at_s": line.at_s,
        "manoeuvre": line.manoeuvre,
        "effort": line.effort,
        "when": _when(line.when),
        "size": line.size,
        "unit": line.unit,
        "important": line.important,
        "message": line.words,
        "note": line.note,
    }
