"""The ethics text in short: how often, what happens, how long, at worst, who is there, when to stop."""

from __future__ import annotations

from collections.abc import Iterator

from planner.documents import care
from planner.documents.due_words import times_words
from planner.documents.ethics_parts import alone_after_exercise
from planner.documents.ethics_visits import (
    Figures,
    group_words,
    groups_of,
    label,
    visits_in,
    visits_of,
    whole_burdens,
)
from planner.documents.rule_words import joined, number_words
from planner.documents.shown import length_words, minutes_words
from planner.documents.texts import say
from planner.protocol.model import Length, Protocol, Step
from planner.timing.burden import Burden, Span


def short_lines(found: Figures) -> list[str]:
    """A handful of sentences; all that follows in the text only says them in full."""
    lines = [*_often(found), *_happens(found), *_lasts(found), *_worst(found)]
    lines += [line for protocol in found.protocols for line in watch_lines(found, protocol)]
    return [*lines, *_stop(found)]


def _often(found: Figures) -> Iterator[str]:
    for group in groups_of(found.study, found.visits):
        own = visits_in(found.visits, group)
        names = joined([label(visit) for visit in own])
        key = "ethics.short_once" if len(own) == 1 else "ethics.short_often"
        yield say(key, group=group_words(group), count=number_words(len(own)), visits=names)


def _happens(found: Figures) -> Iterator[str]:
    for protocol in found.protocols:
        parts = "; ".join(_part(protocol, step) for step in protocol.visit)
        yield say("ethics.short_happens", visits=visits_of(found.visits, protocol), parts=parts)


def _part(protocol: Protocol, step: Step) -> str:
    """One part with its length or its times: `Rowing, 20 min, measures 10 min after its start`."""
    words = [step.title]
    if step.takes is not None:
        words.append(takes_words(step.takes))
    elif step.rest_s is not None:
        words.append(length_words(step.rest_s))
    if step.due is not None:
        words.append(times_words(protocol, step))
    times = [length_words(point.at_s) for part in step.during for point in part.time_points]
    if times:
        words.append(say("ethics.short_during", times=joined(times)))
    return ", ".join(words)


def takes_words(length: Length) -> str:
    """`20 min`, or the shortest to the longest."""
    if length.is_known:
        return length_words(length.about_s)
    least, most = length_words(length.shortest_s), length_words(length.longest_s)
    return say("ethics.days_between", least=least, most=most)


def _lasts(found: Figures) -> Iterator[str]:
    for protocol in found.protocols:
        asked: Burden = found.burdens[protocol.file]
        least, most = f"{asked.efforts.least:.0f}", f"{asked.efforts.most:.0f}"
        efforts = least if least == most else say("ethics.days_between", least=least, most=most)
        visits = visits_of(found.visits, protocol)
        yield say("ethics.short_lasts", visits=visits, length=_span_words(asked.visit_s), efforts=efforts)


def _span_words(span: Span) -> str:
    """From whole minutes cut to whole minutes rounded up, so that nobody is told too little."""
    least, most = minutes_words(span.least // 60 * 60), minutes_words(span.most)
    return most if least == most else say("ethics.days_between", least=least, most=most)


def _worst(found: Figures) -> Iterator[str]:
    for group, whole in whole_burdens(found).items():
        most, length = f"{whole.efforts.most:.0f}", minutes_words(whole.visit_s.most)
        yield say("ethics.short_worst", most=most, length=length, group=group_words(group))


def watch_lines(found: Figures, protocol: Protocol) -> Iterator[str]:
    """Who stays after exercise, and where, as planned, nobody is asked to."""
    for step in care.bouts(protocol):
        if step.watch is None:
            yield say("ethics.risk_nobody", step=step.title)
        else:
            roles, length = joined(list(step.watch.staff)), length_words(step.watch.for_s)
            yield say("ethics.risk_watch", step=step.title, roles=roles, length=length)
    for step_id, from_s, until_s in alone_after_exercise(found.plans[protocol.file]):
        start, end = round(from_s / 60), round(until_s / 60)
        yield say("ethics.risk_alone", step=protocol.step(step_id).title, start=start, end=end)


def _stop(found: Figures) -> Iterator[str]:
    yield say("ethics.stop_any")
    if any(map(care.bouts, found.protocols)):
        yield say("ethics.stop_exercise", reasons=say("care.exercise_stop"))
    manoeuvres = [m for protocol in found.protocols for m in protocol.manoeuvres.values()]
    if any(manoeuvre.stop_if for manoeuvre in manoeuvres):
        yield say("ethics.short_stop_if")
