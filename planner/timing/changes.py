"""Single changes to a protocol that may mend a time point, each with what it costs.

A change names the key in the file (`path`) and the text that would stand there (`value`), so that
an editor can apply it; `apply(protocol)` gives the changed protocol without touching the file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import permutations

from planner.clock import duration_words
from planner.protocol.model import Due, During, KeyPath, Manoeuvre, Protocol, Step, TimePoint
from planner.timing.expand import Outline, Spot

Value = str | tuple[str, ...] | Mapping[str, str]
_MOST_TO_REORDER = 4  # manoeuvres in a measure; 24 orders are tried at most


@dataclass(frozen=True, slots=True)
class Change:
    """One change: which kind, where in the file, what would stand there, in words, and its cost.

    `size` says how much of the protocol it changes, for ranking: 0 nothing, 1 a whole time point.
    """

    kind: str
    path: KeyPath
    value: Value
    words: str
    cost: str
    size: float
    apply: Callable[[Protocol], Protocol]


def points_of(step: Step, path: KeyPath) -> tuple[TimePoint, ...]:
    """The time points of the `due` or `during` that a time point's path leads into."""
    if path[2] == "due" and step.due is not None:
        return step.due.time_points
    return step.during[int(path[3])].time_points


def wider(protocol: Protocol, spot: Spot, seconds: int) -> Change:
    """Take the time point as on time this much later (with `before`: this much longer before)."""
    path, which = spot.path, int(spot.path[-1])
    points = points_of(spot.step, path)
    backwards = counts_back(spot)
    key = "early" if backwards else "late"

    def widened(point: TimePoint) -> TimePoint:
        if backwards:
            return replace(point, early_s=point.early_s + seconds)
        return replace(point, late_s=point.late_s + seconds)

    changed = tuple(widened(p) if i == which else p for i, p in enumerate(points))
    bounds = tuple(duration_words(p.early_s if backwards else p.late_s) for p in changed)
    now = getattr(changed[which], f"{key}_s")
    was = duration_words(now - seconds)
    return Change(
        kind=f"wider {key}",
        path=(*path[:-2], key),
        value=bounds[0] if len(set(bounds)) == 1 else bounds,
        words=f"let {name_of(spot)} be up to {duration_words(now)} {key}, not {was}",
        cost=f"the measure may fall up to {duration_words(seconds)} further from its time",
        size=seconds / max(points[which].at_s, 60),
        apply=lambda old: with_points(old, path, changed),
    )


def later(protocol: Protocol, spot: Spot, seconds: int) -> Change | None:
    """Move the time point this much later (with `before`: earlier); None where it would pass the next."""
    path, which = spot.path, int(spot.path[-1])
    points = points_of(spot.step, path)
    changed = tuple(replace(p, at_s=p.at_s + seconds) if i == which else p for i, p in enumerate(points))
    times = [p.at_s for p in changed]
    if times != sorted(set(times), reverse=counts_back(spot)):
        return None
    now = changed[which].at_s
    return Change(
        kind="other time",
        path=path[:-1],
        value=tuple(map(duration_words, times)),
        words=f"measure {name_of(spot)} at {duration_words(now)} instead",
        cost=f"another minute of the course is seen: {duration_words(seconds)} from the one intended",
        size=2 * seconds / max(points[which].at_s, 60),
        apply=lambda old: with_points(old, path, changed),
    )


def fewer_efforts(manoeuvre: Manoeuvre) -> Iterator[Change]:
    """A lower `at_most`, the smallest change first."""
    if not manoeuvre.enough:
        return
    deepest = max(line.count for line in manoeuvre.enough)
    for most in range(manoeuvre.at_most - 1, max(manoeuvre.at_least, deepest) - 1, -1):
        name = manoeuvre.id
        yield Change(
            kind="lower at_most",
            path=("manoeuvres", name, "efforts"),
            value={"at_least": str(manoeuvre.at_least), "at_most": str(most)},
            words=f"end {name} after at most {most} efforts instead of {manoeuvre.at_most}",
            cost="more blocks end without agreement, everywhere this manoeuvre is measured",
            size=(manoeuvre.at_most - most) / manoeuvre.at_most,
            apply=lambda old, name=name, most=most: with_manoeuvre(old, name, "efforts", at_most=most),  # type: ignore[misc]
        )


def without_one(step: Step, path: KeyPath) -> Iterator[Change]:
    """One manoeuvre fewer in a measure of several."""
    measure = measure_of(step, path)
    if len(measure) < 2:
        return
    for dropped in measure:
        left = tuple(name for name in measure if name != dropped)
        yield Change(
            kind="fewer manoeuvres",
            path=measure_path(path),
            value=left,
            words=f"leave {dropped} out of '{step.id}'",
            cost=f"{dropped} is not measured at any time point of '{step.id}'",
            size=0.5 + 0.5 / len(measure),
            apply=lambda old, left=left: with_measure(old, path, left),  # type: ignore[misc]
        )


def other_orders(step: Step, path: KeyPath) -> Iterator[Change]:
    """The same manoeuvres in another order."""
    measure = measure_of(step, path)
    if len(measure) > _MOST_TO_REORDER:
        return
    for order in permutations(measure):
        moved = sum(a != b for a, b in zip(order, measure, strict=True))
        if moved:
            yield Change(
                kind="another order",
                path=measure_path(path),
                value=order,
                words=f"measure '{step.id}' in the order {', '.join(order)}",
                cost="which manoeuvre is first at a time point changes; check that none disturbs the next",
                size=0.1 + 0.02 * moved,
                apply=lambda old, order=order: with_measure(old, path, order),  # type: ignore[misc]
            )


def second_person(protocol: Protocol, outline: Outline, spot: Spot) -> Change | None:
    """Let a second person prepare the rig beforehand; None where what stands before uses that rig."""
    manoeuvre = spot.manoeuvre
    if manoeuvre is None or manoeuvre.prepare_s == 0:
        return None
    before = _before(outline, spot)
    if before is not None and set(before.rigs) & set(manoeuvre.rigs):
        return None
    name, everywhere = manoeuvre.id, sum(s.manoeuvre is manoeuvre for s in outline.spots)
    elsewhere = " (everywhere it is measured)" if everywhere > 1 else ""
    return Change(
        kind="second person",
        path=("manoeuvres", name, "prepare"),
        value="0 s",
        words=f"let a second person make {name} ready beforehand{elsewhere}",
        cost=f"one more person and the rig, {duration_words(manoeuvre.prepare_s)} before each such block",
        size=0.15,
        apply=lambda old: with_manoeuvre(old, name, "prepare", prepare_s=0),
    )


def _before(outline: Outline, spot: Spot) -> Spot | None:
    run = outline.chain if spot.inside is None else outline.within[spot.inside]
    place = run.index(spot.index)
    if place:
        return outline.spots[run[place - 1]]
    return outline.spots[spot.inside] if spot.inside is not None else None


def name_of(spot: Spot) -> str:
    """A time point in words."""
    return f"'{spot.step.id}' at {duration_words(spot.at_s or 0)}"


def counts_back(spot: Spot) -> bool:
    """Whether the time point counts to a later step (`before`)."""
    return spot.inside is None and spot.step.due is not None and spot.step.due.side == "before"


def measure_of(step: Step, path: KeyPath) -> tuple[str, ...]:
    """The `measure` of the step, or of the entry of `during` that the path leads into."""
    return step.during[int(path[3])].measure if len(path) > 3 and path[2] == "during" else step.measure


def measure_path(path: KeyPath) -> KeyPath:
    """Where that `measure` stands."""
    return (*path[:4], "measure") if len(path) > 3 and path[2] == "during" else (*path[:2], "measure")


def with_manoeuvre(protocol: Protocol, name: str, key: str, **changes: int) -> Protocol:
    """The protocol with another number in one manoeuvre, and in those that take that key from it."""
    manoeuvres = dict(protocol.manoeuvres)
    for other in (name, *_takers(protocol, name, key)):
        manoeuvres[other] = replace(manoeuvres[other], **changes)  # type: ignore[arg-type]
    return replace(protocol, manoeuvres=manoeuvres)


def _takers(protocol: Protocol, name: str, key: str) -> list[str]:
    """The manoeuvres that take this key from that one by `like`.

    What they take stands at the same place of the file, below the head of the one that wrote it.
    """
    here = protocol.places.get(("manoeuvres", name, key))
    if here is None:
        return []
    sharing = [m for m in protocol.manoeuvres if protocol.places.get(("manoeuvres", m, key)) == here]
    heads = {m: protocol.place("manoeuvres", m) for m in sharing}
    above = [m for m in sharing if (heads[m].line, heads[m].column) <= (here.line, here.column)]
    writer = max(above, key=lambda m: (heads[m].line, heads[m].column), default=name)
    return [m for m in sharing if m != name] if writer == name else []


def with_measure(protocol: Protocol, path: KeyPath, measure: tuple[str, ...]) -> Protocol:
    """The protocol with another `measure` at that path."""
    return _with_step(protocol, path, measure=measure)


def with_points(protocol: Protocol, path: KeyPath, points: tuple[TimePoint, ...]) -> Protocol:
    """The protocol with other time points at that path."""
    return _with_step(protocol, path, time_points=points)


def _with_step(protocol: Protocol, path: KeyPath, **changes: object) -> Protocol:
    number = int(path[1])
    step = protocol.visit[number]
    if len(path) > 3 and path[2] == "during":
        entry: During = replace(step.during[int(path[3])], **changes)  # type: ignore[arg-type]
        during = (*step.during[: int(path[3])], entry, *step.during[int(path[3]) + 1 :])
        changed = replace(step, during=during)
    elif "time_points" in changes and step.due is not None:
        due: Due = replace(step.due, **changes)  # type: ignore[arg-type]
        changed = replace(step, due=due)
    else:
        changed = replace(step, **changes)  # type: ignore[arg-type]
    return replace(protocol, visit=(*protocol.visit[:number], changed, *protocol.visit[number + 1 :]))
