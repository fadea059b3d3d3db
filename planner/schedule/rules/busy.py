"""Nobody and nothing in two places: participants, rigs and people, clearing and watching included."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from planner.schedule.model import Activity, Broken, RigTask
from planner.schedule.rules.case import Case, Judged, activity_words, once_a_case, second
from planner.schedule.rules.serving import clears, following
from planner.study.model import Study


@dataclass(frozen=True)
class Busy:
    """A rig or a person is taken from `start` to `end` (seconds). `inside` is the bout around a block."""

    name: str
    start: int
    end: int
    words: str
    visit: Judged | None = None
    activity: Activity | None = None
    inside: Activity | None = None
    is_watch: bool = False
    task: RigTask | None = None


@once_a_case
def rig_times(case: Case) -> dict[str, list[Busy]]:
    """When each rig is taken: a run of blocks holds it from the first to the last, then it is cleared."""
    found: dict[str, list[Busy]] = defaultdict(list)
    for visit in case.visits:
        for busy in _rigs_of(visit):
            found[busy.name].append(busy)
    for task in case.schedule.rig_tasks:
        found[task.rig].append(_of_task(task.rig, task))
    return found


def _rigs_of(visit: Judged) -> Iterator[Busy]:
    """Rigs of one visit; what the protocol does not know is taken just as long as it says itself."""
    known = {id(pair.placed) for pair in visit.pairs()}
    held: dict[str, int] = {}
    for pair in visit.pairs():
        after = following(visit, pair)
        kept = set(pair.placed.rigs) & set(after.placed.rigs) if after and pair.planned.keeps else set()
        bout = visit.by_index.get(pair.planned.inside) if pair.planned.inside is not None else None
        for rig in pair.placed.rigs:
            start = held.pop(rig, second(pair.placed.start))
            if rig in kept:
                held[rig] = start
                continue
            words = f"{visit.name} ({activity_words(pair.placed)})"
            yield Busy(rig, start, second(pair.placed.rig_free), words, visit, pair.placed, bout)
    for placed in visit.placed.activities:
        if id(placed) not in known:
            words = f"{visit.name} ({activity_words(placed)})"
            for rig in placed.rigs:
                yield Busy(rig, second(placed.start), second(placed.rig_free), words, visit, placed)


@once_a_case
def people_times(case: Case) -> dict[str, list[Busy]]:
    """When each person is taken: by activities, clearing that names their role, watching and rig tasks."""
    found: dict[str, list[Busy]] = defaultdict(list)
    for visit in case.visits:
        for busy in _people_of(visit):
            found[busy.name].append(busy)
    for task in case.schedule.rig_tasks:
        for person in dict.fromkeys(task.staff.values()):
            found[person].append(_of_task(person, task))
    return found


def _people_of(visit: Judged) -> Iterator[Busy]:
    planned = {id(pair.placed): pair.planned for pair in visit.pairs()}
    for placed in visit.placed.activities:
        plan = planned.get(id(placed))
        bout = visit.by_index.get(plan.inside) if plan and plan.inside is not None else None
        clearing = set(clears(placed, plan.clear.staff if plan and plan.clear else ()))
        words = f"{visit.name} ({activity_words(placed)})"
        start, end, free = second(placed.start), second(placed.end), second(placed.rig_free)
        for person in dict.fromkeys(placed.staff.values()):
            until = free if person in clearing else end
            yield Busy(person, start, until, words, visit, placed, bout)
        for person in sorted(clearing - set(placed.staff.values())):
            yield Busy(person, end, free, f"{words}, clearing", visit, placed, bout)
        if placed.watch:
            until = second(placed.watch.end)
            for person in dict.fromkeys(placed.watch.staff.values()):
                yield Busy(person, end, until, f"{words}, staying", visit, placed, bout, is_watch=True)


def _of_task(name: str, task: RigTask) -> Busy:
    words = f"the check of {task.rig} before its first use"
    return Busy(name, second(task.start), second(task.end), words, task=task)


def overlaps(times: Iterable[Busy]) -> Iterator[tuple[Busy, Busy]]:
    """Every pair that shares some time and may not, the earlier first; swept by start."""
    running: list[Busy] = []
    for busy in sorted(times, key=lambda one: (one.start, one.end)):
        running = [one for one in running if one.end > busy.start]
        yield from ((one, busy) for one in running if busy.end > busy.start and not may_share(one, busy))
        running.append(busy)


def may_share(one: Busy, two: Busy) -> bool:
    """A bout's own rig and people may serve the blocks inside it; who watches may serve that participant."""
    if one.visit is None or one.visit is not two.visit:
        return False
    if one.activity is two.activity or one.visit.plan is None:
        return True  # of a visit that nobody asks for it is not known what lies inside what
    if one.is_watch or two.is_watch:
        return True
    return one.inside is two.activity or two.inside is one.activity


def rigs(case: Case) -> Iterator[Broken]:
    """No rig serves two at once, clearing included, nor leaves a participant between the blocks of a run."""
    for rig, times in rig_times(case).items():
        for one, two in overlaps(times):
            yield from _both("rig-busy", f"{rig} is taken", one, two, case.study)


def people(case: Case) -> Iterator[Broken]:
    """No person serves two at once; who watches serves nobody else."""
    for person, times in people_times(case).items():
        for one, two in overlaps(times):
            rule = "watch" if one.is_watch or two.is_watch else "person-busy"
            yield from _both(rule, f"{person} is taken", one, two, case.study)


def participants(case: Case) -> Iterator[Broken]:
    """Each participant is in one place, also over two visits; blocks inside a bout are part of it."""
    found: dict[str, list[Busy]] = defaultdict(list)
    for visit in case.visits:
        planned = {id(pair.placed): pair.planned for pair in visit.pairs()}
        for placed in visit.placed.activities:
            plan = planned.get(id(placed))
            bout = visit.by_index.get(plan.inside) if plan and plan.inside is not None else None
            words = f"{visit.placed.file_id} ({activity_words(placed)})"
            name = visit.placed.participant
            found[name].append(
                Busy(name, second(placed.start), second(placed.end), words, visit, placed, bout)
            )
    for name, times in found.items():
        for one, two in overlaps(times):
            if not _is_order(one, two):
                yield from _both("one-place", f"{name} is taken", one, two, case.study)


def _is_order(one: Busy, two: Busy) -> bool:
    """Two activities of one visit that overlap break its order, and that is told there."""
    return one.visit is two.visit and one.inside is None and two.inside is None


def _both(rule: str, words: str, one: Busy, two: Busy, study: Study) -> Iterator[Broken]:
    """The same overlap, told once for each visit that is in it."""
    from datetime import datetime

    start = datetime.fromtimestamp(two.start, tz=study.zone)
    end = datetime.fromtimestamp(min(one.end, two.end), tz=study.zone)
    message = f"{words} twice from {start:%H:%M:%S} to {end:%H:%M:%S}: {one.words} and {two.words}"
    visits = list(dict.fromkeys(busy.visit for busy in (one, two) if busy.visit))
    for visit in visits:
        yield visit.broken(rule, message)
    if not visits:
        yield Broken(rule, None, None, f"{start:%Y-%m-%d}: {message}")


RULES = (rigs, people, participants)
