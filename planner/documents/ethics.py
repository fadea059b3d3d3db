"""The timing text for an ethics application: tables and sentences whose every number is computed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Protocol as Shape

from planner.clock import duration_words
from planner.documents import care, docx_file
from planner.documents.due_words import times_words
from planner.documents.ethics_parts import part_rows
from planner.documents.ethics_short import short_lines, watch_lines
from planner.documents.ethics_tables import (
    burden_rows,
    efforts_words,
    minutes,
    schedule_columns,
    schedule_groups,
    schedule_rows,
)
from planner.documents.ethics_visits import Figures, figures, group_words, label, visits_of, whole_burdens
from planner.documents.ethics_waits import wait_words
from planner.documents.rule_words import finish_words, joined, number_words
from planner.documents.shown import date_words, hhmm, hours_words, minutes_words
from planner.documents.texts import lines, say
from planner.protocol.model import Manoeuvre, Preparation, Protocol, Step
from planner.schedule.model import Schedule
from planner.study.model import Study

NO_SOURCE = "common practice, no source"  # on its own it names nothing that could be looked up


class Document(Shape):
    """What the text is put into, piece by piece: a file for a word processor, or pages."""

    def heading(self, text: str, level: int = 1) -> None:
        """A heading of that level."""

    def paragraph(self, text: str, style: str = "Normal") -> None:
        """A paragraph in a named style: `Normal`, `Caption`, `Subtitle`."""

    def bullets(self, texts: Sequence[str]) -> None:
        """A list."""

    def table(
        self, columns: Sequence[str], rows: Sequence[Sequence[str]], *, groups: Sequence[str] = ()
    ) -> None:
        """A table; a row that begins with one of `groups` spans it."""


def ethics_text(study: Study, schedule: Schedule) -> bytes:
    """The text as a DOCX; the plan gives its date and the waits, everything else follows from the study."""
    document = docx_file.Document(say("ethics.title"), schedule.made)
    fill(document, study, schedule)
    return document.content()


def fill(document: Document, study: Study, schedule: Schedule) -> None:
    """Put everything below the title into that document: each number is computed here, for every form."""
    found = figures(study)
    protocols = found.protocols
    document.paragraph(say("ethics.subtitle", study=study.name), "Subtitle")
    document.paragraph(say("ethics.claim"))
    if study.demo:
        document.paragraph(say("common.demo"))
    _section(document, "short_title", [], short_lines(found))
    _about(document, schedule, protocols)
    _parts(document, found)
    _burden(document, found, schedule, number=len(protocols) + 1)
    _section(document, "stop_title", [say("ethics.stop_any")], list(_stopping(protocols)))
    _section(document, "risk_title", [], list(_risks(found)))
    _section(document, "finish_title", [], list(_finishing(protocols)))
    _section(document, "prepare_title", [], list(_preparation(found)))
    _schedule(document, found, number=len(protocols) + 2)
    _section(document, "record_title", [_recorded(protocols), say("ethics.record_keeping")], [])
    _section(document, "deviation_title", list(_deviations(protocols)), [])
    _section(document, "sources_title", [], _sources(protocols) or [say("ethics.sources_none")])
    missing = say("ethics.missing")
    _section(
        document,
        "open_title",
        [],
        [say("ethics.open_item", item=i, missing=missing) for i in lines("ethics.open")],
    )


def _about(document: Document, schedule: Schedule, protocols: Sequence[Protocol]) -> None:
    made = f"{date_words(schedule.made.date())}, {hhmm(schedule.made)}"
    document.paragraph(say("ethics.made", version=schedule.version, made=made))
    names = [say("ethics.protocol", title=p.title, name=p.name, version=p.version) for p in protocols]
    document.paragraph(say("ethics.protocols", list="; ".join(names)))


def _section(document: Document, title: str, paragraphs: Sequence[str], bullets: Sequence[str]) -> None:
    document.heading(say(f"ethics.{title}"))
    for text in paragraphs:
        document.paragraph(text)
    document.bullets(list(dict.fromkeys(bullets)))


def _schedule(document: Document, found: Figures, *, number: int) -> None:
    document.heading(say("ethics.schedule_title"))
    document.paragraph(say("ethics.schedule_caption", number=number), "Caption")
    rows = schedule_rows(found.study, found.visits)
    document.table(schedule_columns(found.visits), rows, groups=schedule_groups())
    for kind in found.study.kinds:
        if kind.conditions:
            blind = say("ethics.order_blind") if kind.blind else say("ethics.order_open")
            listed = "; ".join(kind.conditions)
            count = number_words(len(kind.conditions))
            document.paragraph(say("ethics.order", kind=kind.id, count=count, conditions=listed, blind=blind))


def _parts(document: Document, found: Figures) -> None:
    document.heading(say("ethics.timing_title"))
    for number, protocol in enumerate(found.protocols, 1):
        visits = visits_of(found.visits, protocol)
        caption = say("ethics.timing_caption", number=number, protocol=protocol.title, visits=visits)
        document.paragraph(caption, "Caption")
        document.table(lines("ethics.timing_columns"), part_rows(protocol, found.plans[protocol.file]))
    document.paragraph(say("ethics.timing_note"))


def _burden(document: Document, found: Figures, schedule: Schedule, *, number: int) -> None:
    document.heading(say("ethics.burden_title"))
    document.paragraph(say("ethics.burden_caption", number=number), "Caption")
    document.table(lines("ethics.burden_columns"), burden_rows(found))
    document.bullets(burden_sentences(found))
    if others := dict.fromkeys(one.title for one in _manoeuvres(found.protocols) if not care.is_breath(one)):
        document.paragraph(say("ethics.burden_others", list=joined(list(others))))
    document.paragraph(wait_words(found, schedule))
    for group, whole in whole_burdens(found).items():
        most, length = efforts_words(whole.efforts)[2], minutes_words(whole.visit_s.most)
        document.paragraph(say("ethics.worst", most=most, length=length, group=group_words(group)))


def burden_sentences(found: Figures) -> list[str]:
    """One sentence of efforts and one of minutes for each visit; where they cannot differ, one number."""
    sentences = []
    for visit in found.visits:
        asked = found.burden_of(visit)
        name, (least, expected, most) = label(visit), efforts_words(asked.efforts)
        efforts = (
            say("ethics.burden_sentence_fixed", visit=name, most=most)
            if least == most
            else say("ethics.burden_sentence", visit=name, least=least, most=most, expected=expected)
        )
        least, expected, most = minutes(asked.visit_s)
        takes = (
            say("ethics.burden_minutes_fixed", most=most)
            if least == most
            else say("ethics.burden_minutes", least=least, most=most, expected=expected)
        )
        sentences.append(f"{efforts} {takes}")
    return sentences


def _manoeuvres(protocols: Sequence[Protocol]) -> Iterator[Manoeuvre]:
    for protocol in protocols:
        yield from protocol.manoeuvres.values()


def _finishing(protocols: Sequence[Protocol]) -> Iterator[str]:
    """A line for each rule; where a measure is finished by another rule elsewhere, where this one holds."""
    where: dict[tuple[str, str, int], list[str]] = {}
    for protocol in protocols:
        for name, manoeuvre in protocol.manoeuvres.items():
            most = manoeuvre.at_most if manoeuvre.enough else 0
            held = where.setdefault((manoeuvre.title, finish_words(manoeuvre), most), [])
            held += [step.title for step in protocol.visit if _is_made(name, step)]
    rules = Counter(title for title, _, _ in where)
    for (title, rule, most), steps in where.items():
        place = say("ethics.finish_where", steps=joined(list(dict.fromkeys(steps))))
        named = title + (place if rules[title] > 1 and steps else "")
        key = "ethics.finish" if most else "ethics.finish_fixed"
        yield say(key, manoeuvre=named, rule=rule, most=most)


def _is_made(manoeuvre: str, step: Step) -> bool:
    return manoeuvre in step.measure or any(manoeuvre in part.measure for part in step.during)


def _stopping(protocols: Sequence[Protocol]) -> Iterator[str]:
    if any(map(care.bouts, protocols)):
        yield say("ethics.stop_exercise", reasons=say("care.exercise_stop"))
    for manoeuvre in _manoeuvres(protocols):
        for rule in manoeuvre.stop_if:
            values = {"reading": rule.reading, "share": str(rule.falls_below)}
            yield say("ethics.stop_if", manoeuvre=manoeuvre.title, **values)


def _risks(found: Figures) -> Iterator[str]:
    protocols = found.protocols
    if any(map(care.has_breaths, protocols)):
        yield say("ethics.risk_forced", list="; ".join(lines("care.forced")))
    if any(map(care.has_pressures, protocols)):
        yield say("ethics.risk_pressure")
    for protocol in protocols:
        yield from watch_lines(found, protocol)
    if any(care.is_soon_after_exercise(protocol, forced=True) for protocol in protocols):
        yield say("ethics.risk_after")
    for protocol in protocols:
        told = [*protocol.cautions, *care.around_exercise(protocol)]
        yield from (say("ethics.risk_caution", text=text) for text in told)


def _preparation(found: Figures) -> Iterator[str]:
    """Each line once, with the visits that it is for where it is not for all."""
    asked: dict[Preparation, list[str]] = {}
    for protocol in found.protocols:
        for one in dict.fromkeys(protocol.preparation):
            asked.setdefault(one, []).append(visits_of(found.visits, protocol))
    if not asked:
        yield say("ethics.prepare_none")
    for one, visits in asked.items():
        yield _prepared(one, "" if len(visits) == len(found.protocols) else joined(visits))


def _prepared(one: Preparation, visits: str) -> str:
    """`Avoid for 24 h before the visit: hard exercise (rowing). Source: …`"""
    length = say("ethics.prepare_for", length=hours_words(one.for_s)) if one.for_s else ""
    source = say("ethics.prepare_source", source=one.source) if one.source else ""
    only = say("ethics.prepare_only", visits=visits) if visits else ""
    kind = say(f"ethics.kinds.{one.kind}")
    return say("ethics.prepare", kind=kind, text=one.text, length=length, only=only, source=source)


def _recorded(protocols: Sequence[Protocol]) -> str:
    readings = dict.fromkeys(
        f"{r.name} ({r.unit})" for m in _manoeuvres(protocols) for r in m.readings.values()
    )
    return say("ethics.record", readings=", ".join(readings) or say("boards.none"))


def _deviations(protocols: Sequence[Protocol]) -> Iterator[str]:
    yield say("ethics.deviation")
    important = []
    for protocol in protocols:
        for step in protocol.visit:
            if step.due is not None and step.due.important:
                important.append(times_words(protocol, step))
            for part in step.during:
                if part.important:
                    times = joined([duration_words(point.at_s) for point in part.time_points])
                    important.append(say("ethics.times_start", times=times, what=step.title))
    if important:
        yield say("ethics.deviation_important", list="; ".join(dict.fromkeys(important)))
    else:
        yield say("ethics.deviation_no_important")
    yield say("ethics.deviation_safety")


def _sources(protocols: Sequence[Protocol]) -> list[str]:
    found: list[str] = []
    for protocol in protocols:
        found += protocol.source
        for manoeuvre in protocol.manoeuvres.values():
            found += manoeuvre.source
        for step in protocol.visit:
            found += step.source
    return [source for source in dict.fromkeys(found) if source != NO_SOURCE]
