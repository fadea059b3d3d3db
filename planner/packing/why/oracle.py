"""Cheap proofs that visits cannot all be placed: in a row over days, counted, together on a day.

A `Proof` names what kind of impossibility was proven, and of whom; the same proof is asked again of
changed cases, to find out which demands it rests on. What cannot be proven is never called impossible.
"""

from __future__ import annotations

import time
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from itertools import islice

from planner.clock import Interval
from planner.packing.bounds.chains import chain_reach
from planner.packing.bounds.spans import is_overfull
from planner.packing.bounds.study_bounds import Bounds
from planner.packing.day import pack_day
from planner.packing.days.comers import MOST
from planner.packing.hours import Hours, number_of
from planner.packing.problem import DayProblem
from planner.packing.why import tried
from planner.packing.why.alone import fits_alone, is_refuted, what_decides
from planner.packing.why.case import Case
from planner.packing.why.oracle_kept import only_one_of_each
from planner.schedule.model import Outcome
from planner.study.model import Study, Visit

FEW = 4  # visits about which the solver is asked at once, without a first plan by other means
DAY_TRY_S = 1.0  # for one question whether visits fit together on one day


class Kind(StrEnum):
    """Which cheap proof it was."""

    ROW = "in a row"  # one participant's visits, each possible only on some days
    COUNT = "counted"  # staff minutes, device minutes, visits a day
    TOGETHER = "together"  # these visits on this one day


@dataclass(frozen=True)
class Proof:
    """These participants' visits cannot all be placed; `day` where it is about one day.

    `no_day`: the file_ids of visits that have no day at all, each by itself; it rests on the first.
    """

    kind: Kind
    participants: tuple[str, ...]
    day: date | None = None
    no_day: tuple[str, ...] = ()

    @property
    def visit(self) -> str | None:
        """The one visit that it rests on; None: on all that these participants have."""
        return self.no_day[0] if self.no_day else None


@dataclass(frozen=True)
class _Row:
    """Visits in a row, the days from each one's predecessor, and the last day counted from the first."""

    visits: tuple[Visit, ...]
    spans: list[tuple[int, int | None]]
    end: int


class Oracle:
    """Asks and remembers; `until` is on the monotonic clock, afterwards nothing is proven any more."""

    def __init__(self, until: float) -> None:
        self.until = until
        self._alone: dict[Hashable, bool] = {}

    @property
    def is_over(self) -> bool:
        """Whether time is up."""
        return time.monotonic() >= self.until

    def holds(self, proof: Proof, case: Case) -> bool:
        """Whether the same impossibility is proven of that case too."""
        if self.is_over:
            return False
        if proof.kind is Kind.ROW:
            return self.row_is_impossible(case, proof.participants[0], proof.visit)
        if proof.kind is Kind.COUNT:
            return self.count_is_impossible(case)
        assert proof.day is not None
        return self.day_is_impossible(case, proof.participants, proof.day)

    def without_a_day(self, case: Case, participant: str) -> tuple[str, ...]:
        """The visits of the participant that fit on no day at all, even alone, by file_id."""
        hours = Hours(case.study)
        asked = case.study.asked.get(participant, ())
        return tuple(visit.file_id for visit in asked if not self._mask(case, hours, visit))

    def row_is_impossible(self, case: Case, participant: str, only: str | None = None) -> bool:
        """Whether one participant's visits, each alone in the laboratory, find no days in a row.

        `only` asks of that one visit.
        """
        study = case.study
        visits = tuple(v for v in study.asked.get(participant, ()) if only in (None, v.file_id))
        if not visits or not study.open:
            return bool(visits)
        end = (study.last_day - study.first_day).days
        spans = [(v.gap.at_least, v.gap.at_most) if v.gap else (0, None) for v in visits]
        asked = _Row(visits, spans, end)
        if self._finds_no_days(case, asked):
            return True
        return any(all(self._finds_no_days(one, asked) for one in each) for each in only_one_of_each(case))

    def _finds_no_days(self, case: Case, row: _Row) -> bool:
        """Whether the visits find no days in a row, or none at one time of day."""
        hours = Hours(case.study)
        masks = [self._mask(case, hours, visit) for visit in row.visits]
        if chain_reach(masks, row.spans, row.end) is None:
            return True
        return self._clock_is_impossible(case, hours, row, masks)

    def _mask(self, case: Case, hours: Hours, visit: Visit) -> int:
        """The days on which the visit fits alone: bit n stands for calendar day n."""
        wished = {w.date or (w.start.date() if w.start else None) for w in hours.wishes(visit)} - {None}
        mask = 0
        for day, lines in hours.lines(visit).items():
            if not wished - {day} and self._fits_alone(case, hours, visit, day, lines):
                mask |= 1 << number_of(day, case.study)
        return mask

    def _fits_alone(
        self, case: Case, hours: Hours, visit: Visit, day: date, lines: Sequence[Interval]
    ) -> bool:
        least_s = case.plans[visit.protocol].shortest_s
        if not any(hours.holds(visit, day, line, least_s) for line in lines):
            return False
        known = what_decides(case, hours, visit, day, lines)
        if known not in self._alone:
            if self.is_over:
                return True
            self._alone[known] = fits_alone(case, visit, day)
        return self._alone[known]

    def _clock_is_impossible(
        self,
        case: Case,
        hours: Hours,
        row: _Row,
        masks: Sequence[int],
    ) -> bool:
        """Whether no span of the wall clock holds a start of each timed visit on days in a row."""
        width = case.study.same_time_of_day_s
        if width is None:
            return False
        timed_only = any(v.condition is not None for vs in case.study.asked.values() for v in vs)
        timed = [v.condition is not None or not timed_only for v in row.visits]
        starts = [_starts(case, hours, visit) for visit in row.visits]
        firsts = {low for own, is_timed in zip(starts, timed, strict=True) if is_timed for _, low, _ in own}
        for first in firsts:
            held = [
                mask & _days_in(own, first, first + width) if is_timed else mask
                for mask, own, is_timed in zip(masks, starts, timed, strict=True)
            ]
            if chain_reach(held, row.spans, row.end) is not None:
                return False
        return bool(firsts)

    def count_is_impossible(self, case: Case) -> bool:
        """Whether minutes, visits a day or days alone forbid it, whatever the order."""
        return Bounds(case.study, case.plans).most_placed() < len(case.visits)

    def day_is_impossible(self, case: Case, participants: Sequence[str], day: date) -> bool:
        """Whether these participants' visits of that day are proven not to fit together."""
        if day not in case.study.open:
            return True
        visits = tuple(v for p in participants for v in due_on(case.study, p, day))
        if is_overfull(case.study, case.plans, day, visits):
            return True
        if len(visits) > MOST:
            return False  # more than can be searched: never called impossible
        problem = DayProblem(case.study, case.plans, day, visits, must=frozenset(visits))
        left = max(0.05, min(DAY_TRY_S, self.until - time.monotonic()))
        if len(visits) <= FEW:
            return is_refuted(problem, left)
        result = pack_day(problem, seconds=left, stages=("placed",), workers=2)
        return result.status is Outcome.IMPOSSIBLE

    def placed(self, case: Case, *, longer: bool = False) -> int | None:
        """How many visits a short try (or a longer one) places; None where much is asked, or time is up."""
        return None if self.is_over else tried.placed(case, self.until, tried.LONGER if longer else 1)


def due_on(study: Study, participant: str, day: date) -> tuple[Visit, ...]:
    """The participant's visits that can be on that day only."""
    hours = Hours(study)
    return tuple(v for v in study.asked.get(participant, ()) if _due_day(study, hours, v) == day)


def due_by_day(study: Study) -> dict[date, tuple[str, ...]]:
    """By day, the participants with visits that can be on that day only."""
    hours, found = Hours(study), dict[date, dict[str, None]]()
    for participant, visits in study.asked.items():
        for visit in visits:
            if (day := _due_day(study, hours, visit)) is not None:
                found.setdefault(day, {})[participant] = None
    return {day: tuple(found[day]) for day in sorted(found)}


def _due_day(study: Study, hours: Hours, visit: Visit) -> date | None:
    """The only day that a visit can be on: there is no other, it is fixed to it, or can come on no other."""
    if len(study.open) == 1:
        return next(iter(study.open))
    wished = {w.date or (w.start.date() if w.start else None) for w in hours.wishes(visit)} - {None}
    if len(wished) == 1:
        return wished.pop()
    days = islice((day for day, lines in hours.lines(visit).items() if lines), 2)
    only = next(days, None)
    return only if next(days, None) is None else None


def _starts(case: Case, hours: Hours, visit: Visit) -> list[tuple[int, int, int]]:
    """Day number, first and last start by the wall clock, for every interval that could hold the visit."""
    least_s = case.plans[visit.protocol].shortest_s
    found = []
    for day, lines in hours.lines(visit).items():
        for line in lines:
            low, high = _wall_s(line.start), _wall_s(line.end) - least_s
            if visit.start:
                low = max(low, visit.start.from_.hour * 3600 + visit.start.from_.minute * 60)
                high = min(high, visit.start.to.hour * 3600 + visit.start.to.minute * 60)
            if low <= high:
                found.append((number_of(day, case.study), low, high))
    return found


def _days_in(starts: Sequence[tuple[int, int, int]], first: int, last: int) -> int:
    mask = 0
    for number, low, high in starts:
        if low <= last and high >= first:
            mask |= 1 << number
    return mask


def _wall_s(moment: datetime) -> int:
    return moment.hour * 3600 + moment.minute * 60 + moment.second
