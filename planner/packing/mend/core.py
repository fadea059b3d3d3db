"""A running day as a `Core`: what has begun is pinned, the rest may move from now on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import gcd

from planner.clock import Interval, later, seconds_between
from planner.packing.core import Answer, Core, Gap, Job, Resource, Span, Use, Wants
from planner.packing.demands import gaps
from planner.packing.grid import Grid
from planner.packing.mend.afterwards import is_elsewhere, still_to_come
from planner.packing.mend.known import as_missed, known_miss, known_wait
from planner.packing.mend.standing import Facts, Standing
from planner.packing.mend.study import closed_before_checks, from_now
from planner.packing.occupied import occupied
from planner.packing.problem import DayProblem
from planner.packing.running import Running
from planner.packing.translate import translate
from planner.schedule.model import Activity, RigTask
from planner.timing.plan import Link, PlannedActivity, VisitPlan, Why

NOTICE_S = 3600  # that somebody takes who is called sooner than told (common practice, no source)
MAY_GIVE_WAY = (Why.DUE, Why.STARTS_WITHIN)


@dataclass(frozen=True)
class SoftGap:
    """A window that may be missed where it must: distance between two starts of a job, in steps.

    One that `is_known` is missed in the plan before: the distance is as far off as that, and to miss it by
    more makes it later, and no demand more.
    """

    job: int
    gap: Gap
    is_known: bool


@dataclass(frozen=True)
class RunningDay:
    """The day's core, the old plan as an answer, and what may give way where it must.

    `forced` are jobs that cannot stay as they were; `stretch[j]` is the longest that the visit should
    last, in steps: one of `waiting` as long as in the plan before, which names it; `called[j]` is the step
    before which a visit that has not begun should not start: who is told to come sooner than they were must
    have time to. `checks` are first tasks of rigs that cannot stay as they were, by job.
    """

    facts: Facts
    problem: DayProblem
    core: Core
    grid: Grid
    old: Answer
    soft: tuple[SoftGap, ...]
    stretch: Mapping[int, int]
    waiting: frozenset[int]
    forced: frozenset[int]
    called: Mapping[int, int]
    checks: Mapping[int, RigTask]

    def steps(self, moment: datetime) -> int:
        """The step of a moment of the day."""
        return _steps(self.grid, moment)


def running_day(running: Running, facts: Facts, tasks: Sequence[RigTask]) -> RunningDay:
    """The day from its facts; `tasks` are checks of rigs that stay. `running.study` knows the troubles."""
    problem = _problem(running, facts, tasks)
    exact = translate(problem)[1]
    step = gcd(exact.step_s, *_offsets(exact.origin, facts))
    core, grid = translate(problem, step)
    old: list[tuple[int, ...]] = []
    soft: list[SoftGap] = []
    jobs, uses = list(core.jobs), [list(its) for its in core.uses]
    for j, standing in enumerate(facts.standings):
        start = tuple(_steps(grid, _start(standing, i)) for i in range(len(standing.plan.activities)))
        old.append(start)
        soft += _soft(j, standing, problem, grid)
        jobs[j] = _pinned(core.jobs[j], standing, start, grid, facts.now)
        uses[j] = [_kept(use, standing, core, facts) for use in core.uses[j]]
    known = Answer(
        (*old, *[None] * (len(jobs) - len(old))),
        (*(_given(core, j, s) for j, s in enumerate(facts.standings)), *[None] * (len(jobs) - len(old))),
    )
    core = replace(
        core,
        jobs=tuple(_not_before(job, facts.now, grid) for job in jobs),
        uses=tuple(map(tuple, uses)),
        near=(),  # what is late already may not keep to it
    )
    core = replace(
        core, resources=_allowing_begun(core, known, facts.standings, _to_come(problem, grid, facts))
    )
    core = replace(core, horizon=max(core.horizon, *_last_ends(core)))
    waiting = frozenset(j for j, s in enumerate(facts.standings) if known_wait(s))
    stretch = dict(_stretch(facts, running.study.at_most_waiting_s, grid))
    forced = frozenset(j for j, s in enumerate(facts.standings) if s.must_change)
    called = {j: _called(s, grid, facts.now) for j, s in enumerate(facts.standings) if not s.begun}
    checks = dict(_checks(core, facts.unchecked))
    return RunningDay(
        facts, problem, core, grid, known, tuple(soft), stretch, waiting, forced, called, checks
    )


def _stretch(facts: Facts, most_s: int | None, grid: Grid) -> Iterator[tuple[int, int]]:
    """How long each visit that has begun should last; what is known to wait longer, as long as it does."""
    for j, standing in enumerate(facts.standings):
        if standing.begun and most_s is not None:
            placed = standing.placed
            so_far_s = seconds_between(placed.start, placed.end) if known_wait(standing) else 0
            yield j, grid.down(max(standing.plan.alone_s + most_s, so_far_s))


def _checks(core: Core, unchecked: Sequence[RigTask]) -> Iterator[tuple[int, RigTask]]:
    """Each check that is to be done anew, by its job."""
    left = list(unchecked)
    for j, job in enumerate(core.jobs):
        rig = None if job.prepares is None else core.resources[job.prepares].id
        old = next((task for task in left if task.rig == rig), None)
        if old is not None:
            left.remove(old)
            yield j, old


def _called(standing: Standing, grid: Grid, now: datetime) -> int:
    """The start that was told, or sooner, as soon as somebody called now can be there."""
    there = seconds_between(grid.origin, now) + NOTICE_S
    return min(_steps(grid, standing.placed.start), grid.up(there))


def _problem(running: Running, facts: Facts, tasks: Sequence[RigTask]) -> DayProblem:
    """The day's visits, each with a plan of its own that has the real lengths."""
    by_key = {(s.placed.participant, s.placed.file_id): s for s in facts.standings}
    asked = running.problem(facts.day, [s.asked for s in facts.standings], frozen=facts.frozen)
    own = {
        s.asked: replace(s.asked, protocol=f"{s.asked.participant}/{s.asked.file_id}")
        for s in by_key.values()
    }
    study = replace(
        closed_before_checks(asked.study, tasks),
        asked={who: tuple(own.get(v, v) for v in visits) for who, visits in asked.study.asked.items()},
    )
    plans = {own[s.asked].protocol: mended_plan(s) for s in by_key.values()}
    visits = tuple(own[s.asked] for s in facts.standings)
    return replace(
        asked,
        study=study,
        plans={**asked.plans, **plans},
        visits=visits,
        must=frozenset(v for v, s in zip(visits, facts.standings, strict=True) if s.begun),
        frozen_tasks=tuple(tasks),
        unchecked=frozenset(task.rig for task in facts.unchecked),
    )


def mended_plan(standing: Standing) -> VisitPlan:
    """The visit's plan with real lengths, without windows that may be missed or cannot be kept."""
    plan = standing.plan
    activities = tuple(_as_it_is(activity, standing) for activity in plan.activities)
    links = tuple(link for link in plan.links if _stays(link, standing))
    return replace(plan, activities=activities, links=links)


def _as_it_is(activity: PlannedActivity, standing: Standing) -> PlannedActivity:
    """At its real length; what is gone wants nothing, and what came before it keeps no rig for it."""
    if activity.index in standing.gone:
        return replace(activity, length_s=0, prepare_s=0, rigs=(), staff=(), clear=None, keeps=(), watch=None)
    after = next(
        (a for a in standing.plan.activities[activity.index + 1 :] if a.inside == activity.inside), None
    )
    is_cut = activity.index in standing.split or (after and after.index in standing.gone)
    keeps = () if is_cut else activity.keeps
    return replace(activity, length_s=standing.length_s(activity.index), keeps=keeps)


def _stays(link: Link, standing: Standing) -> bool:
    if link.earlier.activity == link.later.activity:
        return False  # its length, which is known
    if {link.earlier.activity, link.later.activity} & standing.gone:
        return link.why in (Why.ORDER, Why.INSIDE)
    return not (standing.begun and link.why in MAY_GIVE_WAY)


def soft_links(standing: Standing) -> list[Link]:
    """Windows, and how soon a step follows, of a visit that has begun: missed only where they must be."""
    if not standing.begun:
        return []
    return [
        link
        for link in standing.plan.links
        if link.why in MAY_GIVE_WAY and not {link.earlier.activity, link.later.activity} & standing.gone
    ]


def _soft(j: int, standing: Standing, problem: DayProblem, grid: Grid) -> Iterator[SoftGap]:
    known = [known_miss(standing, link) is not None for link in soft_links(standing)]
    links = [
        as_missed(link, standing) if is_known else link
        for link, is_known in zip(soft_links(standing), known, strict=True)
    ]
    plan = replace(problem.plans[problem.visits[j].protocol], links=tuple(links))
    for gap, is_known in zip(gaps(plan, grid), known, strict=True):
        yield SoftGap(j, gap, is_known)


def _offsets(origin: datetime, facts: Facts) -> Iterator[int]:
    """Seconds from opening to all that is placed already: the grid must meet them."""
    for standing in facts.standings:
        for i, activity in standing.by_index.items():
            yield seconds_between(origin, activity.start)
            yield seconds_between(origin, standing.end(i))


def _start(standing: Standing, index: int) -> datetime:
    return standing.by_index[index].start


def _steps(grid: Grid, moment: datetime) -> int:
    return seconds_between(grid.origin, moment) // grid.step_s


def _pinned(job: Job, standing: Standing, starts: tuple[int, ...], grid: Grid, now: datetime) -> Job:
    """The job with all that has begun at its place, and nothing else before now."""
    soonest = grid.up(seconds_between(grid.origin, now))
    if not standing.begun:
        if standing.earliest:
            soonest = max(soonest, grid.up(seconds_between(grid.origin, standing.earliest)))
        late = tuple((max(low, soonest), high) for low, high in job.starts if high >= soonest)
        return replace(job, starts=late, must=False)
    first = job.first if job.first in standing.begun else min(standing.begun)
    here = starts[first]
    pins = [Gap(first, i, starts[i] - here, starts[i] - here) for i in sorted(standing.begun) if i != first]
    pins += [Gap(first, i, soonest - here) for i in standing.free()]
    within = _holding_begun(job, standing, starts, here)
    return replace(
        job,
        first=first,
        within=within,
        starts=((here, here),),
        gaps=(*job.gaps, *pins),
        stretch=None,
        must=True,
    )


def _holding_begun(job: Job, standing: Standing, starts: Sequence[int], here: int) -> tuple[Span, ...]:
    """The hours that the visit began in, as long as what has begun of it lasts; what follows keeps to them.

    Who came outside their hours is there all the same: until the visit was to end.
    """
    ends = {i: starts[i] + job.lengths[i] for i in standing.by_index}
    last = max(ends[i] for i in standing.begun)
    held = next((span for span in job.within if span[0] <= here < span[1]), (here, max(ends.values())))
    return ((held[0], max(held[1], last)),)


def _last_ends(core: Core) -> Iterator[int]:
    """The ends of all times that a job or a resource may take."""
    yield from (span[1] for job in core.jobs for span in job.within)
    yield from (span[1] for resource in core.resources for span in resource.free)


def _not_before(job: Job, now: datetime, grid: Grid) -> Job:
    """A rig's check that is still to come starts from now on."""
    if job.prepares is None:
        return job
    soonest = grid.up(seconds_between(grid.origin, now))
    within = tuple((max(low, soonest), high) for low, high in job.within if high > soonest)
    return replace(job, within=within)


def _kept(use: Use, standing: Standing, core: Core, facts: Facts) -> Use:
    """A use that has begun keeps its rig or person; of somebody who leaves it takes no time from then on.

    A watch or a clearing that they have begun, or that nobody takes over, is told as theirs, and is no reason
    to count on them.
    """
    began = use.first in standing.begun
    name = served(use, standing)
    if name is None:
        return use
    tail = use.tail
    if use.from_end:
        end = standing.end(use.first)
        there_s = _there_s(name, Interval(end, later(end, tail * core.step_s)), facts)
        tail = min(tail, there_s // core.step_s)
        has_ended = end.timestamp() < facts.now.timestamp()
        began = began and (has_ended or (standing.is_left and tail < use.tail))
    if not began:
        return use
    if use.from_end and is_elsewhere(name, Interval(end, later(end, tail * core.step_s)), standing, facts):
        return use
    return replace(use, choices=(_number(core, use, name),), tail=tail)


def _there_s(name: str, after: Interval, facts: Facts) -> int:
    """For how many seconds of that time somebody is there before they leave."""
    away = from_now(facts.away, name, facts.now)
    leaves = [max(0, seconds_between(after.start, one.start)) for one in away if one.meets(after)]
    return min(leaves, default=after.length_s)


def served(use: Use, standing: Standing) -> str | None:
    """The rig or person that serves a use in the plan before."""
    activity: Activity = standing.by_index[use.first]
    if use.wants is Wants.RIG:
        classes = standing.plan.activities[use.first].rigs
        return dict(zip(classes, activity.rigs, strict=False)).get(use.label)
    if use.wants is Wants.STAFF:
        return activity.staff.get(use.label)
    if use.wants is Wants.CLEARING:
        return activity.clear_staff.get(use.label)
    return activity.watch.staff.get(use.label) if activity.watch else None


def _number(core: Core, use: Use, name: str) -> int:
    is_person = use.wants is not Wants.RIG
    return next(n for n, r in enumerate(core.resources) if r.is_person == is_person and r.id == name)


def _given(core: Core, j: int, standing: Standing) -> tuple[int, ...]:
    """What served each use before; -1 where nothing did."""
    names = [served(use, standing) for use in core.uses[j]]
    return tuple(
        -1 if name is None else _number(core, use, name)
        for use, name in zip(core.uses[j], names, strict=True)
    )


def _to_come(problem: DayProblem, grid: Grid, facts: Facts) -> Mapping[str, tuple[Span, ...]]:
    """By rig or person, when the visits that stay as they are take it from now on.

    Of what has begun that is who clears and who stays afterwards: nobody yet.
    """
    ahead = [
        replace(visit, activities=still)
        for visit in problem.frozen
        if (still := tuple(still_to_come(visit.activities, facts.now)))
    ]
    busy = occupied(replace(problem, frozen=tuple(ahead), frozen_tasks=()))
    return {
        name: tuple(
            (_steps(grid, i.start), -(-seconds_between(grid.origin, i.end) // grid.step_s)) for i in its
        )
        for name, its in (*busy.rigs.items(), *busy.people.items())
    }


def _allowing_begun(
    core: Core, known: Answer, standings: Sequence[Standing], to_come: Mapping[str, Sequence[Span]]
) -> tuple[Resource, ...]:
    """Resources whose free time holds what has begun with them, troubles or not.

    What others still have to come is not opened again: where that is in the way, they must move as well.
    """
    begun: dict[int, list[Span]] = {}
    for j, standing in enumerate(standings):
        starts, given = known.starts[j], known.given[j]
        assert starts is not None
        assert given is not None
        for use, r in zip(core.uses[j], given, strict=True):
            last = max((i for i in range(use.first, use.last + 1) if i in standing.begun), default=None)
            if r >= 0 and last is not None and use.first in standing.begun and use.choices == (r,):
                end = starts[last] + core.jobs[j].lengths[last]
                low = end if use.from_end else starts[use.first] - use.lead
                high = end + (use.tail if last == use.last else 0)
                begun.setdefault(r, []).append((low, high))
    return tuple(
        replace(
            resource, free=_merged((*resource.free, *_less(begun.get(r, ()), to_come.get(resource.id, ()))))
        )
        for r, resource in enumerate(core.resources)
    )


def _less(spans: Sequence[Span], taken: Sequence[Span]) -> list[Span]:
    """The spans without what is taken."""
    left = list(spans)
    for low, high in taken:
        left = [part for a, b in left for part in ((a, min(b, low)), (max(a, high), b)) if part[0] < part[1]]
    return left


def _merged(spans: Sequence[Span]) -> tuple[Span, ...]:
    found: list[Span] = []
    for low, high in sorted(span for span in spans if span[0] < span[1]):
        if found and low <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        else:
            found.append((low, high))
    return tuple(found)
