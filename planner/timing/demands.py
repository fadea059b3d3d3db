"""A collision of demands in words: by step, each with its line, with the arithmetic."""

from __future__ import annotations

from collections.abc import Sequence

from planner.clock import duration_words
from planner.faults import Fault
from planner.protocol.model import KeyPath, Protocol
from planner.timing.distances import Edge
from planner.timing.expand import Outline, Spot
from planner.timing.plan import Kind, Link, Moment, VisitPlan, Why

_MOMENTS = tuple(Moment)


def words_of(outline: Outline, demands: Sequence[Edge], broken: Edge) -> tuple[str, str]:
    """The subject of a collision, such as "'after' at 10 min", and its arithmetic."""
    return _subject(outline, broken), _arithmetic(outline, demands, broken)


def fault_of(outline: Outline, demands: Sequence[Edge], broken: Edge) -> Fault:
    """The fault of a contradictory protocol, placed at the demand that breaks."""
    path = broken.link.path if broken.link else outline.spots[broken.tail // 3].path
    place = outline.protocol.place(*path)
    message = f"{_subject(outline, broken)} cannot be kept: {_arithmetic(outline, demands, broken)}"
    return Fault(place, "contradiction", message, _remedy(demands))


def plan_fault_of(outline: Outline, plan: VisitPlan, demands: Sequence[Edge], broken: Edge) -> Fault:
    """Why the planned lengths break a window: names the block, its quantile and the window."""
    path = broken.link.path if broken.link else outline.spots[broken.tail // 3].path
    share = f"{plan.plan_on * 100:f}".rstrip("0").rstrip(".") + " %"
    blocks = list(dict.fromkeys(_planned(outline, plan, edge) for edge in demands if edge.of == "efforts"))
    message = (
        f"{_subject(outline, broken)} cannot be kept with the efforts planned on {share} "
        f"({', '.join(blocks) or 'no block'}): {_arithmetic(outline, demands, broken)}"
    )
    return Fault(
        outline.protocol.place(*path), "cannot be kept at plan_on", message, "With fewer efforts it could be."
    )


def _planned(outline: Outline, plan: VisitPlan, edge: Edge) -> str:
    spot = outline.spots[edge.tail // 3]
    return f"{_spot(spot)}: {plan.activities[spot.index].planned_efforts} efforts"


def _remedy(demands: Sequence[Edge]) -> str:
    ends = {edge.of for edge in demands}
    if "shortest" in ends:
        return "Measure earlier in the bout, raise its `shortest`, or write `if_reached: true`."
    if "longest" in ends:
        return "Count from the end of the bout, lower its `longest`, or widen the window."
    return "Move or widen the time point, or ask for less before it."


def _subject(outline: Outline, broken: Edge) -> str:
    """The demand that breaks: its step and time point."""
    link = broken.link
    if link is None:
        return _spot(outline.spots[broken.tail // 3])
    if link.why is Why.STARTS_WITHIN:
        step = outline.spots[link.later.activity].step
        return f"'{step.id}', to start within {duration_words(link.high_s or 0)},"
    spot = outline.spots[outline.owner(link)] if link.why is Why.DUE else outline.spots[broken.tail // 3]
    return _occurrence(spot)


def _occurrence(spot: Spot) -> str:
    """A step, with the time of its time point where it has one."""
    if spot.time_point is None:
        return f"'{spot.step.id}'"
    inside = "during " if spot.inside is not None else ""
    return f"{inside}'{spot.step.id}' at {duration_words(spot.time_point.at_s)}"


def _spot(spot: Spot) -> str:
    name = f"{spot.manoeuvre.id} of " if spot.manoeuvre else ""
    return name + _occurrence(spot)


def _line(protocol: Protocol, path: KeyPath) -> str:
    return f"line {protocol.place(*path).line}"


def _arithmetic(outline: Outline, demands: Sequence[Edge], broken: Edge) -> str:
    """What takes at least so long, against what may take at most so long."""
    turn = list(demands).index(broken)
    around = [*demands[turn:], *demands[:turn]]
    in_time = [around[0], *reversed(around[1:])]  # the other demands run back: reversed, they run with time
    least = [edge for edge in in_time if edge.seconds < 0]
    most = [edge for edge in in_time if edge.seconds > 0 or (edge.upper and edge.seconds == 0)]
    needed, allowed = -sum(edge.seconds for edge in least), sum(edge.seconds for edge in most)
    words = (
        f"{_sum(outline, least)} = {duration_words(needed)} at least, "
        f"but only {duration_words(allowed)} lie between"
    )
    return f"{words} ({' + '.join(_item(outline, edge) for edge in most) or 'no time at all'})"


def _sum(outline: Outline, edges: Sequence[Edge]) -> str:
    items: list[str] = []
    previous = None
    for edge in edges:
        spot = edge.spot
        if spot is not None and spot == previous and edge.of == "efforts":
            items[-1] += f" + {_efforts(outline.spots[spot], edge)} {duration_words(abs(edge.seconds))}"
        else:
            items.append(_item(outline, edge))
        previous = spot
    return " + ".join(items)


def _item(outline: Outline, edge: Edge) -> str:
    """One demand with its seconds and its line."""
    seconds = duration_words(abs(edge.seconds))
    if edge.link is not None:
        return f"{_link(outline, edge.link, edge.upper, seconds)} ({_line(outline.protocol, edge.link.path)})"
    spot = outline.spots[edge.spot or 0]
    step = _line(outline.protocol, ("visit", spot.number))
    if edge.of in ("shortest", "longest"):
        takes = _line(outline.protocol, ("visit", spot.number, "takes", edge.of))
        return f"'{spot.step.id}' at its {edge.of} {seconds} ({takes})"
    if edge.of == "length":
        return f"'{spot.step.id}' {seconds} ({_line(outline.protocol, ('visit', spot.number, 'takes'))})"
    if edge.of == "prepare":
        return f"{_spot(spot)} ({step}): preparing {seconds}"
    return f"{_spot(spot)} ({step}): {_efforts(spot, edge)} {seconds}"


def _efforts(spot: Spot, edge: Edge) -> str:
    manoeuvre = spot.manoeuvre
    if manoeuvre is None:
        return "length"
    one = manoeuvre.effort_s + manoeuvre.rest_s
    count = (abs(edge.seconds) + manoeuvre.rest_s) // one if one else manoeuvre.at_least
    rests = f" and {count - 1} rests" if count > 2 else " and a rest" if count == 2 else ""
    return f"{count} effort{'s' if count > 1 else ''}{rests if manoeuvre.rest_s else ''}"


def _link(outline: Outline, link: Link, upper: bool, seconds: str) -> str:
    spot = outline.spots[link.later.activity]
    if link.why is Why.STARTS_WITHIN:
        return f"'{spot.step.id}' starts within {seconds}"
    if link.why is Why.ORDER:
        return f"'{spot.step.id}' rests {seconds}" if spot.kind is Kind.REST else f"order of steps {seconds}"
    if link.why is Why.INSIDE:
        return f"inside its bout {seconds}"
    owner = outline.spots[outline.owner(link)]
    if owner.index == link.earlier.activity and owner.inside is None and _counts_back(owner):
        side = "ends no more than" if upper else "ends at least"
        return f"{_occurrence(owner)} {side} {seconds} before the start of '{spot.step.id}'"
    anchor = outline.spots[link.earlier.activity].step.id
    moment = "start" if link.earlier.moment is Moment.START else "end"
    side = "no later than" if upper else "no earlier than"
    return f"{_occurrence(owner)} begins {side} {seconds} after the {moment} of '{anchor}'"


def _counts_back(spot: Spot) -> bool:
    return spot.step.due is not None and spot.step.due.side == "before"
