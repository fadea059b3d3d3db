"""Steps and time points to activities in order, and the links between them: `expand(protocol) -> Outline`.

An outline knows the order and the demands, not yet how long anything takes: lengths come from
whoever asks (shortest, planned, drawn). It needs no NumPy.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import groupby, pairwise

from planner.protocol.model import KeyPath, Manoeuvre, Protocol, Step, TimePoint
from planner.timing.plan import Kind, Link, Moment, Point, Why


@dataclass(frozen=True, slots=True)
class Spot:
    """One task, bout, block or rest in its place of the visit.

    `number` is the step's place in the protocol; spots with the same `occurrence` belong to one
    occurrence of it. `falls_away`: a time point that a bout of unknown length need not reach.
    `path` leads to the step, or to the time of a time point.
    """

    index: int
    number: int
    step: Step
    kind: Kind
    occurrence: int
    time_point: TimePoint | None
    manoeuvre: Manoeuvre | None
    inside: int | None
    falls_away: bool
    path: KeyPath

    @property
    def rigs(self) -> tuple[str, ...]:
        """The classes of rig it needs: the manoeuvre's, or the step's."""
        return self.manoeuvre.rigs if self.manoeuvre else self.step.rigs

    @property
    def at_s(self) -> int | None:
        """The time written in `at`, None without a time point."""
        return self.time_point.at_s if self.time_point else None


@dataclass(frozen=True, slots=True)
class Outline:
    """The spots of one visit in order (those inside a bout right after it) and the links between them.

    `chain` lists the spots that follow each other through the visit, `within` those inside each bout.
    """

    protocol: Protocol
    spots: tuple[Spot, ...]
    links: tuple[Link, ...]
    chain: tuple[int, ...]
    within: dict[int, tuple[int, ...]]

    @property
    def windows(self) -> tuple[Link, ...]:
        """The links that are windows of time points."""
        return tuple(link for link in self.links if link.why is Why.DUE)

    def spots_of(self, window: Link) -> tuple[Spot, ...]:
        """The spots of the occurrence that a window belongs to."""
        own = self.spots[self.owner(window)]
        return tuple(
            spot for spot in self.spots if spot.occurrence == own.occurrence and spot.path == own.path
        )

    def owner(self, window: Link) -> int:
        """The spot whose time point the window is: with `before` the earlier end, else the later."""
        due = self.spots[window.earlier.activity].step.due
        is_before = due is not None and due.side == "before" and window.earlier.moment is Moment.END
        if is_before and self.spots[window.earlier.activity].path == window.path:
            return window.earlier.activity
        return window.later.activity


@dataclass(slots=True)
class _Building:
    """What is gathered while the visit is walked through."""

    protocol: Protocol
    left_out: frozenset[KeyPath]
    spots: list[Spot] = field(default_factory=list)
    chain: list[int] = field(default_factory=list)
    within: dict[int, list[int]] = field(default_factory=dict)
    occurrence: int = 0

    def add(
        self,
        number: int,
        kind: Kind,
        path: KeyPath,
        *,
        point: TimePoint | None = None,
        manoeuvre: Manoeuvre | None = None,
        inside: int | None = None,
        falls_away: bool = False,
    ) -> int:
        """Append a spot; its index."""
        step = self.protocol.visit[number]
        index = len(self.spots)
        self.spots.append(
            Spot(index, number, step, kind, self.occurrence, point, manoeuvre, inside, falls_away, path)
        )
        (self.chain if inside is None else self.within.setdefault(inside, [])).append(index)
        return index


def expand(protocol: Protocol, left_out: frozenset[KeyPath] = frozenset()) -> Outline:
    """The visit's activities in order and every link between them.

    `left_out` names time points inside bouts (by path) that are not to appear: those that a bout
    does not reach.
    """
    building = _Building(protocol, left_out)
    for number, which in occurrences(protocol):
        _add_occurrence(building, number, which)
        building.occurrence += 1
    spots, chain = tuple(building.spots), tuple(building.chain)
    within = {bout: tuple(inside) for bout, inside in building.within.items()}
    outline = Outline(protocol, spots, (), chain, within)
    return Outline(protocol, spots, tuple(_links(outline)), chain, within)


def occurrences(protocol: Protocol) -> Iterator[tuple[int, int | None]]:
    """Each occurrence in order of time: the step's number, and which of its time points (None: no due).

    Neighbouring steps with due from the same end of the same step are one series, sorted by time;
    at equal times the listed order stays (the sort is stable).
    """
    for _, series in groupby(enumerate(protocol.visit), key=_series):
        members: list[tuple[int, int, int | None]] = []
        for number, step in series:
            if step.due is None:
                members.append((0, number, None))
                continue
            sign = -1 if step.due.side == "before" else 1
            members += [(sign * point.at_s, number, i) for i, point in enumerate(step.due.time_points)]
        yield from ((number, which) for _, number, which in sorted(members, key=lambda member: member[0]))


def _series(item: tuple[int, Step]) -> tuple[object, ...]:
    number, step = item
    if step.due is None:
        return ("alone", number)
    return (step.due.anchor, step.due.side, step.due.anchored)


def _add_occurrence(building: _Building, number: int, which: int | None) -> None:
    step = building.protocol.visit[number]
    point, path = None, ("visit", number)  # type: tuple[TimePoint | None, KeyPath]
    if step.due is not None and which is not None:
        point, path = step.due.time_points[which], ("visit", number, "due", "at", which)
    for name in step.measure:
        building.add(number, Kind.BLOCK, path, point=point, manoeuvre=building.protocol.manoeuvres[name])
    if step.measure:
        return
    kind = Kind.REST if step.takes is None else Kind.BOUT if step.exercise else Kind.TASK
    bout = building.add(number, kind, path, point=point)
    _add_during(building, number, bout)


def _add_during(building: _Building, number: int, bout: int) -> None:
    """Blocks inside the bout, the time points of all its `during` entries sorted by time."""
    step = building.protocol.visit[number]
    points = [
        (point, ("visit", number, "during", entry, "at", which), during)
        for entry, during in enumerate(step.during)
        for which, point in enumerate(during.time_points)
    ]
    unknown = step.takes is not None and not step.takes.is_known
    for point, path, during in sorted(points, key=lambda item: item[0].at_s):
        if path in building.left_out:
            continue
        for name in during.measure:
            building.add(
                number,
                Kind.BLOCK,
                path,
                point=point,
                manoeuvre=building.protocol.manoeuvres[name],
                inside=bout,
                falls_away=during.if_reached and unknown,
            )


def _links(outline: Outline) -> Iterator[Link]:
    yield from _order(outline)
    yield from _windows(outline)
    yield from _starts_within(outline)
    for bout, inside in outline.within.items():
        for index in inside:
            path = outline.spots[index].path
            start, end = Point(index, Moment.START), Point(index, Moment.END)
            yield Link(Point(bout, Moment.START), start, 0, None, Why.INSIDE, path=path)
            yield Link(end, Point(bout, Moment.END), 0, None, Why.INSIDE, path=path)


def _order(outline: Outline) -> Iterator[Link]:
    """Each activity starts at or after the end of the one before; a rest lasts at least its length."""
    for run in (outline.chain, *outline.within.values()):
        for before, after in pairwise(run):
            path = outline.spots[after].path
            yield Link(Point(before, Moment.END), Point(after, Moment.START), 0, None, Why.ORDER, path=path)
    for spot in outline.spots:
        if spot.kind is Kind.REST:
            start, end = Point(spot.index, Moment.START), Point(spot.index, Moment.END)
            yield Link(start, end, spot.step.rest_s, None, Why.ORDER, path=("visit", spot.number, "rest"))


def _windows(outline: Outline) -> Iterator[Link]:
    """One link a time point, on the first activity of its occurrence (with `before`, on the last)."""
    ends = _ends_of_steps(outline)
    for _, group in groupby(outline.spots, key=lambda spot: (spot.occurrence, spot.path)):
        own = list(group)
        first, point = own[0], own[0].time_point
        if point is None:
            continue
        moment = Moment.FIRST_EFFORT if first.kind is Kind.BLOCK else Moment.START
        target = Point(first.index, moment)
        low, high = point.at_s - point.early_s, point.at_s + point.late_s
        if first.inside is not None:
            anchor = Point(first.inside, Moment.START)
        elif first.step.due is None:
            continue
        elif first.step.due.side == "before":
            anchor = Point(own[-1].index, Moment.END)
            target = Point(ends[first.step.due.anchor][0], Moment.START)
            low, high = point.at_s - point.late_s, point.at_s + point.early_s
        elif first.step.due.anchored == "start":
            anchor = Point(ends[first.step.due.anchor][0], Moment.START)
        else:
            anchor = Point(ends[first.step.due.anchor][1], Moment.END)
        yield Link(anchor, target, low, high, Why.DUE, target_s=point.at_s, path=first.path)


def _ends_of_steps(outline: Outline) -> dict[str, tuple[int, int]]:
    """The first and the last spot on the chain of each step, by its id."""
    ends: dict[str, tuple[int, int]] = {}
    for index in outline.chain:
        name = outline.spots[index].step.id
        ends[name] = (ends.get(name, (index, index))[0], index)
    return ends


def _starts_within(outline: Outline) -> Iterator[Link]:
    """On the first occurrence of its step, counted from what ends right before it."""
    seen: set[str] = set()
    for place, index in enumerate(outline.chain):
        step = outline.spots[index].step
        if step.id in seen:
            continue
        seen.add(step.id)
        if step.starts_within_s is not None and place > 0:
            before = Point(outline.chain[place - 1], Moment.END)
            path = ("visit", outline.spots[index].number, "starts_within")
            start = Point(index, Moment.START)
            yield Link(before, start, 0, step.starts_within_s, Why.STARTS_WITHIN, path=path)


def kept_rigs(outline: Outline, index: int) -> tuple[str, ...]:
    """Classes whose rig stays with the participant for the next spot and is not cleared here.

    That next one is the next block of the same occurrence, or the task or bout joined to this task
    or bout by `starts_within: 0 s` (blocks inside a bout may stand between the two).
    """
    spot = outline.spots[index]
    run = outline.chain if spot.inside is None else outline.within[spot.inside]
    place = run.index(index) + 1
    if place == len(run):
        return ()
    after = outline.spots[run[place]]
    same_measure = spot.kind is after.kind is Kind.BLOCK and after.occurrence == spot.occurrence
    if same_measure and after.path == spot.path:
        return tuple(name for name in spot.rigs if name in after.rigs)
    moving = {Kind.TASK, Kind.BOUT}
    joined = {spot.kind, after.kind} <= moving and after.step.starts_within_s == 0
    if joined and after.step.id != spot.step.id:
        return tuple(name for name in spot.rigs if name in after.rigs)
    return ()
