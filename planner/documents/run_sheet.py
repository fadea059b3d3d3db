"""One participant's visit on paper, for the technician: at most two pages for up to twenty blocks."""

from __future__ import annotations

import re
from itertools import groupby
from typing import NamedTuple

from planner.documents import care
from planner.documents.qr import code_svg, code_text
from planner.documents.rule_words import joined
from planner.documents.sheet_rows import rows
from planner.documents.shown import (
    date_words,
    hhmm,
    length_words,
    page_values,
    placed_words,
    protocol_of,
    standing_words,
)
from planner.documents.texts import say
from planner.documents.typeset import typeset
from planner.protocol.model import Manoeuvre, Protocol
from planner.schedule.as_it_stands import files_changed
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study

SITE = ("person in charge", "emergency number", "defibrillator", "oxygen", "reliever")


_PAGES = re.compile(rb"/Type/Pages/Count (\d+)")
TIGHTEST = 4
MOST_PAGES = 2
_FEW_BLOCKS = 5


class Fitted(NamedTuple):
    """A sheet and how tightly it had to be set: 0 is roomy, 4 the tightest."""

    pdf: bytes
    level: int


def run_sheet(study: Study, schedule: Schedule, visit: PlacedVisit, *, paper: str = "a4") -> bytes:
    """The run sheet of one placed visit as a PDF."""
    return fitted_run_sheet(study, schedule, visit, paper=paper).pdf


def fitted_run_sheet(
    study: Study, schedule: Schedule, visit: PlacedVisit, *, paper: str = "a4", level: int = 0
) -> Fitted:
    """The roomiest setting from `level` on that keeps to two pages; a tighter one where that saves a page."""
    values = run_sheet_values(study, schedule, visit, paper=paper)

    def set_at(tightness: int) -> Fitted:
        return Fitted(typeset("run_sheet.typ", {**values, "level": tightness}, schedule.made), tightness)

    found = set_at(level)
    while pages(found.pdf) > MOST_PAGES and found.level < TIGHTEST:
        found = set_at(found.level + 1)
    if level == 0 and found.level == 0 and pages(found.pdf) == MOST_PAGES and _is_short(visit):
        shorter = (set_at(tightness) for tightness in range(1, TIGHTEST - 1))
        found = next((one for one in shorter if pages(one.pdf) == 1), found)
    return found


def _is_short(visit: PlacedVisit) -> bool:
    """Whether one page may be enough."""
    return sum(activity.manoeuvre is not None for activity in visit.activities) <= _FEW_BLOCKS


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
        "plan": _plan(study, schedule),
        "foot": say("common.footer", plan=standing_words(study, schedule)),
        "qr": code_svg(code),
        "qr-alt": say("run_sheet.qr", text=code),
        "cleared": say("run_sheet.cleared"),
        "site": _site(study),
        "site-missing": _site_missing(study),
        "before-title": say("run_sheet.before_title"),
        "before": list(care.before_efforts(protocol)),
        "how": say("run_sheet.how_to_fill"),
        "how-short": say("run_sheet.how_short"),
        "names": names_words(protocol),
        "rows": rows(protocol, visit),
        "stop-title": say("run_sheet.stop_title"),
        "stop": _stop(protocol),
        "cautions-title": say("run_sheet.cautions_title"),
        "cautions": list(protocol.cautions),
        "around": list(care.around_exercise(protocol)),
        "short": short_of_time(protocol),
        "rests": rests_words(protocol),
        "unwell": say("run_sheet.unwell"),
        "no-leaving": say("run_sheet.no_leaving") if care.bouts(protocol) else "",
        "may-leave": say("run_sheet.may_leave"),
        "notes": say("run_sheet.notes"),
        "initials": say("run_sheet.initials"),
    }


def _plan(study: Study, schedule: Schedule) -> str:
    told = say("run_sheet.plan_short", version=schedule.version)
    if study.demo:
        told = say("run_sheet.plan_demo", version=schedule.version, demo=say("common.demo"))
    return f"{told} · {say('common.since')}" if files_changed(schedule, study) else told


def rests_words(protocol: Protocol) -> str:
    """The least rest between efforts, named once: one for all, or one for each manoeuvre."""
    own = {m.title: m.rest_s for m in protocol.manoeuvres.values() if m.at_most > 1 and m.rest_s}
    if not own:
        return ""
    if len(set(own.values())) == 1:
        return say("run_sheet.rests", list=length_words(next(iter(own.values()))))
    parts = [say("run_sheet.rest_of", what=what, length=length_words(s)) for what, s in own.items()]
    return say("run_sheet.rests", list=", ".join(parts))


def names_words(protocol: Protocol) -> str:
    """`FVC: Forced vital capacity`: what stands short in the rows and whole on the page Test day, once."""
    titles: dict[str, list[str]] = {}
    for one in protocol.manoeuvres.values():
        known = titles.setdefault(short_name(one), [])
        if one.title not in (*known, short_name(one)):
            known.append(one.title)
    told = [
        say("run_sheet.short_name", short=name, title=", ".join(whole))
        for name, whole in titles.items()
        if whole
    ]
    return say("run_sheet.short_names", list="; ".join(told)) if told else ""


def _site(study: Study) -> list[dict[str, str]]:
    return [{"label": say(f"on_site.{key}"), "value": study.on_site.get(key, "").strip()} for key in SITE]


def _site_missing(study: Study) -> str:
    missing = [say(f"on_site.{key}").lower() for key in SITE if not study.on_site.get(key, "").strip()]
    if len(missing) == len(SITE):
        return say("run_sheet.site_all_missing")
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
    names = [_priority_names(protocol, entry) for entry in protocol.priority]
    if not names:
        return say("run_sheet.no_order")
    if len(names) == 1:
        return say("run_sheet.keep_one", kept=_in_step(*names[0]))
    if len(names) == 2:
        (kept, kept_step), (left, left_step) = names
        last = _in_step(kept, kept_step)
        first = left if left_step == kept_step else _in_step(left, left_step)
        return say("run_sheet.leave_out", first=first, last=last)
    found = [
        _in_step(", ".join(name for name, _ in group) if all(name for name, _ in group) else "", step)
        for step, group in ((step, list(same)) for step, same in groupby(names, key=lambda n: n[1]))
    ]
    return say("run_sheet.keep_order", order=", ".join(found))


def _priority_names(protocol: Protocol, entry: str) -> tuple[str, str]:
    """The manoeuvre's short name ("" for the whole step) and the step's title."""
    step_id, _, manoeuvre_id = entry.partition("/")
    step = protocol.step(step_id)
    name = short_name(protocol.manoeuvres[manoeuvre_id]) if manoeuvre_id else ""
    return name, step.title


def _in_step(name: str, step: str) -> str:
    return say("run_sheet.in_step", manoeuvre=name, step=step) if name else step


def short_name(manoeuvre: Manoeuvre) -> str:
    """`FVC`: the first reading, or the title where there is none."""
    return next(iter(manoeuvre.readings), manoeuvre.title)
