"""A sheet for the study meeting, and a folder with it, the pictures, the log and the methods."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TypedDict

from planner.adherence.drift import drift
from planner.adherence.log import log_rows, write_log
from planner.adherence.methods import methods_paragraph
from planner.adherence.model import Adherence
from planner.adherence.scores import Forecasts, forecasts
from planner.adherence.timeline import timeline
from planner.adherence.words import summary_words
from planner.documents.adherence_pictures import Picture, pictures, save, visit_picture
from planner.documents.shown import plan_words
from planner.documents.texts import lines, say
from planner.documents.typeset import PAPERS, typeset
from planner.record.effort import Happened
from planner.schedule.model import Schedule
from planner.study.model import Study

_POINTS = 0.87  # that a unit of a picture is wide: its smallest letters, 11 units, are over 9 points
_WIDE = 580  # units that fit side by side
_WIDTH = re.compile(r'<svg[^>]* width="([0-9.]+)"')
_BELOW = ("weeks", "forecasts", "rests", "efforts")
_VISITS = 6  # drawn one by one
_MOST = 6  # deviations on the page; the log holds all
_METHODS = 1500  # letters of the methods paragraph on the sheet; the file holds all of it


def write_report(
    study: Study,
    schedule: Schedule | None,
    found: Adherence,
    folder: Path,
    *,
    paper: str = "a4",
    ahead: Forecasts | None = None,
    happened: Happened | None = None,
) -> tuple[Path, ...]:
    """Write report, deviation log, methods paragraph, pictures with their data; the paths in that order.

    Reasons already written into a log in that folder stay. `ahead`: forecasts that were made with what
    has been learned; without it, those of the protocols as they stand. `happened`: with the record, the
    visits with most deviations are drawn as well, each on its own ruler.
    """
    folder.mkdir(parents=True, exist_ok=True)
    drawn = pictures(study, found, ahead or forecasts(study))
    report, log, methods = (folder / name for name in ("adherence.pdf", "deviations.csv", "methods.txt"))
    report.write_bytes(report_pdf(study, schedule, found, drawn, paper=paper))
    write_log(found, log)
    methods.write_text(methods_paragraph(study, found) + "\n", encoding="utf-8")
    drawn += _visits(study, schedule, happened, found) if happened else ()
    return (report, log, methods, *(path for picture in drawn for path in save(picture, folder)))


def _visits(
    study: Study, schedule: Schedule | None, happened: Happened, found: Adherence
) -> tuple[Picture, ...]:
    """The visits with most deviations, the later first among equals."""
    counts = Counter(deviation.key for deviation in found.deviations)
    begun = [(counts[v.key], v.happened.timestamp(), v.key) for v in found.visits if v.happened]
    worst = sorted(begun, key=lambda visit: visit[:2], reverse=True)[:_VISITS]
    timelines = (timeline(study, schedule, happened, found, key) for _, _, key in worst)
    return tuple(visit_picture(study, line) for line in timelines if line is not None)


def report_pdf(
    study: Study,
    schedule: Schedule | None,
    found: Adherence,
    drawn: Sequence[Picture],
    *,
    paper: str = "a4",
) -> bytes:
    """The sheet: what matters in five lines, time points, important deviations; all else on its back."""
    made = _made(study, schedule, found)
    plan = plan_words(schedule) if schedule else say("adherence.report_no_plan")
    rows = [row for row in log_rows(found) if row["important"]] or log_rows(found)
    rows.sort(key=lambda row: row["when"], reverse=True)
    rows.sort(key=lambda row: not row["what"].startswith("time point"))
    by_name = {picture.name: picture for picture in drawn}
    shown = [
        [row["participant"], row["visit"], row["where"], f"{row['what']}: {row['words']}"]
        for row in rows[:_MOST]
    ]
    values = {
        "title": say("adherence.report_title"),
        "heading": f"{say('adherence.report_title')}: {study.name}",
        "paper": PAPERS[paper],
        "made": [made.year, made.month, made.day],
        "lang": say("common.language"),
        "region": say("common.region"),
        "foot-code": study.name,
        "foot": " · ".join([*_warnings(study, found), say("adherence.report_foot")]),
        "page": say("common.page"),
        "plan": plan,
        "key": _key_lines(found),
        "main": _of_picture(by_name["time-points"]),
        "below": _side_by_side([_of_picture(by_name[name]) for name in _BELOW]),
        "columns": lines("adherence.report_columns"),
        "deviations-title": _deviations_title(found, len(shown)),
        "deviations": shown,
        "none": say("adherence.report_none"),
        "methods-title": say("adherence.report_methods"),
        "methods": _cut(methods_paragraph(study, found)),
        "drift-title": say("adherence.report_drift"),
        "drift": drift(found).words,
    }
    return typeset("adherence_report.typ", values, made)


def _made(study: Study, schedule: Schedule | None, found: Adherence) -> datetime:
    """The latest recorded visit, so that the same record prints the same bytes."""
    moments = [visit.happened for visit in found.visits if visit.happened]
    if moments:
        return max(moments, key=datetime.timestamp)
    return schedule.made if schedule else datetime.combine(study.first_day, datetime.min.time(), study.zone)


def _warnings(study: Study, found: Adherence) -> list[str]:
    demo = [say("common.demo")] if study.demo else []
    return [*demo, *([say("common.rehearsed")] if found.rehearsed else [])]


def _key_lines(found: Adherence) -> list[str]:
    """The sentences of the summary up to the visits; notes are on the page."""
    lines = summary_words(found).splitlines()
    end = next((n for n, line in enumerate(lines) if line.startswith("Visits: ")), len(lines))
    return [line for line in lines[:end] if ": " in line]


class _Drawn(TypedDict):
    title: str
    words: str
    says: str
    svg: str
    width: float


def _of_picture(picture: Picture) -> _Drawn:
    """The picture with its words, and the sentence of them that says how to read it; its width in points."""
    svg = picture.svg()
    found = _WIDTH.search(svg)
    assert found is not None  # every drawing says how wide it is
    how, end, _ = picture.words.partition(". ")
    return {
        "title": picture.title,
        "words": picture.words,
        "says": f"{how}{end}".strip(),
        "svg": svg,
        "width": _POINTS * float(found[1]),
    }


def _side_by_side(drawn: Sequence[_Drawn]) -> list[list[_Drawn]]:
    """In rows: two beside each other where both fit."""
    rows: list[list[_Drawn]] = []
    for one in drawn:
        beside = rows[-1] if rows and len(rows[-1]) == 1 else None
        if beside and beside[0]["width"] + one["width"] <= _POINTS * _WIDE:
            beside.append(one)
        else:
            rows.append([one])
    return rows


def _deviations_title(found: Adherence, shown: int) -> str:
    important = sum(deviation.important for deviation in found.deviations)
    if important or not found.deviations:
        return say("adherence.report_deviations", shown=shown, all=important)
    return say("adherence.report_deviations_all", shown=shown, all=len(found.deviations))


def _cut(words: str) -> str:
    """Whole sentences, as many as fit on the page."""
    if len(words) <= _METHODS:
        return words
    return words[: words.rindex(". ", 0, _METHODS) + 1] + " " + say("adherence.report_more")
