"""Mend a running plan with the fewest changes; what has begun stays."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta

from planner.packing.mend.begun import (
    checks_hit,
    done_twice,
    nobody_takes_over,
    on_failed_rigs,
    who_is_away,
)
from planner.packing.mend.by_files import NOT_ASKED, ByFiles, asked_away, by_files
from planner.packing.mend.claims import Mended, mend_stages, mended_status
from planner.packing.mend.day import MendedDay, mend_day
from planner.packing.mend.dropped import Told, with_reasons
from planner.packing.mend.elsewhere import offer_days
from planner.packing.mend.facts import facts, visit_meant
from planner.packing.mend.gone import CANCELLED, LOST, cannot_come, known_to_lack
from planner.packing.mend.known import dated, known_of, still_known
from planner.packing.mend.over import runs_over
from planner.packing.mend.sooner import with_sooner_first
from planner.packing.mend.standing import Facts
from planner.packing.mend.study import with_troubles
from planner.packing.mend.told_late import told_late
from planner.packing.mend.troubles import Troubles
from planner.packing.problem import VisitKey, key
from planner.packing.progress import Report, Stop
from planner.packing.running import Running
from planner.packing.solve import SOLVER
from planner.schedule.as_it_stands import newcomers, number_asked, still_asked
from planner.schedule.beside_asked import asked_visit
from planner.schedule.change_values import CHANGE_STAGES
from planner.schedule.changes import changes
from planner.schedule.model import (
    NotPlaced,
    Outcome,
    PlacedVisit,
    Reason,
    RigTask,
    Schedule,
)
from planner.schedule.not_mended import AS_IT_WAS, is_not_mended, not_mended
from planner.schedule.time_ended import is_time_ended, time_ended_on
from planner.schedule.verify import verify
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

SHARE_OF_DAY = 0.75  # of the time, for the running day; the rest is for other days


def repack(
    study: Study,
    plans: Mapping[str, VisitPlan],
    schedule: Schedule,
    *,
    now: datetime,
    troubles: Troubles,
    seconds: float = 20,
    progress: Report | None = None,
    stop: Stop | None = None,
    heeds_files: bool = False,
) -> Schedule:
    """The plan's next version, which holds with these troubles and differs from it least.

    What the plan starts before `now` has begun and stays exactly, save what waits for something that
    has not ended. Lost visits come first, then missed windows, participants touched, blocks changed
    and seconds moved, each as few as can be and with its bound in `stages`. What can no longer be kept
    is named in `changes`; with nothing wrong the visits are the same. `progress` hears of each better
    day, `stop` is asked now and then and keeps the best. Raises FaultyInput where a trouble contradicts
    the plan, as an end before its start. Visits that are asked for and of which the plan says nothing (of
    somebody who replaces another) are placed on their first day that takes them. `heeds_files`: what the
    files no longer allow of what is still to come is mended like a trouble.
    """
    began = time.monotonic()
    files = by_files(study, plans, schedule, now) if heeds_files else ByFiles()
    mender = _Mender(study, plans, schedule, now, troubles, files, progress, stop)
    mender.mend(began, seconds)
    return mender.schedule()


class _Mender:
    """The plan in the making, day by day."""

    def __init__(
        self,
        study: Study,
        plans: Mapping[str, VisitPlan],
        schedule: Schedule,
        now: datetime,
        troubles: Troubles,
        files: ByFiles,
        progress: Report | None,
        stop: Stop | None,
    ) -> None:
        self.progress, self.stop = progress, stop
        self.study, self.plans, self.before = study, plans, schedule
        self.now, self.told, self.troubles, self.files = now, troubles, files.beside(troubles), files
        self.away = list(self._away())
        self.away += (one for one in asked_away(schedule, files) if one not in self.away)
        tasks: dict[date, tuple[RigTask, ...]] = {}
        for task in (one for one in schedule.rig_tasks if one.start.date() not in files.closed):
            tasks[task.start.date()] = (*tasks.get(task.start.date(), ()), task)
        visits = {key(v): v for v in schedule.visits if v not in self.away and key(v) not in files.hit}
        self.running = Running(with_troubles(study, now, self.troubles), plans, visits, tasks)
        self.days: dict[date, MendedDay] = {}
        self.left: list[NotPlaced] = []
        self.why_lost: dict[VisitKey, str] = {}
        self.reasons: list[Reason] = []

    def _away(self) -> Iterator[PlacedVisit]:
        """The visit that is meant of each who is cancelled; of whom the study knows no more, all to come."""
        for participant in dict.fromkeys(self.troubles.cancelled):
            meant = visit_meant(self.before, participant, self.now)
            is_gone = participant not in self.study.asked
            for visit in (one for one in self.before.visits if one.participant == participant):
                if visit is meant or (is_gone and visit.start.timestamp() >= self.now.timestamp()):
                    yield visit

    def mend(self, began: float, seconds: float) -> None:
        """Each day with a trouble, then other days for what lost its place."""
        lost: list[tuple[Visit, date, str]] = []
        for visit in self.away:
            if (asked := asked_visit(visit, self.study)) is not None:
                why = self.files.off.get(key(visit), f"{CANCELLED} {visit.date}")
                lost.append((asked, visit.date, why))
            elif visit.participant in self.told.cancelled:
                self.why_lost[key(visit)] = f"cancelled, and {NOT_ASKED}"
            else:
                self.why_lost[key(visit)] = NOT_ASKED
        days = list(self._days())
        for number, day in enumerate(days, start=1):
            known = facts(self.study, self.plans, self.before, day, self.now, self.troubles, self.away)
            self.reasons += (*who_is_away(known), *on_failed_rigs(known))
            self.files.mark(known)
            tasks = self.running.tasks.get(day, ())
            self.reasons += told_late(known, tasks)
            mended = mend_day(
                self.running,
                known,
                tasks,
                began + SHARE_OF_DAY * seconds * number / len(days),
                self.progress,
                self.stop,
            )
            mended = self._with_what_runs_over(known, mended)
            self._take(day, mended)
            self.reasons += [time_ended_on(day)] * mended.is_cut_short
            self.reasons += nobody_takes_over(known, mended.visits)
            self.reasons += done_twice(known, mended.visits)
            self.reasons += checks_hit(known, tasks, mended.tasks)
            lost += [(visit, day, _why_lost(day, mended)) for visit in mended.lost]
        lost += [
            (visit, self.now.date(), "not in the plan yet") for visit in newcomers(self.before, self.study)
        ]
        self.why_lost.update({key(visit): why for visit, _, why in lost})
        self._offer_all(lost, began + seconds)

    def _with_what_runs_over(self, known: Facts, mended: MendedDay) -> MendedDay:
        """The day with word of what has begun and lasts into hours that the study's files do not give."""
        over = runs_over(self.before, mended.visits, known, mended.looked_at, self.study, self.plans)
        return replace(mended, named=(*mended.named, *over))

    def _offer_all(self, lost: list[tuple[Visit, date, str]], until: float) -> None:
        """Another day for each, a participant's visits in the order in which they come."""
        people = list(dict.fromkeys(visit.participant for visit, _, _ in lost))
        asked = self.study.asked
        lost = sorted(
            lost, key=lambda one: (people.index(one[0].participant), asked[one[0].participant].index(one[0]))
        )
        names = {key(visit) for visit, _, _ in lost}
        for visit, day, why in lost:
            if (earlier := self._lacking(visit, names)) is not None:
                words = f"{why}; {earlier.file_id}, which comes before it, has no place"
                self.left.append(NotPlaced(visit.participant, visit.file_id, words))
            else:
                self._offer(visit, max(day, self.now.date()), why, until)

    def _lacking(self, visit: Visit, lost: set[VisitKey]) -> Visit | None:
        """The visit without a place that this one was to follow.

        Where it lost its place in an earlier mend, those after it that were told already may be moved.
        """
        own = self.study.asked[visit.participant]
        told = {key(one) for one in self.before.visits}
        for earlier in own[: own.index(visit)]:
            if key(earlier) not in self.running.visits and (key(earlier) in lost or key(visit) not in told):
                return earlier
        return None

    def _days(self) -> Iterator[date]:
        """Dates from today on that a trouble, or what the files no longer allow, speaks of; with visits."""
        told = set(self.files.days) if self.told.are_none else {self.now.date(), *self.files.days}
        for participant in {*self.troubles.late, *(who for who, _ in self.troubles.ended)}:
            if (visit := visit_meant(self.before, participant, self.now)) is not None:
                told.add(visit.date)
        for _, start, end in (*self.told.out_of_use, *self.told.absent):
            span = (end.date() - start.date()).days
            told |= {start.date() + timedelta(days=n) for n in range(min(span, 3660) + 1)}
        yield from (day for day in self.before.dates if day in told and day >= self.now.date())

    def _take(self, day: date, mended: MendedDay) -> None:
        for visit in [v for v in self.running.visits.values() if v.date == day]:
            del self.running.visits[key(visit)]
        self.running.visits.update({key(visit): visit for visit in mended.visits})
        self.running.tasks[day] = mended.tasks
        self.days[day] = self.files.bounded(day, mended)
        if not mended.is_mended:
            words = f"no way was found to mend {day} with these troubles: it {AS_IT_WAS} planned"
            self.reasons.append(Reason(words))

    def _offer(self, visit: Visit, after: date, why: str, until: float) -> None:
        found = offer_days(self.running, visit, after, why, until, self.stop)
        self.running.visits.update({key(placed): placed for placed in found.visits})
        for task in found.tasks:
            on = task.start.date()
            self.running.tasks[on] = (*self.running.tasks.get(on, ()), task)
        self.left += found.not_placed

    def schedule(self) -> Schedule:
        """The mended plan with its changes, after the judge has looked at it."""
        visits = sorted(self.running.visits.values(), key=lambda v: (v.start.timestamp(), v.participant))
        tasks = [task for day in sorted(self.running.tasks) for task in self.running.tasks[day]]
        same = set(map(id, visits)) == set(map(id, self.before.visits)) and not self.left
        made = replace(
            self.before,
            version=self.before.version + 1,
            replaces=self.before.version,
            made=self.now,
            visits=self.before.visits if same else tuple(visits),
            rig_tasks=tuple(tasks),
            not_placed=(*still_asked(self.before.not_placed, self.study), *self.left),
            reasons=tuple(self.reasons or self._reasons_before()),
            solver=SOLVER,
        )
        is_asked_anew = self._is_asked_anew()
        if is_asked_anew:
            made = replace(made, asked=number_asked(made, self.study), fingerprint=self.study.fingerprint)
        told = Told(self.before, self.troubles, self.now, self.why_lost)
        found = with_sooner_first(with_reasons(changes(self.before, made), told), self.before, made)
        named = [change for day in self.days.values() for change in day.named]
        known = known_of(self.before)
        anew = {one for day in self.days.values() for one in day.looked_at}
        still = tuple(still_known(known, named, anew, made.visits))
        made = replace(made, changes=(*still, *found, *dated(named, known)))
        if found or named:
            made = self._staged(made)
        elif _is_mended(self.before):  # its stages speak of changes that are not this plan's
            made = self._staged(made, mended=is_asked_anew)
        made = self._judged(made)
        is_claimed = made.status is Outcome.OPTIMAL and not_mended(made)
        return replace(made, status=Outcome.FEASIBLE) if is_claimed else made

    def _is_asked_anew(self) -> bool:
        """Whether the study asks for other visits by now than those that the plan before speaks of.

        What nobody asks for any more counts once it has left the plan; so does what the files forbade.
        """
        if any(True for _ in newcomers(self.before, self.study)):
            return True
        if self.files != ByFiles():
            return True
        is_named_less = len(still_asked(self.before.not_placed, self.study)) < len(self.before.not_placed)
        return is_named_less or any(asked_visit(visit, self.study) is None for visit in self.away)

    def _reasons_before(self) -> Iterator[Reason]:
        """What the plan before gives as reasons; how its own mend went is over."""
        yield from (one for one in self.before.reasons if not is_not_mended(one) and not is_time_ended(one))

    def _staged(self, made: Schedule, *, mended: bool = True) -> Schedule:
        """With the stages of a mended plan, and how sure they are; not `mended`: no day was changed."""
        days, away = (tuple(self.days.values()), tuple(self.away)) if mended else ((), ())
        today = self.now.date()
        lacking = (
            cannot_come(self.before, self.running, away, self.days, today)
            if mended
            else known_to_lack(self.before)
        )
        stages = mend_stages(Mended(self.before, made, days, away, lacking), self.study)
        return replace(made, status=mended_status(made, stages), stages=stages)

    def _judged(self, made: Schedule) -> Schedule:
        """The plan, if it breaks no rule that the plan before kept; else that one again, and why."""
        broken = verify(made, self.study, self.plans).broken
        if broken:  # the plan before is judged only where it matters: a large study takes seconds
            known = verify(self.before, self.study, self.plans).broken
            before = {(b.rule, b.participant, b.visit) for b in known}
            broken = tuple(b for b in broken if (b.rule, b.participant, b.visit) not in before)
        if not broken:
            return made
        words = "; ".join(one.message for one in broken[:5])
        reason = Reason(f"the mended plan was refused, and the plan {AS_IT_WAS}: {words}")
        stands = replace(
            self.before,
            version=made.version,
            replaces=made.replaces,
            made=self.now,
            reasons=(reason, *self._reasons_before()),
            changes=known_of(self.before),
        )
        return self._staged(stands, mended=False) if _is_mended(self.before) else stands


def _why_lost(day: date, mended: MendedDay) -> str:
    """What is known of a visit left out: "no place" only where no plan of the day loses fewer visits."""
    values, bounds = mended.values or {}, mended.bounds or {}
    if values and values[LOST] == bounds[LOST]:
        return f"it has no place left on {day}"
    return f"no place was found for it on {day} in the time; with more seconds one may be found"


def _is_mended(schedule: Schedule) -> bool:
    return any(stage.name in CHANGE_STAGES for stage in schedule.stages)
