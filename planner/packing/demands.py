"""One planned visit as what it wants of rigs and people, and when: the uses and gaps of a job."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from planner.packing.core import Gap, Use, Wants, Window
from planner.packing.grid import Grid
from planner.timing.plan import Link, Moment, PlannedActivity, Point, VisitPlan

Choose = Callable[[Wants, str], tuple[int, ...]]  # the resources of a class or role


def gaps(plan: VisitPlan, grid: Grid) -> tuple[Gap, ...]:
    """The plan's links as distances between starts, in steps."""
    return tuple(_gap(plan, link, grid) for link in plan.links)


def windows(plan: VisitPlan, grid: Grid) -> tuple[Window, ...]:
    """The time points, each with its target between two starts, in steps."""
    return tuple(_window(plan, link, grid) for link in plan.windows)


def _window(plan: VisitPlan, link: Link, grid: Grid) -> Window:
    block = link.later if link.later.moment is not Moment.START else link.earlier
    target = grid.up((link.target_s or 0) - _shift(plan, link))
    return Window(link.earlier.activity, link.later.activity, target, block.activity)


def _gap(plan: VisitPlan, link: Link, grid: Grid) -> Gap:
    shift_s = _shift(plan, link)
    earlier, later = link.earlier.activity, link.later.activity
    if link.low_s is None:
        return Gap(later, earlier, -grid.down((link.high_s or 0) - shift_s))
    high = None if link.high_s is None else grid.down(link.high_s - shift_s)
    return Gap(earlier, later, grid.up(link.low_s - shift_s), high)


def _shift(plan: VisitPlan, link: Link) -> int:
    """Seconds by which the link's distance exceeds that of the two starts."""
    return _offset_s(plan, link.later) - _offset_s(plan, link.earlier)


def _offset_s(plan: VisitPlan, point: Point) -> int:
    activity = plan.activities[point.activity]
    match point.moment:
        case Moment.START:
            return 0
        case Moment.FIRST_EFFORT:
            return activity.prepare_s
    return activity.length_s


def uses(job: int, plan: VisitPlan, grid: Grid, guard_s: int, choose: Choose) -> tuple[Use, ...]:
    """All uses of one visit: runs of rigs, staff, people who only clear, and watches."""
    held = {link.later.activity for link in plan.windows} if guard_s else set()
    wanted: list[Use] = []
    for first, last, rig_class, tail_s in rig_runs(plan):
        lead = grid.up(guard_s) if first in held else 0
        around = plan.activities[first].inside
        choices = choose(Wants.RIG, rig_class)
        wanted.append(Use(job, Wants.RIG, rig_class, first, last, grid.up(tail_s), choices, lead, around))
    for activity in plan.activities:
        lead = grid.up(guard_s) if activity.index in held else 0
        for wants, role, tail_s in _roles(activity):
            wanted.append(
                Use(
                    job,
                    wants,
                    role,
                    activity.index,
                    activity.index,
                    grid.up(tail_s),
                    choose(wants, role),
                    lead if wants is Wants.STAFF else 0,
                    None if wants is Wants.WATCH else activity.inside,
                )
            )
    return tuple(wanted)


def _roles(activity: PlannedActivity) -> Iterator[tuple[Wants, str, int]]:
    """What an activity wants of people: why, role, seconds after its end."""
    clearing = activity.clear
    roles = clearing.staff if clearing else ()
    takes_s = clearing.takes_s if clearing else 0
    for role in activity.staff:
        yield Wants.STAFF, role, takes_s if role in roles else 0
    for role in roles:
        if role not in activity.staff and takes_s:
            yield Wants.CLEARING, role, takes_s
    if activity.watch and activity.watch.for_s:
        for role in activity.watch.staff:
            yield Wants.WATCH, role, activity.watch.for_s


def rig_runs(plan: VisitPlan) -> Iterator[tuple[int, int, str, int]]:
    """First and last activity, class, and seconds of clearing of each stretch that one rig serves."""
    opened: dict[tuple[int | None, str], int] = {}
    for activity in plan.activities:
        for rig_class in activity.rigs:
            first = opened.setdefault((activity.inside, rig_class), activity.index)
            if rig_class not in activity.keeps:
                del opened[activity.inside, rig_class]
                yield first, activity.index, rig_class, activity.clear.takes_s if activity.clear else 0
