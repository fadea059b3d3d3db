"""Does one visit fit on a day with the laboratory to itself? Asked hundreds of times for one answer.

So what decides it is compared first: a day without its first spirometer is a day without its second.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from datetime import date, timedelta

from planner.clock import Interval, seconds_between
from planner.packing import solve
from planner.packing.core import Answer
from planner.packing.greedy import refill
from planner.packing.hours import Hours
from planner.packing.model import make_model
from planner.packing.problem import DayProblem
from planner.packing.translate import translate
from planner.packing.why.case import Case
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

TRY_S = 0.6
BEYOND = timedelta(hours=6)  # before opening and after closing, where somebody or something is away


def fits_alone(case: Case, visit: Visit, day: date) -> bool:
    """Whether the visit fits on the day; False only where it is proven not to."""
    return not is_refuted(DayProblem(case.study, case.plans, day, (visit,), must=frozenset([visit])), TRY_S)


def is_refuted(problem: DayProblem, seconds: float) -> bool:
    """Whether it is proven that the visits, all of which must come, do not fit together."""
    core, _ = translate(problem)
    nothing = Answer((None,) * len(core.jobs), (None,) * len(core.jobs))
    if refill(core, nothing, core.visits()).placed(core) == len(core.visits()):
        return False
    v = make_model(core, order_alike=False)
    if any(job.must and not v.start[j] for j, job in enumerate(core.jobs)):
        return True
    limits = solve.Limits(seconds, 2, problem.study.seed)
    return solve.run(v, None, limits).proof is solve.Proof.IMPOSSIBLE


def what_decides(case: Case, hours: Hours, visit: Visit, day: date, lines: Sequence[Interval]) -> Hashable:
    """All that decides whether the visit fits alone on that day, counted from the first opening.

    Rigs and people whom the visit does not want are left out, and names where nobody asks for one.
    """
    study, plan, wishes = case.study, case.plans[visit.protocol], hours.wishes(visit)
    opens = study.open[day]
    near = Interval(opens[0].start - BEYOND, opens[-1].end + BEYOND)

    def clock(intervals: Sequence[Interval]) -> tuple[tuple[int, int], ...]:
        cut = (Interval(max(i.start, near.start), min(i.end, near.end)) for i in intervals if i.meets(near))
        origin = opens[0].start
        return tuple((seconds_between(origin, i.start), seconds_between(origin, i.end)) for i in cut)

    rigs, roles = {c for a in plan.activities for c in a.rigs}, set(_roles(plan, study))
    named = {name for wish in wishes for name in (wish.rig, wish.person)}
    those = [
        *((r.id, frozenset(rigs.intersection(r.classes)), clock(r.out)) for r in study.rigs),
        *((p.id, frozenset(roles.intersection(p.roles)), clock(p.works.get(day, ()))) for p in study.people),
    ]
    wanted = sorted(
        (name if name in named else "", sorted(labels), times) for name, labels, times in those if labels
    )
    clears = tuple(activity.clear for activity in plan.activities)
    takes = tuple((activity.length_s, activity.watch) for activity in plan.activities)
    asks = (visit.protocol, visit.start, plan.links, takes, clears, str(opens[0].start.utcoffset()))
    rules = (study.at_most_waiting_s, study.keep_same_within, tuple(study.before_first_use.items()))
    wished = tuple((w.start, w.rig, w.person) for w in wishes)
    return asks, wished, clock(lines), clock(opens), _frozen(wanted), rules


def _frozen(wanted: Sequence[tuple[str, list[str], tuple[tuple[int, int], ...]]]) -> Hashable:
    return tuple((name, tuple(labels), times) for name, labels, times in wanted)


def _roles(plan: VisitPlan, study: Study) -> Iterator[str]:
    """The roles that anybody may have in the visit, also in clearing, staying and a rig's first task."""
    for activity in plan.activities:
        yield from activity.staff
        yield from activity.clear.staff if activity.clear else ()
        yield from activity.watch.staff if activity.watch else ()
    for task in study.before_first_use.values():
        yield from task.staff
