"""One participant's visit on paper, for the technician: at most two pages for up to twenty blocks."""

from __future__ import annotations

import re
from typing import NamedTuple

from planner.documents import care
from planner.documents.qr import code_svg, code_text
from planner.documents.rule_words import joined
from planner.documents.sheet_rows import rows
from planner.documents.shown import date_words, hhmm, page_values, placed_words, plan_words, protocol_of
from planner.documents.texts import say
from planner.documents.typeset import typeset
from planner.protocol.model import Manoeuvre, Protocol
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study

SITE = ("person in charge", "emergency number", "defibrillator", "oxygen", "reliever")


_PAGES = re.compile(rb"/Type/Pages/Count (\d+)")
TIGHTEST = 2
MOST_PAGES = 2


class Fitted(NamedTuple):
    """A sheet and how tightly it had to be set: 0 is roomy, 2 the tightest."""

    pdf: bytes
    level: int


def run_sheet(study: Study, schedule: Schedule, visit: PlacedVisit, *, paper: str = "a4") -> bytes:
    """The run sheet of one placed visit as a PDF."""
    return fitted_run_sheet(study, schedule, visit, paper=paper).pdf


def fitted_run_sheet(
    study: Study, schedule: Schedule, visit: PlacedVisit, *, paper: str = "a4", level: int = 0
) -> Fitted:
    """The roomiest setting from `level` on that keeps to two pages, or else the tightest."""
    values = run_sheet_values(study, schedule, visit, paper=paper)
    while True:
        pdf = typeset("run_sheet.typ", {**values, "level": level}, schedule.made)
        if level == TIGHTEST or pages(pdf) <= MOST_PAGES:
            return Fitted(pdf, level)
        level += 1


def pages(pdf: bytes) -> int:
    """The number of pages of a PDF that we made."""
    found = _PAGES.search(pdf)
    if found is None:
        raise ValueError("the document does not say how many pages it has")
    return int(found[1])


def run_sheet_values(
    study: Study, schedule: Schedule, visit: PlacedVisit, *, paper: str = "a4"
) -> dict[str, object]:
    """Everything that the template prints; every word of it is in here."""
    protocol = protocol_of(study, visit)
    shown = placed_words(study, visit)
    date = date_words(visit.date)
    code = code_text(visit.participant, visit.file_id, schedule.version)
    title = say("run_sheet.title", code=visit.participant, visit=shown, date=date)
    return {
        **page_values(study, schedule, title, paper=paper),
        "foot-code": f"{visit.participant} · {shown}",
        "code": visit.participant,
        "visit": shown,
        "date": date,
        "arrival": say("run_sheet.arrival", clock=hhmm(visit.start)),
        "end": say("run_sheet.planned_end", clock=hhmm(visit.end)),
        "plan": say("run_sheet.plan_short", version=schedule.version),
        "plan-words": plan_words(schedule),
        "qr": code_svg(code),
        "qr-alt": say("run_sheet.qr", text=code),
        "cleared": say("run_sheet.cleared"),
        "site": _site(study),
        "site-missing": _site_missing(study),
        "before-title": say("run_sheet.before_title"),
        "before": list(care.before_efforts(protocol)),
        "how": say("run_sheet.how_to_fill"),
        "rows": rows(protocol, visit),
        "stop-title": say("run_sheet.stop_title"),
        "stop": _stop(protocol),
        "cautions-title": say("run_sheet.cautions_title"),
        "cautions": list(protocol.cautions),
        "around": list(care.around_exercise(protocol)),
        "short": short_of_time(protocol),
        "unwell": say("run_sheet.unwell"),
        "no-leaving": say("run_sheet.no_leaving") if care.bouts(protocol) else "",
        "may-leave": say("run_sheet.may_leave"),
        "notes": say("run_sheet.notes"),
        "initials": say("run_sheet.initials"),
    }


def _site(study: Study) -> list[dict[str, str]]:
    return [{"label": say(f"on_site.{key}"), "value": study.on_site.get(key, "").strip()} for key in SITE]


def _site_missing(study: Study) -> str:
    missing = [say(f"on_site.{key}").lower() for key in SITE if not study.on_site.get(key, "").strip()]
    return say("run_sheet.site_missing", missing=joined(missing)) if missing else ""


def _stop(protocol: Protocol) -> list[str]:
    """Reasons to stop: those of exercise, then the protocol's own, each once."""
    found = []
    if care.bouts(protocol):
        found.append(say("run_sheet.stop_exercise", reasons=say("care.exercise_stop")))
    for manoeuvre in protocol.manoeuvres.values():
        found += [line for line in stop_if_words(manoeuvre) if line not in found]
    return found


def stop_if_words(manoeuvre: Manoeuvre) -> list[str]:
    """`stop_if` as something a person can work out by hand; the sheet decides nothing."""
    found = []
    for rule in manoeuvre.stop_if:
        key = "run_sheet.stop_if" if rule.falls_below.is_percent else "run_sheet.stop_if_amount"
        found.append(
            say(
                key,
                manoeuvre=manoeuvre.title,
                reading=rule.reading,
                share=str(rule.falls_below).replace(" ", "\u00a0"),
                unit=manoeuvre.readings[rule.reading].unit if rule.reading in manoeuvre.readings else "",
            )
        )
    return found


def short_of_time(protocol: Protocol) -> str:
    """What to leave out first, from the protocol's `priority`; who to ask where it names none."""
    names = [_priority_words(protocol, entry) for entry in protocol.priority]
    if not names:
        return say("run_sheet.no_order")
    if len(names) == 1:
        return say("run_sheet.keep_one", kept=names[0])
    if len(names) == 2:
        return say("run_sheet.short_of_time", first=names[1], last=names[0])
    order = "; ".join(f"{number} {name}" for number, name in enumerate(names, 1))
    return say("run_sheet.keep_order", order=order)


def _priority_words(protocol: Protocol, entry: str) -> str:
    step_id, _, manoeuvre_id = entry.partition("/")
    step = protocol.step(step_id)
    if not manoeuvre_id:
        return step.title
    manoeuvre = protocol.manoeuvres[manoeuvre_id]
    return say("run_sheet.in_step", manoeuvre=manoeuvre.title, step=step.title)
