"""Steps and manoeuvres in a participant's words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.documents.care import is_breath
from planner.documents.rule_words import joined
from planner.documents.shown import length_words, minutes_words
from planner.documents.texts import say
from planner.protocol.model import Manoeuvre, Protocol, Step, TimePoint

_FORCED = ("FVC", "FEV1", "FEV0.75", "PEF", "FEF25-75", "FEV6")


def plain_kind(manoeuvre: Manoeuvre) -> str:
    """`fvc`, `mip`, `mep` by its readings, else `other`: which plain words of ours fit."""
    names = {name.upper() for name in manoeuvre.readings} | {manoeuvre.id.upper().split("-")[0]}
    for kind, known in (("mip", ("MIP", "PIMAX")), ("mep", ("MEP", "PEMAX")), ("fvc", _FORCED)):
        if names & set(known):
            return kind
    return "other"


def short_words(manoeuvre: Manoeuvre) -> str:
    """What one effort is, in a few words: `breathe out all the way, hard and fast`."""
    kind = plain_kind(manoeuvre)
    return manoeuvre.title if kind == "other" else say(f"leaflet.breath_{kind}")


def times_words(manoeuvre: Manoeuvre) -> str:
    """The same with how often: `…, 3 to 8 times`."""
    what = short_words(manoeuvre)
    if manoeuvre.at_most == 1:
        return say("leaflet.efforts_once", what=what)
    if not manoeuvre.enough or manoeuvre.at_least == manoeuvre.at_most:
        return say("leaflet.efforts_times", what=what, count=manoeuvre.at_least)
    return say("leaflet.efforts_range", what=what, least=manoeuvre.at_least, most=manoeuvre.at_most)


def how_lines(protocols: Sequence[Protocol]) -> list[str]:
    """How each manoeuvre is done and what it feels like; the same words once."""
    found: list[str] = []
    for protocol in protocols:
        for manoeuvre in protocol.manoeuvres.values():
            line = _how(manoeuvre)
            if line not in found:
                found.append(line)
    return found


def many_words(protocols: Sequence[Protocol]) -> list[str]:
    """That hard breaths are made more than once; of a clip on a finger nobody is asked to try hard."""
    all_of_them = [one for protocol in protocols for one in protocol.manoeuvres.values()]
    breaths = [one for one in all_of_them if is_breath(one)]
    if not any(one.at_most > 1 for one in breaths):
        return []
    return [say("leaflet.many" if len(breaths) == len(all_of_them) else "leaflet.many_breaths")]


def _how(manoeuvre: Manoeuvre) -> str:
    kind = plain_kind(manoeuvre)
    how = manoeuvre.how or say(f"leaflet.how_{kind}")
    feels = manoeuvre.feels or ("" if kind == "other" else say(f"leaflet.feels_{kind}"))
    name = short_words(manoeuvre)
    return " ".join(part for part in (f"{name[:1].upper()}{name[1:]}.", how, feels) if part)


def step_lines(protocol: Protocol, step: Step) -> Iterator[str]:
    """One line for a part of the visit, and what else a person wants to know about it."""
    if step.measure:
        yield " ".join(_measure(protocol, step))
        return
    if step.takes is None:
        yield say("leaflet.rest_part", title=step.title, length=minutes_words(step.rest_s or 0))
        return
    words = [_taking(step)]
    if step.exercise and not step.takes.is_known:
        words.append(say("leaflet.until"))
    for part in step.during:
        what = joined([short_words(protocol.manoeuvres[m]) for m in part.measure])
        words.append(say("leaflet.during_note", times=_times(part.time_points), what=what))
    if step.how:
        words.append(step.how)
    if step.watch is not None:
        words.append(say("leaflet.stays"))
    yield " ".join(words)


def _taking(step: Step) -> str:
    assert step.takes is not None
    if step.takes.is_known:
        return say("leaflet.part", title=step.title, length=minutes_words(step.takes.about_s))
    return say(
        "leaflet.part_unknown",
        title=step.title,
        shortest=minutes_words(step.takes.shortest_s),
        longest=minutes_words(step.takes.longest_s),
    )


def _measure(protocol: Protocol, step: Step) -> Iterator[str]:
    manoeuvres = [protocol.manoeuvres[m] for m in step.measure]
    yield say("leaflet.efforts_part", title=step.title, what=joined([times_words(m) for m in manoeuvres]))
    rests = {m.rest_s for m in manoeuvres if m.at_most > 1 and m.rest_s}
    if rests:
        yield say("leaflet.between", length=length_words(min(rests)))
    if step.due is not None:
        key = "leaflet.due_note" if step.due.side == "after" else "leaflet.due_before"
        anchor = protocol.step(step.due.anchor).title
        yield say(key, times=_times(step.due.time_points), what=anchor)
    if step.how:
        yield step.how


def _times(points: Sequence[TimePoint]) -> str:
    return joined([length_words(point.at_s) for point in points])
