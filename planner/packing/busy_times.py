"""Who and what is busy when, while a day is filled by hand: the greedy's memory."""

from __future__ import annotations

from bisect import bisect_left, insort

from planner.packing.core import Core, Span

FAR = 10_000_000  # steps; beyond every day
Entry = tuple[int, int, int]  # start, end, job (-1: closed)


class Calendar:
    """One resource, or `many` alike: so many `solid` entries overlap, never more.

    `watches` may overlap solid entries of their own job.
    """

    def __init__(self, free: tuple[Span, ...], many: int = 1, taken: tuple[Span, ...] = ()) -> None:
        self.many = many
        edges = [-FAR, *(edge for span in free for edge in span), FAR]
        pairs = zip(edges[::2], edges[1::2], strict=True)
        self.solid: list[Entry] = [(a, b, -1) for a, b in pairs if a < b]
        self.solid = sorted([*self.solid, *((a, b, -2) for a, b in taken)])
        self.watches: list[Entry] = []

    def copy(self) -> Calendar:
        """The same entries in a calendar of its own."""
        twin = Calendar.__new__(Calendar)
        twin.many = self.many
        twin.solid, twin.watches = self.solid.copy(), self.watches.copy()
        return twin

    def add(self, start: int, end: int, job: int, *, watch: bool = False) -> None:
        """Takes a stretch of time; nothing where it is empty."""
        if start < end:
            insort(self.watches if watch else self.solid, (start, end, job))

    def drop(self, job: int) -> None:
        """Forgets all that a job takes."""
        self.solid = [entry for entry in self.solid if entry[2] != job]
        self.watches = [entry for entry in self.watches if entry[2] != job]

    def next_free(self, start: int, length: int, job: int, *, watch: bool = False) -> int:
        """The first moment from `start` on at which `length` steps are free for that job."""
        while True:
            clash = self._clash(start, start + length, job, watch)
            if clash is None:
                return start
            start = clash

    def is_free(self, start: int, end: int, job: int, *, watch: bool = False) -> bool:
        """Whether the stretch is free for that job."""
        return self._clash(start, end, job, watch) is None

    def _clash(self, start: int, end: int, job: int, watch: bool) -> int | None:
        """The end of an entry in the way, if any."""
        if self.many > 1:
            return self._crowd(start, end)
        solid = self.solid
        at = bisect_left(solid, (end, -FAR, -FAR)) - 1
        while at >= 0 and solid[at][1] > start:
            if not (watch and solid[at][2] == job):
                return solid[at][1]
            at -= 1
        for other_start, other_end, other in self.watches:
            if other != job and other_start < end and start < other_end:
                return other_end
        return None

    def _crowd(self, start: int, end: int) -> int | None:
        """Where all of the many are taken within the stretch: when the first of them is free again."""
        near = [entry for entry in self.solid if entry[0] < end and start < entry[1]]
        for moment in (start, *(entry[0] for entry in near if entry[0] > start)):
            there = [entry for entry in near if entry[0] <= moment < entry[1]]
            if sum(self.many if entry[2] == -1 else 1 for entry in there) >= self.many:
                return min(entry[1] for entry in there)
        return None


def calendars(core: Core) -> list[Calendar]:
    """An empty day: only closed times are taken."""
    return [Calendar(r.free, r.many, r.taken) for r in core.resources]
