"""When each visit may be, looked up by day: the study's hours, availability, start rules and wishes."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Mapping
from datetime import date, timedelta

from planner.clock import ClockRange, Interval, at_clock
from planner.study.model import Study, Visit, Wish

Lines = Mapping[date, tuple[Interval, ...]]


def number_of(day: date, study: Study) -> int:
    """Calendar days since the study's first day."""
    return (day - study.first_day).days


def day_of(number: int, study: Study) -> date:
    """The day that many calendar days after the study's first."""
    return study.first_day + timedelta(days=number)


def wishes_of(study: Study, visit: Visit) -> tuple[Wish, ...]:
    """The wishes that name this visit, or all visits of its participant."""
    return tuple(
        w for w in study.wishes if w.participant == visit.participant and w.visit in (None, visit.file_id)
    )


def start_rule(rule: ClockRange, day: date, study: Study) -> Interval:
    """When a visit may start on that day, both ends included."""
    return Interval(at_clock(day, rule.from_, study.zone), at_clock(day, rule.to, study.zone))


class Hours:
    """Answers the same as `Study.may_come`, from an index made once; for studies of many visits.

    Participants who wrote the same lines share them: what follows from these is worked out once.
    """

    def __init__(self, study: Study) -> None:
        self.study = study
        self._lines: dict[tuple[int, str], Lines] = {}
        self._days: dict[Hashable, int] = {}
        self._shared: dict[Hashable, bool] = {}
        self._has_conditions = any(v.condition is not None for vs in study.asked.values() for v in vs)
        self._wished: dict[str, list[Wish]] = {}
        for wish in study.wishes:
            self._wished.setdefault(wish.participant, []).append(wish)

    def wishes(self, visit: Visit) -> tuple[Wish, ...]:
        """The wishes that name this visit, or all visits of its participant."""
        named = self._wished.get(visit.participant, ())
        return tuple(w for w in named if w.visit in (None, visit.file_id))

    def lines(self, visit: Visit) -> Lines:
        """By open day, the intervals one of which must hold the whole visit."""
        written = self.study.available.get(visit.participant)
        if written is None or (written and all(kind not in (None, visit.kind) for _, kind in written)):
            return self.study.open
        known = (id(written), visit.kind)  # they live as long as the study does
        if known not in self._lines:
            self._lines[known] = self._cut(visit)
        return self._lines[known]

    def _cut(self, visit: Visit) -> Lines:
        by_day: dict[date, tuple[Interval, ...]] = {}
        for line, kind in self.study.available[visit.participant]:
            if kind not in (None, visit.kind):
                continue
            day = line.start.date()
            found = tuple(
                Interval(max(line.start, hour.start), min(line.end, hour.end))
                for hour in self.study.open.get(day, ())
                if line.meets(hour)
            )
            if found:
                by_day[day] = by_day.get(day, ()) + found
        return by_day

    def possible_days(self, visit: Visit, least_s: int) -> int:
        """The days on which the visit could be by hours and length alone: bit n stands for calendar day n."""
        wishes = self.wishes(visit)
        wished = {w.date or (w.start.date() if w.start else None) for w in wishes} - {None}
        alike = id(self.lines(visit)), visit.start, frozenset(wished), least_s
        if alike not in self._days:
            self._days[alike] = self._possible(visit, wished, least_s)
        return self._days[alike]

    def _possible(self, visit: Visit, wished: Collection[date | None], least_s: int) -> int:
        mask = 0
        for day, lines in self.lines(visit).items():
            if any(on != day for on in wished):
                continue
            if any(self.holds(visit, day, line, least_s) for line in lines):
                mask |= 1 << number_of(day, self.study)
        return mask

    def holds(self, visit: Visit, day: date, line: Interval, least_s: int) -> bool:
        """Whether a visit of at least that length can start and end inside the interval."""
        first, last = self._starts(visit, day, line, least_s)
        return first <= last

    def _starts(self, visit: Visit, day: date, line: Interval, least_s: int) -> tuple[float, float]:
        """The first and last start inside the interval; there is none where the first is the later one."""
        first, last = line.start.timestamp(), line.end.timestamp() - least_s
        if visit.start and first <= last:
            rule = start_rule(visit.start, day, self.study)
            first, last = max(first, rule.start.timestamp()), min(last, rule.end.timestamp())
        return first, last

    def may_share_a_day(self, before: Visit, after: Visit, before_s: int, after_s: int) -> bool:
        """Whether some day's hours hold two visits of one participant, at least so long, one after the other.

        Of the study's rules the gap between the two and the time of day are looked at as well.
        """
        if after.gap is not None and after.gap.at_least > 0:
            return False
        width = self.study.same_time_of_day_s
        if width is not None and width < before_s and self.is_timed(before) and self.is_timed(after):
            return False
        lines = id(self.lines(before)), id(self.lines(after))
        alike = *lines, before.start, after.start, before_s, after_s
        if alike not in self._shared:
            self._shared[alike] = any(
                self._in_a_row(before, after, day, before_s, after_s) for day in self.lines(before)
            )
        return self._shared[alike]

    def _in_a_row(self, before: Visit, after: Visit, day: date, before_s: int, after_s: int) -> bool:
        first = [self._starts(before, day, line, before_s) for line in self.lines(before)[day]]
        then = [self._starts(after, day, line, after_s) for line in self.lines(after).get(day, ())]
        ends = [start + before_s for start, last in first if start <= last]
        return any(start <= last and min(ends, default=last + 1) <= last for start, last in then)

    def is_timed(self, visit: Visit) -> bool:
        """Whether the visit is held to the time of day of its participant's others: if it has a condition.

        All are, where none has any.
        """
        return visit.condition is not None or not self._has_conditions
