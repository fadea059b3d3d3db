"""What happens in a visit, part by part in its order: when, for how long, how often, and who is there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import zip_longest

from planner.documents.due_words import point_words, window_words
from planner.documents.rule_words import joined
from planner.documents.shown import length_words
from planner.documents.texts import say
from planner.protocol.model import Manoeuvre, Protocol, TimePoint
from planner.timing.bounds import longest_s, shortest_s
from planner.timing.expand import Spot, expand
from planner.timing.plan import Kind, PlannedActivity, VisitPlan

Row = list[str]
SHORT_GAP_S = 120  # whoever served the measure before is still there, reading it off and cleaning


def part_rows(protocol: Protocol, plan: VisitPlan) -> list[Row]:
    """A row for each part and each measure of the visit, at each of its time points."""
    planned = {(a.step, a.at_s, a.manoeuvre): a for a in plan.activities}
    found = []
    for spot in expand(protocol).spots:
        # a time point that exercise of unknown length reaches only when it is long is not in the plan
        activity = planned.get((spot.step.id, spot.at_s, spot.manoeuvre.id if spot.manoeuvre else None))
        started = minutes_cut(plan.starts_s[activity.index]) if activity else say("ethics.not_reached")
        found.append(_row(protocol, spot, started, _stayers(plan, activity) if activity else ()))
    return found


def _stayers(plan: VisitPlan, activity: PlannedActivity) -> tuple[str, ...]:
    """The roles that, as planned, stay with the participant after exercise for all of that part."""
    start_s = plan.starts_s[activity.index]
    end_s = start_s + activity.length_s
    found: list[str] = []
    for bout in plan.activities:
        if bout.watch is not None and bout.kind is Kind.BOUT:
            ended_s = plan.starts_s[bout.index] + bout.length_s
            if ended_s <= start_s and end_s <= ended_s + bout.watch.for_s:
                found += bout.watch.staff
    return tuple(found)


def _row(protocol: Protocol, spot: Spot, started: str, stayers: Sequence[str]) -> Row:
    when, window = _due(protocol, spot)
    manoeuvre = spot.manoeuvre
    efforts, rest = (efforts_range(manoeuvre), _rest(manoeuvre)) if manoeuvre else ("", "")
    who = _who_words(spot, stayers)
    return [_what(spot), started, _length(spot), when, *window, efforts, rest, who]


def _what(spot: Spot) -> str:
    if spot.manoeuvre is None:
        return spot.step.title
    return say("ethics.measure_row", manoeuvre=spot.manoeuvre.title, step=spot.step.title)


def _length(spot: Spot) -> str:
    least, most = length_words(shortest_s(spot)), length_words(longest_s(spot))
    return least if least == most else say("ethics.days_between", least=least, most=most)


def _due(protocol: Protocol, spot: Spot) -> tuple[str, tuple[str, str]]:
    """When it is due, and the window, which is that of the first measure of a time point."""
    point = spot.time_point
    if point is None:
        return "", ("", "")
    when = _when(protocol, spot, point)
    names = _measured_together(spot)
    if spot.manoeuvre is not None and spot.manoeuvre.id != names[0]:
        return when, (say("ethics.follows"), "")
    return when, window_words(spot.step, point)


def _when(protocol: Protocol, spot: Spot, point: TimePoint) -> str:
    if spot.inside is None:
        return point_words(protocol, spot.step, point)
    return say("ethics.times_start", times=length_words(point.at_s), what=spot.step.title)


def _measured_together(spot: Spot) -> Sequence[str]:
    """The measures of that time point in their order."""
    if spot.inside is None:
        return spot.step.measure
    return next(part.measure for part in spot.step.during if spot.time_point in part.time_points)


def _rest(manoeuvre: Manoeuvre) -> str:
    return length_words(manoeuvre.rest_s) if manoeuvre.at_most > 1 else say("ethics.rest_none")


def efforts_range(manoeuvre: Manoeuvre) -> str:
    """`3 to 8`, or one number; without a rule to finish, as many as are asked for."""
    if not manoeuvre.enough or manoeuvre.at_least == manoeuvre.at_most:
        return say("ethics.efforts_one", count=manoeuvre.at_least)
    return say("ethics.efforts_range", least=manoeuvre.at_least, most=manoeuvre.at_most)


def _who_words(spot: Spot, stayers: Sequence[str]) -> str:
    """The roles that the part asks for; whoever stays on after it is named with the length."""
    asked = spot.manoeuvre.staff if spot.manoeuvre else spot.step.staff
    words = joined(list(dict.fromkeys([*asked, *stayers]))) or say("ethics.nobody")
    if spot.manoeuvre is not None or spot.step.watch is None:
        return words
    watch = spot.step.watch
    roles, length = joined(list(watch.staff)), length_words(watch.for_s)
    return say("ethics.who_stays", who=words, roles=roles, length=length)


def minutes_cut(seconds: int) -> str:
    """Whole minutes from the start of the visit, as on a watch: `0:43`."""
    return f"{seconds // 3600}:{seconds % 3600 // 60:02}"


def alone_after_exercise(plan: VisitPlan) -> Iterator[tuple[str, int, int]]:
    """Where, as planned, no role is with the participant after exercise: its step, from and to its end."""
    bouts = [a for a in plan.activities if a.kind is Kind.BOUT]
    for bout, following in zip_longest(bouts, bouts[1:]):
        end_s = plan.starts_s[bout.index] + bout.length_s
        until_s = plan.starts_s[following.index] if following else plan.alone_s
        with_them = end_s + (bout.watch.for_s if bout.watch else 0)
        for start_s, length_s in [*_served(plan, end_s, until_s), (until_s, 0)]:
            if start_s - with_them >= SHORT_GAP_S:
                yield bout.step, with_them - end_s, start_s - end_s
            with_them = max(with_them, start_s + length_s)


def _served(plan: VisitPlan, from_s: int, until_s: int) -> list[tuple[int, int]]:
    """Starts and lengths of the parts between those moments that ask for somebody."""
    found = [(plan.starts_s[a.index], a.length_s) for a in plan.activities if a.staff]
    return sorted((start_s, length_s) for start_s, length_s in found if from_s <= start_s < until_s)
