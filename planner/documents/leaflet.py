"""What will happen, in plain words: one leaflet for each participant, before the first visit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from planner.documents import care
from planner.documents.leaflet_parts import how_lines, many_words, step_lines
from planner.documents.shown import (
    date_words,
    hhmm,
    hours_words,
    minutes_words,
    page_values,
    placed_words,
    protocol_of,
)
from planner.documents.texts import lines, say
from planner.documents.typeset import typeset
from planner.protocol.model import Preparation, Protocol
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study
from planner.timing.plan import VisitPlan

Section = dict[str, object]


def leaflet(
    study: Study,
    schedule: Schedule,
    plans: Mapping[str, VisitPlan],
    participant: str,
    *,
    paper: str = "a4",
) -> bytes:
    """The leaflet of one participant as a PDF."""
    values = leaflet_values(study, schedule, plans, participant, paper=paper)
    return typeset("leaflet.typ", values, schedule.made)


def leaflet_values(
    study: Study,
    schedule: Schedule,
    plans: Mapping[str, VisitPlan],
    participant: str,
    *,
    paper: str = "a4",
) -> dict[str, object]:
    """Title, table of visits, and sections of plain lines."""
    visits = sorted((v for v in schedule.visits if v.participant == participant), key=lambda v: v.start)
    protocols = list(dict.fromkeys(id(protocol_of(study, v)) for v in visits))
    found = {id(p): p for p in (protocol_of(study, v) for v in visits)}
    ordered = [found[key] for key in protocols]
    return {
        **page_values(study, schedule, say("leaflet.title"), paper=paper),
        "foot-code": participant,
        "for": say("leaflet.for", code=participant),
        "hello": say("leaflet.hello"),
        "when-title": say("leaflet.when_title"),
        "columns": list(lines("leaflet.when_columns")),
        "visits": [_visit_row(study, plans, visit) for visit in visits],
        "sections": [
            *_what(study, visits),
            _section("how_title", [*how_lines(ordered), *many_words(ordered)]),
            _section("before_title", list(_before(ordered))),
            _section("away_title", list(_away(ordered))),
            _section("tell_title", [say("leaflet.tell"), _emergency(study)]),
            _section("yours_title", list(_yours(study, visits))),
        ],
    }


def leaflet_text(values: Mapping[str, object]) -> str:
    """All running text of a leaflet, for measuring how easily it reads."""
    sections = values["sections"]
    assert isinstance(sections, list)
    found = [str(values["hello"])]
    for section in sections:
        found += [str(line) for line in section["lines"]]
    return "\n".join(line.replace("[__]", "").replace("\u00a0", " ") for line in found)


def _section(title: str, found: Sequence[str]) -> Section:
    return {"title": say(f"leaflet.{title}"), "lines": list(dict.fromkeys(found))}


def _visit_row(study: Study, plans: Mapping[str, VisitPlan], visit: PlacedVisit) -> list[str]:
    planned_s = visit.end.timestamp() - visit.start.timestamp()
    plan = next(
        (plans[v.protocol] for v in study.asked[visit.participant] if _is(v, visit) and v.protocol in plans),
        None,
    )
    more_s = max(0, plan.longest_s - plan.alone_s) if plan else 0  # on top of the waits in what is planned
    longest_s = max(planned_s + more_s, plan.longest_s if plan else 0)
    return [
        placed_words(study, visit),
        date_words(visit.date),
        hhmm(visit.start),
        minutes_words(planned_s),
        minutes_words(longest_s),
    ]


def _is(asked: object, visit: PlacedVisit) -> bool:
    return getattr(asked, "file_id", None) == visit.file_id


def _what(study: Study, visits: Sequence[PlacedVisit]) -> Iterator[Section]:
    """A section for each kind of visit; where a blind kind has several protocols, not which is when."""
    for kind_id, found in groupby(visits, key=lambda v: v.visit):
        own = list(found)
        protocols = list({protocol_of(study, v).file: protocol_of(study, v) for v in own}.values())
        if study.kind(kind_id).blind:
            protocols.sort(key=lambda p: p.file)
        for number, protocol in enumerate(protocols):
            head = [say("leaflet.one_of")] if len(protocols) > 1 and number == 0 else []
            yield {
                "title": say("leaflet.what_title", visits=kind_id),
                "lines": [*head, *(line for step in protocol.visit for line in step_lines(protocol, step))],
            }


def _before(protocols: Sequence[Protocol]) -> Iterator[str]:
    prepared = list(dict.fromkeys(p for protocol in protocols for p in protocol.preparation))
    for kind in ("bring", "wear", "avoid"):
        yield from (_preparation(p) for p in prepared if p.kind == kind)
    if any(map(care.has_breaths, protocols)):
        if not any("reliever" in p.text.lower() or "inhaler" in p.text.lower() for p in prepared):
            yield say("leaflet.reliever")
        yield from _usual_advice([p for p in prepared if p.kind == "avoid"])
    yield say("leaflet.medicine")
    yield from _sources(prepared)


def _usual_advice(avoided: Sequence[Preparation]) -> Iterator[str]:
    """Common advice before breathing tests, where the protocol does not say its own."""
    told = " ".join(p.text.lower() for p in avoided)
    if not any(word in told for word in ("smok", "vap", "tobacco")):
        yield say("leaflet.smoke")
    if not any(word in told for word in ("alcohol", "drink", "drug", "intoxic")):
        yield say("leaflet.drink")
    if not any(word in told for word in ("exercise", "sport", "train")):
        yield say("leaflet.exercise")


def _preparation(found: Preparation) -> str:
    if found.kind == "avoid":
        key = "leaflet.avoid" if found.for_s else "leaflet.avoid_open"
        return say(key, text=found.text, length=hours_words(found.for_s or 0))
    return say(f"leaflet.{found.kind}", text=found.text)


def _sources(prepared: Sequence[Preparation]) -> Iterator[str]:
    """Whose advice it is, named once."""
    named = [p.source for p in prepared if p.source and not p.source.startswith("common practice")]
    if named:
        yield say("leaflet.sources", sources="; ".join(dict.fromkeys(named)))


def _away(protocols: Sequence[Protocol]) -> Iterator[str]:
    yield say("leaflet.away")
    if any(map(care.has_breaths, protocols)):
        yield say("leaflet.away_forced")
    for protocol in protocols:
        for found in protocol.preparation:
            if found.kind == "stay away":
                yield say("leaflet.stay_away", text=found.text)


def _emergency(study: Study) -> str:
    number = study.on_site.get("emergency number", "").strip()
    return say("leaflet.emergency", number=number) if number else say("leaflet.emergency_blank")


def _yours(study: Study, visits: Sequence[PlacedVisit]) -> Iterator[str]:
    yield say("leaflet.stop")
    yield say("leaflet.unwell")
    if any(study.kind(visit.visit).blind for visit in visits):
        yield say("leaflet.blind")
