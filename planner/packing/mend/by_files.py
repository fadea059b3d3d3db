"""What the study's files, as they stand now, no longer allow of what a plan has still to come.

An absence, an outage or a shift that was written since the plan was made is heard like one that is told; a
visit that may not be when it is moves, and one that nobody asks for any more leaves the plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from planner.clock import Interval, without
from planner.packing.head import cannot_stay
from planner.packing.mend.day import MendedDay
from planner.packing.mend.standing import Facts
from planner.packing.mend.study import whole_day
from planner.packing.mend.troubles import Span, Troubles
from planner.packing.problem import VisitKey, key
from planner.schedule.beside_asked import asked_visit
from planner.schedule.model import PlacedVisit, Schedule
from planner.schedule.rules.busy import Busy, people_times, rig_times
from planner.schedule.rules.case import case_of
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.timing.plan import VisitPlan

OF_ITS_DAY = ("open-day", "days-between", "visit-order", "visits-a-day", "fixed-date")
NOT_ASKED = "the study asks for no such visit any more"


@dataclass(frozen=True)
class ByFiles:
    """What is to be mended for the files' sake; nothing by default.

    `out_of_use` and `absent` are as in `Troubles`, of those rigs and people only whom something to come needs
    then. `hit` are visits to come that cannot stay as they are, with their dates; of those, `off` cannot be
    on their day at all: each with the reason. `closed` are days to come of the plan that are not open.
    """

    out_of_use: tuple[Span, ...] = ()
    absent: tuple[Span, ...] = ()
    hit: Mapping[VisitKey, date] = field(default_factory=dict)
    off: Mapping[VisitKey, str] = field(default_factory=dict)
    closed: frozenset[date] = frozenset()

    def beside(self, told: Troubles) -> Troubles:
        """These troubles and what was told."""
        out, absent = (*told.out_of_use, *self.out_of_use), (*told.absent, *self.absent)
        return replace(told, out_of_use=tuple(dict.fromkeys(out)), absent=tuple(dict.fromkeys(absent)))

    @property
    def days(self) -> set[date]:
        """The dates of all that is hit and may stay on its day."""
        spans = (*self.out_of_use, *self.absent)
        return {day for one, day in self.hit.items() if one not in self.off} | {
            start.date() for _, start, _ in spans
        }

    def mark(self, known: Facts) -> None:
        """Says in the facts of a day which visits must change."""
        for standing in known.standings:
            if key(standing.placed) in self.hit:
                standing.is_hit = standing.must_change = True

    def bounded(self, day: date, mended: MendedDay) -> MendedDay:
        """The day without bounds, where somebody has to move on another day too.

        What is proven of one of these days holds for what was chosen on the others only.
        """
        own = {who for (who, _), on in self.hit.items() if on == day}
        others = {who for (who, _), on in self.hit.items() if on != day}
        if not own & others or mended.bounds is None:
            return mended
        return replace(mended, bounds=dict.fromkeys(mended.bounds, 0))


def by_files(study: Study, plans: Mapping[str, VisitPlan], schedule: Schedule, now: datetime) -> ByFiles:
    """What the files do not allow of the plan from `now` on; what is over or has begun is no matter."""
    broken = verify(schedule, study, plans).broken
    if not broken:
        return ByFiles()
    to_come = [v for v in schedule.visits if v.start.timestamp() >= now.timestamp()]
    refused = cannot_stay(schedule, study, plans)
    hit = {key(visit): visit.date for visit in to_come if key(visit) in refused}
    off = {key(visit): NOT_ASKED for visit in to_come if asked_visit(visit, study) is None}
    for one in broken:
        of = (one.participant or "", one.visit or "")
        if one.rule in OF_ITS_DAY and of in hit:
            off.setdefault(of, one.message.split(": ", 1)[-1])
    case = case_of(schedule, study, plans)
    out = _spans(rig_times(case), _rigs_out(study), now, study)
    absent = _spans(people_times(case), _people_away(study), now, study)
    closed = {visit.date for visit in to_come if visit.date > now.date()} - set(study.open)
    return ByFiles(tuple(out), tuple(absent), hit, off, frozenset(closed))


def asked_away(schedule: Schedule, found: ByFiles) -> tuple[PlacedVisit, ...]:
    """The visits that cannot be on their day at all."""
    return tuple(visit for visit in schedule.visits if key(visit) in found.off)


def _rigs_out(study: Study) -> Mapping[str, Iterable[Interval]]:
    return {rig.id: rig.out for rig in study.rigs}


def _people_away(study: Study) -> Mapping[str, Iterable[Interval]]:
    """When each person is not there, on open days: absences as written, then what is off shift."""
    found: dict[str, list[Interval]] = {}
    for person in study.people:
        found[person.id] = list(person.absent)
        for on in study.open:
            left = without((whole_day(study, on),), person.absent)
            found[person.id] += without(left, person.works.get(on, ()))
    return found


def _spans(
    times: Mapping[str, list[Busy]], away: Mapping[str, Iterable[Interval]], now: datetime, study: Study
) -> Iterator[Span]:
    """Each time on one day that a rig or a person is away and something to come needs them; gone: that day.

    What has begun stays: of a rig the time counts from its end.
    """
    for name, its in times.items():
        begun = [one.end for one in its if one.start < now.timestamp() and one.activity is not None]
        since = max([now.timestamp(), *begun])
        for busy in its:
            if busy.end <= now.timestamp() or (busy.start < now.timestamp() and busy.activity):
                continue
            day = datetime.fromtimestamp(busy.start, tz=study.zone).date()
            if day not in study.open:
                continue
            whole = whole_day(study, day)
            for one in away.get(name, (whole,)):
                start = max(one.start, whole.start, key=datetime.timestamp)
                end = min(one.end, whole.end, key=datetime.timestamp)
                first = max(start.timestamp(), since if day == now.date() else 0)
                if first < min(end.timestamp(), busy.end) and busy.start < end.timestamp():
                    yield name, datetime.fromtimestamp(first, tz=study.zone), end
