"""The written form to the frozen nouns, once every rule is known to hold."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from planner.protocol import model
from planner.protocol import written as w


def manoeuvre(name: str, found: w.ManoeuvreWritten) -> model.Manoeuvre:
    """The manoeuvre of that id."""
    return model.Manoeuvre(
        id=name,
        title=found.title,
        rigs=found.rig,
        staff=found.staff,
        prepare_s=found.prepare,
        effort_s=found.effort,
        rest_s=found.rest or 0,
        at_least=found.efforts.at_least,
        at_most=found.efforts.at_most,
        enough=tuple(map(_enough, found.enough)),
        readings=_readings(found.readings),
        stop_if=tuple(model.StopIf(line.reading, line.falls_below, line.of) for line in found.stop_if),
        clear=_clearing(found.clear),
        learning=_learning(found.learning),
        acceptable=float(found.acceptable),
        say=found.say,
        how=found.how,
        feels=found.feels,
        kit=found.kit,
        source=found.source,
    )


def _learning(found: w.LearningWritten | None) -> model.Learning | None:
    return model.Learning(float(found.gain), found.over) if found else None


def _enough(line: w.EnoughWritten) -> model.EnoughLine:
    kind: Literal["largest", "any"] = "any" if line.largest is None else "largest"
    return model.EnoughLine(line.reading, kind, line.largest or line.any or 0, line.within.greater_of)


def _readings(found: Mapping[str, w.ReadingWritten]) -> dict[str, model.Reading]:
    return {name: model.Reading(name, one.unit, one.typical, one.spread) for name, one in found.items()}


def _clearing(found: w.ClearWritten | None) -> model.Clearing | None:
    return model.Clearing(found.takes, found.staff) if found else None


def step(found: w.StepWritten) -> model.Step:
    """The step with its windows written out for each time point."""
    takes = found.takes
    return model.Step(
        id=found.id,
        title=found.title,
        takes=model.Length(takes.about, takes.shortest, takes.longest) if takes else None,
        measure=found.measure or (),
        rest_s=found.rest,
        exercise=found.exercise,
        rigs=found.rig,
        staff=found.staff,
        clear=_clearing(found.clear),
        watch=model.Watch(found.watch.staff, found.watch.for_) if found.watch else None,
        during=tuple(map(_during, found.during)),
        due=_due(found.due),
        starts_within_s=found.starts_within,
        say=found.say,
        how=found.how,
        source=found.source,
    )


def _time_points(
    at: tuple[int, ...], early: tuple[int, ...], late: tuple[int, ...]
) -> tuple[model.TimePoint, ...]:
    """One time point for each time; a single `early` or `late` holds for all."""
    count = len(at)
    early = early * count if len(early) == 1 else early
    late = late * count if len(late) == 1 else late
    return tuple(model.TimePoint(*three) for three in zip(at, early, late, strict=True))


def _during(found: w.DuringWritten) -> model.During:
    points = _time_points(found.at, found.early, found.late)
    return model.During(found.measure, points, found.if_reached, found.important)


def _due(found: w.DueWritten | None) -> model.Due | None:
    if found is None:
        return None
    points = _time_points(found.at, found.early, found.late)
    anchored: Literal["end", "start"] = "start" if found.from_ == "start" or found.before else "end"
    side: Literal["after", "before"] = "before" if found.before else "after"
    return model.Due(found.before or found.after or "", side, anchored, points, found.important)


def preparation(found: w.PreparationWritten) -> model.Preparation:
    """What to bring, wear or avoid."""
    kind: Literal["bring", "wear", "avoid", "stay away"] = "stay away"
    if found.bring:
        kind = "bring"
    elif found.wear:
        kind = "wear"
    elif found.avoid:
        kind = "avoid"
    text = found.bring or found.wear or found.avoid or found.stay_away or ""
    return model.Preparation(kind, text, found.for_, "; ".join(found.source))
