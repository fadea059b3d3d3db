"""What no plan can beat: visits a day, places in the study, the earliest last day.

Every bound holds for the laboratory itself, whatever the order of the visits: person-seconds and
rig-seconds of a day, each participant's own days, and a flow of visits into days.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from functools import lru_cache

from planner.clock import Interval, without
from planner.packing.bounds.chains import chain_reach, lowest_bit, most_by_flow
from planner.packing.bounds.limits import Limit, least_length_s, person_seconds, rig_seconds, role_sets
from planner.packing.bounds.watching import beyond_seconds
from planner.packing.bounds.wished import wished_days
from planner.packing.hours import Hours, number_of
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan


class Bounds:
    """The bounds of one study; what each day has is computed once."""

    def __init__(self, study: Study, plans: Mapping[str, VisitPlan]) -> None:
        self.study = study
        self.plans = {name: plans[name] for name in sorted({v.protocol for v in _asked(study)})}
        self.days = tuple(sorted(study.open))
        self._sets = role_sets(study)
        self._people_need = {
            (name, roles): person_seconds(plan, roles)
            for name, plan in self.plans.items()
            for roles in self._sets
        }
        self._rig_need = {name: rig_seconds(plan) for name, plan in self.plans.items()}
        self._least_s = {name: least_length_s(plan) for name, plan in self.plans.items()}
        self._supplies: dict[date, dict[tuple[str, frozenset[str]], int]] = {}
        self._rooms: dict[date, int] = {}
        self._days_known: dict[Visit, int] = {}
        self.hours = Hours(study)
        self._count = len(list(_asked(study)))

    def supply(self, day: date) -> Mapping[tuple[str, frozenset[str]], int]:
        """What a day has: (`people`, roles) and (`rigs`, one class) to seconds."""
        if day not in self._supplies:
            hours = self.study.open.get(day, ())
            has: dict[tuple[str, frozenset[str]], int] = {}
            for roles in self._sets:
                people = [p for p in self.study.people if roles.intersection(p.roles)]
                to_watch = _longer(hours, max(beyond_seconds(plan, roles) for plan in self.plans.values()))
                has["people", roles] = sum(_length_s(_within(p.works.get(day, ()), to_watch)) for p in people)
            for rig_class in {c for needs in self._rig_need.values() for c in needs}:
                rigs = [rig for rig in self.study.rigs if rig_class in rig.classes]
                has["rigs", frozenset([rig_class])] = sum(_length_s(without(hours, rig.out)) for rig in rigs)
            self._supplies[day] = has
        return self._supplies[day]

    def need(self, protocol: str, what: tuple[str, frozenset[str]]) -> int:
        """What one visit of that protocol takes of it, in seconds."""
        if what[0] == "people":
            return self._people_need[protocol, what[1]]
        (rig_class,) = what[1]
        return self._rig_need[protocol].get(rig_class, 0)

    def limits(self, protocol: str, day: date) -> tuple[Limit, ...]:
        """All limits of a day that holds visits of that protocol alone, the tightest first."""
        found = [
            Limit(self._name(what), "person" if what[0] == "people" else "rig", need, has)
            for what, has in self.supply(day).items()
            if (need := self.need(protocol, what))
        ]
        return tuple(sorted(found, key=lambda limit: (limit.visits, -limit.takes_s, limit.what)))

    def _name(self, what: tuple[str, frozenset[str]]) -> str:
        names = ", ".join(sorted(what[1]))
        if what[0] == "rigs":
            return f"rigs of class {names}"
        return f"people who can be {' or '.join(sorted(what[1]))}"

    def most(self, protocol: str, day: date) -> int:
        """At most so many visits of that protocol on that day, if it held nothing else."""
        limits = self.limits(protocol, day)
        count = limits[0].visits if limits else self._count
        cap = self.study.at_most_visits_a_day
        return count if cap is None else min(count, cap)

    def most_of_any(self, day: date, protocols: Iterable[str]) -> int:
        """At most so many visits of these protocols together on that day."""
        names = sorted(set(protocols))
        counts = [self._count]
        for what, has in self.supply(day).items():
            least = min((self.need(name, what) for name in names), default=0)
            if least:
                counts.append(has // least)
        if self.study.at_most_visits_a_day is not None:
            counts.append(self.study.at_most_visits_a_day)
        return min(counts)

    def reach(self, visits: Sequence[Visit], end: int) -> tuple[int, ...] | None:
        """The days that each visit of one participant may take by day `end`; None where there is no chain."""
        masks = tuple(self._days(visit) for visit in visits)
        return _chain(masks, self.spans(visits), end)

    def spans(self, visits: Sequence[Visit]) -> tuple[tuple[int, int | None], ...]:
        """For each visit of one participant, the least and greatest number of days since the one before it.

        Two visits may come on one day where nothing forbids it and the hours of some day hold both.
        """
        found: list[tuple[int, int | None]] = []
        for before, visit in zip((None, *visits), visits, strict=False):
            least = visit.gap.at_least if visit.gap else 0
            if not least and before and not self._may_share_a_day(before, visit):
                least = 1
            found.append((least, visit.gap.at_most if visit.gap else None))
        return tuple(found)

    def _may_share_a_day(self, before: Visit, after: Visit) -> bool:
        lengths = self._least_s[before.protocol], self._least_s[after.protocol]
        return self.hours.may_share_a_day(before, after, *lengths)

    def _days(self, visit: Visit) -> int:
        if visit not in self._days_known:
            self._days_known[visit] = self._days_of(visit)
        return self._days_known[visit]

    def _days_of(self, visit: Visit) -> int:
        mask = self.hours.possible_days(visit, self._least_s[visit.protocol])
        wishes = self.hours.wishes(visit)
        if not any(wish.rig or wish.person for wish in wishes):
            return mask
        return mask & wished_days(self.study, self.plans[visit.protocol], wishes)

    def least_last_day(self, most: int | None = None) -> int:
        """No plan that places every visit, at most `most` a day, ends before this calendar day (from 0)."""
        last = (self.study.last_day - self.study.first_day).days
        own = max((self._own_end(visits, last) for visits in self.study.asked.values() if visits), default=0)
        low, high = own, last
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if self.fits_by(middle, most) else (middle + 1, high)
        return low

    def _own_end(self, visits: Sequence[Visit], last: int) -> int:
        reached = self.reach(visits, last)
        return last if reached is None else lowest_bit(reached[-1])

    def fits_by(self, end: int, most: int | None = None) -> bool:
        """False where it is sure that not every visit fits by that calendar day, at most `most` a day."""
        rooms = {day: room if most is None else min(room, most) for day, room in self.rooms(end).items()}
        if self._count > sum(rooms.values()):
            return False
        allowed: list[int] = []
        for visits in self.study.asked.values():
            reached = self.reach(visits, end)
            if reached is None:
                return False
            allowed += reached
        return self._supply_lasts(end) and most_by_flow(allowed, rooms) == len(allowed)

    def rooms(self, end: int) -> dict[int, int]:
        """By calendar day up to `end`, at most so many visits of any kind."""
        days = [day for day in self.days if number_of(day, self.study) <= end]
        return {number_of(day, self.study): self.room(day) for day in days}

    def room(self, day: date) -> int:
        """At most so many visits on that day, of whatever kind."""
        if day not in self._rooms:
            self._rooms[day] = self.most_of_any(day, self.plans)
        return self._rooms[day]

    def lower_room(self, day: date, most: int) -> None:
        """Take in that a solver has proven that no more than `most` visits fit on that day."""
        self._rooms[day] = min(self.room(day), most)

    def _supply_lasts(self, end: int) -> bool:
        days = [day for day in self.days if number_of(day, self.study) <= end]
        for what in self.supply(self.days[0]) if self.days else ():
            needed = sum(self.need(visit.protocol, what) for visit in _asked(self.study))
            if needed > sum(self.supply(day)[what] for day in days):
                return False
        return True

    def most_placed(self) -> int:
        """No plan places more visits than this: days and rooms allow it, and who finds no chain lacks one."""
        last = (self.study.last_day - self.study.first_day).days
        allowed: list[int] = []
        most = 0
        for visits in filter(None, self.study.asked.values()):
            reached = self.reach(visits, last)
            allowed += reached or tuple(mask for visit in visits if (mask := self._days(visit)))
            most += len(visits) - (reached is None)
        return min(most, most_by_flow(allowed, self.rooms(last)))


@lru_cache(maxsize=4096)
def _chain(
    masks: tuple[int, ...], spans: tuple[tuple[int, int | None], ...], end: int
) -> tuple[int, ...] | None:
    """Many participants have the same days and gaps."""
    return chain_reach(masks, spans, end)


def _asked(study: Study) -> Iterator[Visit]:
    return (visit for visits in study.asked.values() for visit in visits)


def _within(some: Sequence[Interval], hours: Sequence[Interval]) -> list[Interval]:
    return [Interval(max(a.start, b.start), min(a.end, b.end)) for a in some for b in hours if a.meets(b)]


def _longer(hours: Sequence[Interval], by_s: int) -> list[Interval]:
    """Opening hours with so much after each end, when a watch may still go on; no moment twice."""
    found: list[Interval] = []
    for one in sorted(hours):
        end = one.end + timedelta(seconds=by_s)
        if found and one.start <= found[-1].end:
            found[-1] = Interval(found[-1].start, max(end, found[-1].end))
        else:
            found.append(Interval(one.start, end))
    return found


def _length_s(intervals: Iterable[Interval]) -> int:
    return sum(interval.length_s for interval in intervals)
