"""The hours at which slots of a day are wanted: who may come in some hours only needs a slot in them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from datetime import date

from planner.packing.days.lanes import wall_s
from planner.packing.days.templates import Span, Type, WantedHours, type_of
from planner.packing.hours import Hours
from planner.study.model import Study

MOST_SPANS = 12  # of one type; those that most participants wrote come first


def wanted_hours(study: Study, hours: Hours, days: Collection[date]) -> Mapping[Type, WantedHours]:
    """By type, the spans of the clock that participants may come in on some of these days, and for how many.

    No span is wanted for more visits than the laboratory takes in a day.
    """
    counts: dict[Type, Counter[Span]] = {}
    known: dict[int, frozenset[Span]] = {}  # participants who wrote the same lines share them
    for visits in study.asked.values():
        own: dict[Type, frozenset[Span]] = {}
        for visit in visits:
            lines = hours.lines(visit)
            if id(lines) not in known:
                known[id(lines)] = frozenset(
                    (wall_s(line.start), wall_s(line.end)) for day in days for line in lines.get(day, ())
                )
            own[type_of(visit)] = own.get(type_of(visit), frozenset()) | known[id(lines)]
        for kind, spans in own.items():
            counts.setdefault(kind, Counter()).update(spans)
    cap = study.at_most_visits_a_day
    return {
        kind: tuple(
            (span, count if cap is None else min(count, cap))
            for span, count in sorted(spans.items(), key=lambda pair: (-pair[1], pair[0]))[:MOST_SPANS]
            if span[0] < span[1]
        )
        for kind, spans in counts.items()
    }
