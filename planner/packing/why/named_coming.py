"""When each participant can come, as demands: for all visits, or for each kind of visit that has lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from functools import partial

from planner.clock import Interval
from planner.faults import Place
from planner.packing.why.case import Case, without_availability
from planner.packing.why.told import Demand, Step, at, clock_words, shortened

MORE_MINUTES = (5, 10, 15, 20, 30, 45, 60, 120, 240)
Steps = tuple[Step, ...]
Coming = Sequence[tuple[Interval, str | None]]


def availability(case: Case) -> Iterator[Demand]:
    """When each participant can come; smaller: a little longer, or earlier."""
    for participant, lines in case.study.available.items():
        kinds = list(dict.fromkeys(kind for _, kind in lines))
        by_kind = [_of_kind(case, participant, kind) for kind in kinds]
        if len(kinds) == 1:
            yield from by_kind
        else:
            steps = _wider(participant, "", lines)
            which = _lines_words(_places(case, participant, kinds))
            yield Demand(
                f"{participant} can come {_span_words(lines)}{which}",
                at(case, "availability", participant),
                without_availability(participant),
                f"if {participant} could come at any time",
                easier=steps[0],
                other=steps[1],
                both=steps[2],
                lines=tuple(by_kind),
            )


def _of_kind(case: Case, participant: str, kind: str | None) -> Demand:
    """The lines for one kind of visit, or for all kinds."""
    lines = [line for line in case.study.available[participant] if line[1] == kind]
    what = f" for {kind}" if kind else ""
    places = _places(case, participant, [kind])
    return Demand(
        f"{participant} can come{what} {_span_words(lines)}{_lines_words(places)}",
        places[0] if places else at(case, "availability", participant),
        partial(_without, participant, kind),
        f"if {participant} could come{what} at any time",
        *_wider(participant, what, lines),
    )


def _wider(participant: str, what: str, lines: Coming) -> tuple[Steps, Steps, Steps]:
    """To stay longer, to come earlier, and both: each the smallest first."""
    who = f"if {participant} could"
    stay, come, both = (
        f"{who} stay{what} {{0}} min longer",
        f"{who} come{what} {{0}} min earlier",
        f"{who} come{what} {{0}} min earlier and stay {{0}} min longer",
    )

    def steps(words: str, sooner: int, later: int) -> Steps:
        return tuple(
            (words.format(more), partial(_moved, participant, more * sooner, more * later, lines))
            for more in MORE_MINUTES
        )

    return steps(stay, 0, 1), steps(come, 1, 0), steps(both, 1, 1)


def _moved(participant: str, sooner: int, later: int, wanted: Coming, case: Case) -> Case:
    """The participant there so many minutes sooner, and later, in these lines."""
    chosen = set(wanted)
    start, end = timedelta(minutes=sooner), timedelta(minutes=later)
    lines = tuple(
        (Interval(line[0].start - start, line[0].end + end), line[1]) if line in chosen else line
        for line in case.study.available.get(participant, ())
    )
    if participant not in case.study.available:
        return case
    return case.with_(available={**case.study.available, participant: lines})


def _without(participant: str, kind: str | None, case: Case) -> Case:
    """The lines for that kind left out; without any line the participant may come at any time."""
    kept = tuple(line for line in case.study.available.get(participant, ()) if line[1] != kind)
    if not kept:
        return without_availability(participant)(case)
    return case.with_(available={**case.study.available, participant: kept})


def _span_words(lines: Coming) -> str:
    """The hours of each weekday, from Monday on."""
    spans = sorted({(i.start.weekday(), i.start.time(), f"{i.start:%a} {clock_words(i)}") for i, _ in lines})
    return shortened([words for _, _, words in spans]) if spans else "on no open day"


def _places(case: Case, participant: str, kinds: Sequence[str | None]) -> list[Place]:
    """Where the lines for these kinds of visit stand in the file, from the first on."""
    found, places = list[Place](), case.study.places
    for kind in kinds:
        number = 0
        while place := places.get(("availability", participant, kind or "", number)):
            found.append(place)
            number += 1
    return sorted(found, key=lambda place: place.line or 0)


def _lines_words(places: Sequence[Place]) -> str:
    """Which lines they are, where there are several; the first alone is the place of the demand."""
    lines = [str(place.line) for place in places]
    return f" (lines {shortened(lines)})" if len(lines) > 1 else ""
