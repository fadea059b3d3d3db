"""The tables of the ethics text, as rows of words; every number in them is computed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.clock import DaySpan, duration_words
from planner.documents.due_words import times_words
from planner.documents.ethics_visits import AskedVisit, Figures, group_words, label, whole_burdens
from planner.documents.texts import say
from planner.protocol.model import Manoeuvre, Protocol, Step
from planner.study.model import Study
from planner.timing.burden import Burden, Span

Row = list[str]
X = "X"


def schedule_columns(visits: tuple[AskedVisit, ...]) -> Row:
    """First column, enrolment, each visit, close-out."""
    return ["", say("ethics.enrolment"), *map(label, visits), say("ethics.close_out")]


def schedule_groups() -> tuple[str, ...]:
    """The headings that span the schedule table."""
    return tuple(say(f"ethics.group_{name}") for name in ("enrolment", "interventions", "assessments"))


def schedule_rows(study: Study, visits: tuple[AskedVisit, ...]) -> list[Row]:
    """Activities by visit: time points, enrolment, interventions, assessments (SPIRIT's order)."""
    enrolment, interventions, assessments = schedule_groups()
    none = [""] * len(visits)
    rows = [
        [say("ethics.time_row"), "-t1", *(f"t{n}" for n in range(1, len(visits) + 1)), f"t{len(visits) + 1}"],
        [say("ethics.days_row"), "", *(_days(visit.gap) for visit in visits), ""],
        [enrolment],
        [say("ethics.eligibility"), X, *none, ""],
        [say("ethics.consent"), X, *none, ""],
    ]
    if any(kind.conditions for kind in study.kinds):
        rows.append([say("ethics.allocation"), X, *none, ""])
    rows.append([interventions])
    rows += _marked(visits, _interventions)
    rows.append([assessments])
    rows += _marked(visits, _assessments)
    rows.append([say("ethics.return_data"), "", *none, X])
    return [row + [""] * (len(visits) + 3 - len(row)) for row in rows]


def _days(gap: DaySpan | None) -> str:
    if gap is None:
        return ""
    if gap.at_most is None:
        return say("ethics.days_least", least=gap.at_least)
    return say("ethics.days_between", least=gap.at_least, most=gap.at_most)


def _marked(visits: tuple[AskedVisit, ...], lines_of: object) -> list[Row]:
    """A row for each line of any visit, with an X at the visits that have it."""
    assert callable(lines_of)
    own = [list(lines_of(visit.protocol)) for visit in visits]
    names = _in_order(own)
    return [[name, "", *(X if name in lines else "" for lines in own), ""] for name in names]


def _in_order(lists: Sequence[Sequence[str]]) -> list[str]:
    """Every line once, each list's own order kept: what is new stands before what follows it there."""
    found: list[str] = []
    for lines in lists:
        place = len(found)
        for line in reversed(lines):
            if line in found[:place]:
                place = found.index(line)
            elif line not in found:
                found.insert(place, line)
    return found


def _interventions(protocol: Protocol) -> Iterator[str]:
    for step in protocol.visit:
        if step.exercise:
            yield f"{step.title}, {_length(step)}"


def _length(step: Step) -> str:
    assert step.takes is not None
    if step.takes.is_known:
        return duration_words(step.takes.about_s)
    return say(
        "ethics.days_between",
        least=duration_words(step.takes.shortest_s),
        most=duration_words(step.takes.longest_s),
    )


def _assessments(protocol: Protocol) -> Iterator[str]:
    for step in protocol.visit:
        if step.takes is not None and not step.exercise:
            yield step.title
        for part in step.during:
            for point in part.time_points:
                times = say("ethics.times_start", times=duration_words(point.at_s), what=step.title)
                for name in part.measure:
                    yield f"{protocol.manoeuvres[name].title}, {times}"
        for name in step.measure:
            yield _assessment(protocol, step, protocol.manoeuvres[name])


def _assessment(protocol: Protocol, step: Step, manoeuvre: Manoeuvre) -> str:
    times = times_words(protocol, step)
    key = "ethics.measure_row_due" if times else "ethics.measure_row"
    return say(key, manoeuvre=manoeuvre.title, step=step.title, times=times)


def burden_rows(found: Figures) -> list[Row]:
    """A row for each visit, and one for all visits of one participant (of each group)."""
    rows = [_burden_row(label(visit), found.burden_of(visit)) for visit in found.visits]
    for group, whole in whole_burdens(found).items():
        rows.append(_burden_row(say("ethics.burden_all", group=group_words(group)), whole))
    return rows


def _burden_row(name: str, found: Burden) -> Row:
    return [
        name,
        *efforts_words(found.efforts),
        *minutes(found.visit_s),
        *minutes(found.exercise_s),
        *minutes(found.rest_s),
    ]


def efforts_words(span: Span) -> tuple[str, str, str]:
    """Least and most as whole numbers, expected with one decimal."""
    return f"{span.least:.0f}", f"{span.expected:.1f}", f"{span.most:.0f}"


def minutes(span: Span) -> tuple[str, str, str]:
    """The three in minutes, one decimal."""
    return f"{span.least / 60:.1f}", f"{span.expected / 60:.1f}", f"{span.most / 60:.1f}"
