"""What waiting alone makes of a running day: all in the order planned, as soon as what is before allows."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

from planner.packing.core import Answer, Span, Use
from planner.packing.mend.core import RunningDay

Node = tuple[int, int]  # a visit and one of its activities
Turn = tuple[Node, Node, int]  # the second starts at least so many steps after the first
FAR = 10**9
MOST = 200_000  # moves; a day of a hundred visits takes a few thousand


def waited(day: RunningDay) -> Answer | None:
    """The plan before with whatever cannot be so soon moved back, by the same rigs and people in turn.

    Who finds no place that way is left out, and for who is there already the last of those to come; None
    where that does not help either, or somebody must take over from who is kept longer.
    """
    out: set[int] = set()
    while True:
        shift = _Shift(day, out)
        stuck = shift.run()
        if stuck is None:
            return None if shift.clashes() else shift.answer()
        if day.core.jobs[stuck].must:
            to_come = [j for j in shift.here() if not day.core.jobs[j].must]
            if not to_come:
                return None
            stuck = max(to_come, key=lambda j: day.facts.standings[j].placed.start)
        out.add(stuck)


@dataclass(frozen=True)
class _Held:
    """A rig or a person with one use of a visit, from when until when in the plan before."""

    job: int
    use: Use
    start: int
    end: int


@dataclass
class _Shift:
    """Starts that only ever grow, until every distance, turn and free time holds."""

    day: RunningDay
    out: Collection[int]
    starts: dict[Node, int] = field(default_factory=dict)
    after: dict[Node, list[tuple[Node, int]]] = field(default_factory=lambda: defaultdict(list))
    instead: dict[tuple[Node, Node], list[Turn]] = field(default_factory=lambda: defaultdict(list))

    def run(self) -> int | None:
        """Moves what must move; the visit that finds no place, None where all do."""
        for j in self.here():
            old, standing = self.day.old.starts[j] or (), self.day.facts.standings[j]
            for i, start in enumerate(old):
                self.starts[j, i] = 0 if i in standing.gone else start
            self._own_distances(j)
        self._turns()
        waiting, moves = deque(self.starts), 0
        while waiting:
            node = waiting.popleft()
            for other, start in (*self._pushed(node), *self._into_free_time(node[0])):
                if start <= self.starts[other]:
                    continue
                if self._is_pinned(other) and (node, other) in self.instead:
                    waiting += self._goes_after(node, other)
                    continue
                self.starts[other] = start
                moves += 1
                if self._is_pinned(other) or start > self.day.core.horizon or moves > MOST:
                    return node[0] if self.day.core.jobs[other[0]].must else other[0]
                waiting.append(other)
        return None

    def _goes_after(self, node: Node, other: Node) -> list[Node]:
        """Lets what can no longer be done before something that has begun follow it; where that ends."""
        self.after[node] = [link for link in self.after[node] if link[0] != other]
        turns = self.instead.pop((node, other))
        for last, first, least in turns:
            self.after[last].append((first, least))
        return [last for last, _, _ in turns]

    def clashes(self) -> bool:
        """Whether two visits have a rig or a person at once, as when what has begun keeps somebody longer."""
        busy: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
        for j in self.here():
            for use, r in self._served(j):
                busy[r].append((*self._when(j, use), j))
        return any(
            one[2] != two[2] and max(one[0], two[0]) < min(one[1], two[1])
            for its in busy.values()
            for one, two in combinations(its, 2)
        )

    def _when(self, j: int, use: Use) -> Span:
        """From when until when a use has its rig or person."""
        last = use.first if use.from_end else use.last
        ends = self.starts[j, last] + self._length(j, last)
        begins = ends if use.from_end else self.starts[j, use.first] - use.lead
        return begins, ends + use.tail

    def answer(self) -> Answer:
        """The day as it is then."""
        starts: list[tuple[int, ...] | None] = [None] * len(self.day.core.jobs)
        given: list[tuple[int, ...] | None] = [None] * len(self.day.core.jobs)
        for j in self.here():
            starts[j] = tuple(self.starts[j, i] for i in range(len(self.day.core.jobs[j].lengths)))
            given[j] = self.day.old.given[j]
        return Answer(tuple(starts), tuple(given))

    def here(self) -> Iterator[int]:
        """The visits that are not left out."""
        return (j for j in range(len(self.day.facts.standings)) if j not in self.out)

    def _is_pinned(self, node: Node) -> bool:
        return node[1] in self.day.facts.standings[node[0]].begun

    def _link(self, one: Node, two: Node, least: int) -> None:
        """`two` starts at least so many steps after `one`."""
        if not (self._is_pinned(one) and self._is_pinned(two)):
            self.after[one].append((two, least))

    def _own_distances(self, j: int) -> None:
        """The visit's own order and windows; one that may be missed moves nothing that has begun."""
        job = self.day.core.jobs[j]
        for gap, is_soft in (
            *((gap, False) for gap in job.gaps),
            *((soft.gap, True) for soft in self.day.soft if soft.job == j),
        ):
            one, two = (j, gap.earlier), (j, gap.later)
            if not (is_soft and self._is_pinned(two)):
                self._link(one, two, gap.low)
            if gap.high is not None and not (is_soft and self._is_pinned(one)):
                self._link(two, one, -gap.high)
        if job.stretch is not None:
            longest = job.alone + job.stretch - job.lengths[job.last]
            self._link((j, job.last), (j, job.first), -longest)

    def _turns(self) -> None:
        """Each rig and person in the order planned, and a participant's visits."""
        for held in self._held().values():
            for one, two in combinations(sorted(held, key=lambda its: (its.start, its.end)), 2):
                if one.end <= two.start or one.job != two.job:
                    self._turn(one, two)
        for a, b in self.day.core.in_turn:
            if {a, b} <= set(self.here()):
                first, second = self.day.core.jobs[a], self.day.core.jobs[b]
                self._link((a, first.last), (b, second.first), first.lengths[first.last])

    def _turn(self, one: _Held, two: _Held) -> None:
        """The second follows the first; where it has begun, the first follows it if it cannot be before."""
        last, first = self._of_end(one), self._of_start(two)
        self._link(last[0], first[0], last[1] + first[1])
        if one.job != two.job and self._is_pinned(first[0]) and not self._is_pinned(last[0]):
            late, early = self._of_end(two), self._of_start(one)
            self.instead[last[0], first[0]].append((late[0], early[0], late[1] + early[1]))

    def _of_start(self, held: _Held) -> tuple[Node, int]:
        """The activity that a use begins with, and how many steps before its start."""
        use = held.use
        before = -self._length(held.job, use.first) if use.from_end else use.lead
        return (held.job, use.first), before

    def _of_end(self, held: _Held) -> tuple[Node, int]:
        """The activity that a use ends with, and how many steps after its start."""
        last = held.use.first if held.use.from_end else held.use.last
        return (held.job, last), self._length(held.job, last) + held.use.tail

    def _length(self, j: int, i: int) -> int:
        return self.day.core.jobs[j].lengths[i]

    def _held(self) -> dict[int, list[_Held]]:
        """By rig or person, the uses that they serve in the plan before."""
        found: dict[int, list[_Held]] = defaultdict(list)
        for j in self.here():
            placed = self.day.facts.standings[j].by_index
            for use, r in self._served(j):
                ends = self.day.steps(placed[use.first if use.from_end else use.last].end)
                begins = ends if use.from_end else self.day.steps(placed[use.first].start) - use.lead
                found[r].append(_Held(j, use, begins, ends + use.tail))
        return found

    def _served(self, j: int) -> Iterator[tuple[Use, int]]:
        yield from zip(self.day.core.uses[j], self.day.old.given[j] or (), strict=True)

    def _pushed(self, node: Node) -> Iterator[tuple[Node, int]]:
        return ((other, self.starts[node] + least) for other, least in self.after[node])

    def _into_free_time(self, j: int) -> Iterator[tuple[Node, int]]:
        """Where a visit's start, or a rig or person of it, must move to, for it is not free so soon."""
        job = self.day.core.jobs[j]
        here = self.starts[j, job.first]
        length = self.starts[j, job.last] + job.lengths[job.last] - here
        yield (j, job.first), max(_next(job.starts, here, 0), _next(job.within, here, length))
        for use, r in self._served(j):
            begins, ends = self._when(j, use)
            if begins < ends:
                free = self.day.core.resources[r].free if r in use.choices else ()
                later = _next(free, begins, ends - begins) - begins
                yield (j, use.first), self.starts[j, use.first] + later


def _next(spans: Sequence[Span], start: int, length: int) -> int:
    """The first moment from `start` on at which so much lies within one of the spans."""
    return min((max(start, low) for low, high in spans if max(start, low) + length <= high), default=FAR)
