"""What has begun on a running day, what still waits, and what a trouble hits: facts, before any choice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime

from planner.clock import Interval, later, seconds_between
from planner.faults import Fault, FaultyInput, Place
from planner.packing.mend.known import known_of
from planner.packing.mend.lacking import lost_before, with_lost
from planner.packing.mend.runs import cut_short, split_before
from planner.packing.mend.standing import Facts, Standing, is_before
from planner.packing.mend.study import off_work
from planner.packing.mend.troubles import Span, Troubles
from planner.packing.problem import key
from planner.schedule.beside_asked import asked_visit, matched
from planner.schedule.model import Activity, PlacedVisit, Schedule
from planner.schedule.rules.case import clock, span_words
from planner.study.model import Study
from planner.timing.plan import VisitPlan


def facts(
    study: Study,
    plans: Mapping[str, VisitPlan],
    schedule: Schedule,
    day: date,
    now: datetime,
    troubles: Troubles,
    away: Sequence[PlacedVisit] = (),
) -> Facts:
    """The day's facts; `away` are visits not held on it. FaultyInput: an end before its own start."""
    standings, frozen = [], []
    known = known_of(schedule)
    for placed in schedule.on(day):
        if placed in away:
            continue
        asked = asked_visit(placed, study)
        plan = plans.get(asked.protocol) if asked else None
        if asked is None or plan is None:
            frozen.append(placed)
            continue
        its = tuple(one for one in known if (one.participant, one.visit) == key(placed))
        here = matched(placed, plan)
        lost = lost_before(plan, here, its)
        if not here or len(here) + len(lost) < len(plan.activities):
            frozen.append(placed)
            continue
        by_index = with_lost(plan, here, lost)
        begun = {i for i, activity in here.items() if is_before(activity.start, now)}
        split = set(split_before(plan, by_index))
        standings.append(Standing(placed, asked, plan, by_index, begun, gone=lost, split=split, known=its))
    _late(standings, schedule, now, troubles)
    _ended(standings, now, troubles)
    _interrupted(standings, now, troubles)
    _waits_for_others(standings)
    off = (*troubles.absent, *off_work(study, day))
    out = (*troubles.out_of_use, *((rig.id, one.start, one.end) for rig in study.rigs for one in rig.out))
    _cut_short(standings, now, out)
    for standing in standings:
        _told_of_rigs_and_people(standing, now, troubles)
    return Facts(day, now, tuple(standings), tuple(frozen), troubles, away=off, out=out)


def visit_meant(schedule: Schedule, participant: str, now: datetime, late_s: int = 0) -> PlacedVisit | None:
    """The visit a trouble speaks of: today's first not begun (if late), else one that runs, else the next."""
    own = sorted(
        (v for v in schedule.visits if v.participant == participant), key=lambda v: v.start.timestamp()
    )
    today = [v for v in own if v.date == now.date()]
    for visit in today:
        if not is_before(later(visit.start, late_s), now):
            return visit
    running = [v for v in today if is_before(now, v.end)]
    ahead = [v for v in own if v.date > now.date()]
    return next(iter((*running, *ahead)), None)


def _late(standings: list[Standing], schedule: Schedule, now: datetime, troubles: Troubles) -> None:
    for participant, minutes in troubles.late.items():
        meant = visit_meant(schedule, participant, now, 60 * minutes)
        for standing in standings:
            if standing.placed is meant and minutes > 0:
                standing.earliest = later(meant.start, 60 * minutes)
                standing.begun.clear()
                standing.is_hit = standing.must_change = True


def _ended(standings: list[Standing], now: datetime, troubles: Troubles) -> None:
    """Real ends; what comes after one that lies ahead, or after its own planned start, waits."""
    for (participant, step), told in troubles.ended.items():
        its = [s for s in standings if s.placed.participant == participant]
        own = next((s for s in its if _of_step(s, step, now)), None)
        if own is None:
            continue
        blocks = _of_step(own, step, now)
        index = _whose_end(own, blocks, now, told)
        activity, last = own.by_index[index], own.by_index[blocks[-1]]
        end = later(activity.end, seconds_between(last.end, told))
        if not is_before(activity.start, end):
            raise FaultyInput([_too_early(participant, step, told, activity, last)])
        if seconds_between(activity.end, end) == 0:
            continue
        own.ends[index] = end
        own.begun.add(index)
        before = (i for i in own.by_index if i < index and i not in own.gone)
        own.begun.update(i for i in before if own.plan.activities[i].inside is None)
        own.is_hit = own.must_change = True
        _inside_of_shorter_bout(own, index, end)
        for i in _after(own, index):
            if is_before(own.by_index[i].start, end) or is_before(now, end):
                _waits(own, i)


def _too_early(participant: str, step: str, end: datetime, runs: Activity, last: Activity) -> Fault:
    planned = f"the plan starts it at {clock(runs.start)}"
    if runs is not last:
        to_come = span_words(seconds_between(runs.end, last.end))
        planned = f"after {runs.manoeuvre}, which runs since {clock(runs.start)}, it has {to_come} more"
    words = f"{participant}/{step} is said to end at {clock(end)}, and {planned}"
    return Fault(Place("--ended"), "ended", words, "Give an end after its start.")


def _of_step(standing: Standing, step: str, now: datetime) -> list[int]:
    """The blocks of the step's occurrence that runs: of the last one begun, else of the first one ahead."""
    own = [
        i
        for i, activity in sorted(standing.by_index.items())
        if activity.step == step and standing.plan.activities[i].inside is None and i not in standing.gone
    ]
    begun = [i for i in own if is_before(standing.by_index[i].start, now)]
    occurrence = {standing.by_index[i].at_s for i in (begun[-1:] or own[:1])}
    return [i for i in own if standing.by_index[i].at_s in occurrence]


def _whose_end(standing: Standing, blocks: Sequence[int], now: datetime, end: datetime) -> int:
    """The block that makes a step end when it does: the one that runs, where the end lies ahead.

    Those after it have not begun, and take as long as they were to.
    """
    begun = [i for i in blocks if is_before(standing.by_index[i].start, now)]
    return begun[-1] if begun and is_before(now, end) else blocks[-1]


def _inside_of_shorter_bout(standing: Standing, bout: int, end: datetime) -> None:
    """Blocks that a bout which ended early did not reach cannot happen."""
    for i, activity in standing.by_index.items():
        if standing.plan.activities[i].inside == bout and is_before(end, activity.end):
            standing.gone.add(i)
            standing.begun.discard(i)


def _after(standing: Standing, index: int) -> Iterator[int]:
    """What follows an activity on the participant's way, blocks inside it apart."""
    for i in sorted(standing.by_index):
        if i > index and standing.plan.activities[i].inside != index:
            yield i


def _waits(standing: Standing, index: int) -> None:
    """This activity, what lies inside it and all that follows have not begun."""
    for i in standing.by_index:
        if i >= index:
            standing.begun.discard(i)


def _interrupted(standings: Sequence[Standing], now: datetime, troubles: Troubles) -> None:
    """What runs on a rig when it fails is broken off and done again, with what lies inside it."""
    for rig, start, end in troubles.out_of_use:
        out = Interval(max(start, now, key=datetime.timestamp), end)
        for standing in standings:
            for i in sorted(standing.begun):
                runs = Interval(standing.by_index[i].start, standing.end(i))
                if rig in standing.by_index[i].rigs and i not in standing.ends and runs.meets(out):
                    standing.is_hit = standing.must_change = standing.is_broken_off = True
                    _waits(standing, i)
                    break


def _cut_short(standings: Sequence[Standing], now: datetime, out: Sequence[Span]) -> None:
    """Runs of blocks that cannot go on to their end on the rig that they began on."""
    for standing in standings:
        if found := cut_short(standing, out, now):
            standing.split.update(found)
            standing.is_hit = standing.must_change = True


def _waits_for_others(standings: Sequence[Standing]) -> None:
    """What the plan began meanwhile on a rig, or with a person, that a longer step still kept, waits too."""
    moved = True
    while moved:
        moved = False
        for standing in standings:
            for i, end in standing.ends.items():
                kept = kept_longer(standing, i, end)
                for other in standings:
                    for j in sorted(other.begun):
                        if other is not standing and _collides(other, j, kept):
                            _waits(other, j)
                            other.is_hit = other.must_change = moved = True


def kept_longer(standing: Standing, index: int, end: datetime) -> list[tuple[str, Interval]]:
    """The rigs and people that an activity has up to its real end and after it, each from when it does.

    Who clears or stays afterwards is there from the end that was planned, and may do something else before.
    """
    activity, planned = standing.by_index[index], standing.plan.activities[index]
    freed = later(end, seconds_between(activity.end, activity.rig_free))
    clearing = planned.clear.staff if planned.clear else ()
    found = [(rig, Interval(activity.start, freed)) for rig in activity.rigs]
    for role, person in activity.staff.items():
        found.append((person, Interval(activity.start, freed if role in clearing else end)))
    found += [(person, Interval(activity.end, freed)) for person in activity.clear_staff.values()]
    if activity.watch and planned.watch:
        until = later(end, planned.watch.for_s)
        found += [(person, Interval(activity.end, until)) for person in activity.watch.staff.values()]
    return found


def _collides(standing: Standing, index: int, kept: Sequence[tuple[str, Interval]]) -> bool:
    activity = standing.by_index[index]
    names = (*activity.rigs, *activity.staff.values())
    return any(
        name in names and not is_before(activity.start, span.start) and is_before(activity.start, span.end)
        for name, span in kept
    )


def _told_of_rigs_and_people(standing: Standing, now: datetime, troubles: Troubles) -> None:
    """Whether something still to come has a rig or person that will not be there."""
    for name, start, end in (*troubles.out_of_use, *troubles.absent):
        span = Interval(max(start, now, key=datetime.timestamp), end)
        if not is_before(span.start, span.end):
            continue
        for i in standing.by_index:
            for one, busy, is_to_come in _times(standing, i, now):
                if one == name and busy.meets(span):
                    standing.is_hit = True
                    standing.must_change = standing.must_change or is_to_come


def _times(standing: Standing, index: int, now: datetime) -> Iterator[tuple[str, Interval, bool]]:
    """Each rig and person of an activity with the time they are taken, and whether that is to come yet."""
    activity, is_to_come = standing.by_index[index], index not in standing.begun
    for rig in activity.rigs:
        yield rig, Interval(activity.start, activity.rig_free), is_to_come
    for person in activity.staff.values():
        yield person, Interval(activity.start, activity.end), is_to_come
    for person, after in afterwards(standing, index):
        yield person, after, is_to_come or not is_before(standing.end(index), now)


def afterwards(standing: Standing, index: int) -> Iterator[tuple[str, Interval]]:
    """Who clears and who stays after an activity, others than those who serve it, with the time for it."""
    activity, end = standing.by_index[index], standing.end(index)
    for person in activity.clear_staff.values():
        yield person, Interval(end, later(end, seconds_between(activity.end, activity.rig_free)))
    if activity.watch:
        until = later(end, seconds_between(activity.end, activity.watch.end))
        yield from ((person, Interval(end, until)) for person in activity.watch.staff.values())
