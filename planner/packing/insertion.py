"""One visit put into a day that is partly full: the earliest place that its windows and the rooms allow.

Activities are placed one after another as early as can be. Where one comes too late for a window, what
the window counts from is moved later and placed anew. Only moments at which something becomes free, or
a least distance ends, are ever tried.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from planner.packing.busy_times import FAR, Calendar
from planner.packing.core import Core, Distances, Job, Use, Wants, closure, stretched
from planner.packing.taken import holds, needs_another, overlaps

MOST_TRIES = 400


class Visitor:
    """What can be known of one job before any day is looked at."""

    def __init__(self, core: Core, number: int) -> None:
        self.core, self.number, self.job = core, number, core.jobs[number]
        self.uses = core.uses[number]
        self.distances: Distances | None = closure(len(self.job.lengths), stretched(self.job))
        self.starting: dict[int, list[int]] = defaultdict(list)
        self.running: dict[int, list[int]] = defaultdict(list)
        for n, use in enumerate(self.uses):
            self.starting[use.first].append(n)
            for activity in range(use.first + 1, use.last + 1):
                self.running[activity].append(n)
        self.partners = {n: group for group in core.same for j, n in group if j == number}
        self.wished = _wished(core, number)
        self.wished_in_one = _wished_in_one(core, number)
        self.kept_free = {n: _only_ones_beside(self.uses, n) for n in range(len(self.uses))}

    def spans(self) -> list[tuple[int, int, int]]:
        """Earliest start, latest start, and latest end of each span that may hold the job."""
        if self.distances is None:
            return []
        job = self.job
        shortest = (self.distances.at_least(job.first, job.last) or 0) + job.lengths[job.last]
        return sorted(
            (max(begin, low), min(end - shortest, high), end)
            for begin, end in job.within
            for low, high in job.starts
            if max(begin, low) <= min(end - shortest, high)
        )


def _wished(core: Core, number: int) -> dict[int, int]:
    """The person of each use that a wish settles: those where the activity offers a single use."""
    return {uses[0][1]: person for uses, person in core.served_by if len(uses) == 1 and uses[0][0] == number}


def _wished_in_one(core: Core, number: int) -> list[tuple[tuple[int, ...], int]]:
    """Uses of one activity of which one goes to a person who is wished for, and that person."""
    groups = [(uses, person) for uses, person in core.served_by if len(uses) > 1]
    return [(tuple(n for _, n in uses), person) for uses, person in groups if uses[0][0] == number]


def _only_ones_beside(uses: Sequence[Use], n: int) -> set[int]:
    """Rigs that a use leaves alone: another class, wanted at the same time, has no other."""
    use, others = uses[n], list[Use]()
    if use.wants is Wants.RIG:
        others = [o for m, o in enumerate(uses) if m != n and o.wants is Wants.RIG and o.bout == use.bout]
    return {o.choices[0] for o in others if len(o.choices) == 1 and overlaps(use, o)}


class Insertion:
    """One attempt to place a job; `starts` and `given` hold the answer after `run` has returned True."""

    def __init__(self, visitor: Visitor, days: list[Calendar], start: int, latest: int, end: int) -> None:
        self.visitor, self.days, self.latest, self.end = visitor, days, latest, end
        self.job: Job = visitor.job
        count = len(self.job.lengths)
        least = visitor.distances.least if visitor.distances else ()
        self.least = least
        self.low = [start + (least[self.job.first][i] or 0) for i in range(count)]
        self.starts: list[int] = []
        self.given: dict[int, int] = {}

    def run(self) -> bool:
        """Whether the job has found a place."""
        count = len(self.job.lengths)
        for _ in range(MOST_TRIES):
            activity = len(self.starts)
            if activity == count:
                return True
            moment, chosen = self._earliest(activity)
            if moment is None:
                return False
            late = self._too_late(activity, moment)
            if late is None:
                self.starts.append(moment)
                self.given.update(chosen)
                back = self._runs_broken(activity)
                if back is None:
                    continue
            else:
                back = late
            if self.low[self.job.first] > self.latest:
                return False
            self._undo(back)
        return False

    def _undo(self, activity: int) -> None:
        """Takes back that activity and all after it."""
        del self.starts[activity:]
        self.given = {n: r for n, r in self.given.items() if self.visitor.uses[n].first < activity}

    def _too_late(self, activity: int, moment: int) -> int | None:
        """The first activity that must move later if this one starts at `moment`; its bound is raised."""
        back = None
        too_late = activity == self.job.first and moment > self.latest
        if too_late or moment + self.job.lengths[activity] > self.end:
            self.low[self.job.first] = self.latest + 1
            return 0
        for other in range(activity):
            distance = self.least[activity][other]
            if distance is not None and moment + distance > self.starts[other]:
                self.low[other] = max(self.low[other], moment + distance)
                back = other if back is None else back
        return back

    def _bound(self, activity: int) -> int:
        bound = self.low[activity]
        for other, start in enumerate(self.starts):
            distance = self.least[other][activity]
            if distance is not None and start + distance > bound:
                bound = start + distance
        return bound

    def _earliest(self, activity: int) -> tuple[int | None, dict[int, int]]:
        """The earliest moment at which all uses that begin with the activity find somebody, and whom."""
        moment = self._bound(activity)
        while moment < FAR // 2:
            needed = max((self._next(n, moment) for n in self.visitor.starting[activity]), default=moment)
            if needed > moment:
                moment = needed
                continue
            chosen = self._assign(self.visitor.starting[activity], moment, {})
            if chosen is not None:
                return moment, chosen
            moment = self._next_change(activity, moment)
        return None, {}

    def _stretch(self, n: int, moment: int) -> tuple[int, int]:
        """Start and end of a use whose activity starts at `moment`; a run has its least length."""
        use, lengths = self.visitor.uses[n], self.job.lengths
        if use.from_end:
            return moment + lengths[use.first], moment + lengths[use.first] + use.tail
        run = self.least[use.first][use.last] or 0
        return moment - use.lead, moment + run + lengths[use.last] + use.tail

    def _next(self, n: int, moment: int) -> int:
        """The first moment of the activity, from `moment` on, at which somebody is free for the use."""
        start, end = self._stretch(n, moment)
        use = self.visitor.uses[n]
        best = FAR
        for r in self._choices(n):
            if self._shares_bout(use, r):
                return moment
            free = self.days[r].next_free(
                start, end - start, self.visitor.number, watch=use.wants is Wants.WATCH
            )
            if free == start:
                return moment
            best = min(best, free)
        return moment + best - start

    def _next_change(self, activity: int, moment: int) -> int:
        """A later moment at which the assignment may come out otherwise."""
        later = [FAR]
        for n in self.visitor.starting[activity]:
            start, end = self._stretch(n, moment)
            watch = self.visitor.uses[n].wants is Wants.WATCH
            for r in self._choices(n):
                free = self.days[r].next_free(start, end - start, self.visitor.number, watch=watch)
                if free > start:
                    later.append(moment + free - start)
            own = (self.times(m)[1] for m in self.given)
            later += [moment + end - start for end in own if end > start]
        return min(later)

    def _choices(self, n: int) -> Iterator[int]:
        if n in self.visitor.wished:
            yield self.visitor.wished[n]
            return
        settled = {self.given[other] for _, other in self.visitor.partners.get(n, ()) if other in self.given}
        for r in self.visitor.uses[n].choices:
            if r in settled if settled else r not in self.visitor.kept_free[n]:
                yield r

    def _shares_bout(self, use: Use, r: int) -> bool:
        """Whether the resource serves the bout around the use."""
        if use.bout is None or use.tail:
            return False
        return any(
            self.given.get(n) == r
            for n, other in enumerate(self.visitor.uses)
            if other.bout is None and not other.from_end and other.first <= use.bout <= other.last
        )

    def _assign(self, left: list[int], moment: int, taken: dict[int, int]) -> dict[int, int] | None:
        """Somebody for each use, no one twice at once, wishes kept; None where there is no such choice."""
        if not left:
            return taken if self._keeps_wishes(taken) else None
        n, *others = left
        use = self.visitor.uses[n]
        start, end = self._stretch(n, moment)
        at_once = {r for m, r in taken.items() if needs_another(self.visitor.uses[m], use)}
        for r in sorted(self._choices(n), key=lambda r: len(self.visitor.core.resources[r].labels)):
            if r in at_once:
                continue
            watch = use.wants is Wants.WATCH
            free = self._shares_bout(use, r) or self.days[r].is_free(
                start, end, self.visitor.number, watch=watch
            )
            if free and self._clear_of_own(n, r, start, end, taken):
                found = self._assign(others, moment, {**taken, n: r})
                if found is not None:
                    return found
        return None

    def _keeps_wishes(self, taken: dict[int, int]) -> bool:
        """Whether who is wished for serves one of the uses that such a choice settles."""
        return all(
            person in (taken[n] for n in uses)
            for uses, person in self.visitor.wished_in_one
            if uses[0] in taken
        )

    def _clear_of_own(self, n: int, r: int, start: int, end: int, taken: dict[int, int]) -> bool:
        """Whether the same job does not already hold the resource in that time (watches apart)."""
        use = self.visitor.uses[n]
        moment = self._at(n, start)
        for m, other_r in (*self.given.items(), *taken.items()):
            other = self.visitor.uses[m]
            if other_r != r or m == n or Wants.WATCH in (use.wants, other.wants):
                continue
            if holds(other, use):
                continue
            if m in taken:
                other_start, other_end = self._stretch(m, moment)
            else:
                other_start, other_end = self.times(m, use.first, moment)
            if start < other_end and other_start < end:
                return False
        return True

    def _at(self, n: int, start: int) -> int:
        use = self.visitor.uses[n]
        return start - self.job.lengths[use.first] if use.from_end else start + use.lead

    def times(self, n: int, here: int | None = None, moment: int = 0) -> tuple[int, int]:
        """Start and end of a use as placed so far; a run goes on till `here` at least, begun at `moment`."""
        use, lengths = self.visitor.uses[n], self.job.lengths
        begin = self.starts[use.first]
        if use.from_end:
            return begin + lengths[use.first], begin + lengths[use.first] + use.tail
        if use.last < len(self.starts):
            return begin - use.lead, self.starts[use.last] + lengths[use.last] + use.tail
        at, since = (len(self.starts) - 1, self.starts[-1]) if here is None else (here, moment)
        latest = since + (self.least[at][use.last] or 0)
        return begin - use.lead, latest + lengths[use.last] + use.tail

    def _runs_broken(self, activity: int) -> int | None:
        """The first activity of a run whose rig is not free so long; its bound is raised."""
        for n in self.visitor.running[activity]:
            start, end = self.times(n)
            use = self.visitor.uses[n]
            number = self.visitor.number
            if self.days[self.given[n]].is_free(start, end, number):
                continue
            free = {
                r: self.days[r].next_free(start, end - start, number)
                for r in self._choices(n)
                if self._clear_of_own(n, r, start, end, {})
            }
            soonest = min(free, key=free.__getitem__, default=None)
            if soonest is None:
                self.low[self.job.first] = self.latest + 1
                return 0
            if free[soonest] == start and n not in self.visitor.partners:
                self.given[n] = soonest
                continue
            self.low[use.first] = max(self.low[use.first] + 1, free[soonest] + use.lead)
            return use.first
        return None
