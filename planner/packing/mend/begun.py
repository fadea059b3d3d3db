"""What somebody must know of work that has begun when a trouble hits it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from planner.clock import Interval, later, seconds_between
from planner.packing.mend.facts import afterwards
from planner.packing.mend.standing import Facts, Standing
from planner.packing.mend.study import from_now
from planner.packing.problem import key
from planner.schedule.beside_asked import matched
from planner.schedule.model import PlacedVisit, Reason, RigTask
from planner.schedule.rules.case import activity_words, clock


def who_is_away(known: Facts) -> Iterator[Reason]:
    """Whom begun work still needs although they are away: it stays, and somebody must know."""
    for name, start, end in known.troubles.absent:
        away = Interval(max(start, known.now, key=datetime.timestamp), end)
        for standing in known.standings:
            for i in sorted(standing.begun):
                for runs, words in _begun_with(standing, i, name, known.now):
                    if runs.meets(away):
                        who = f"{standing.placed.participant}, {standing.placed.file_id}: {words}"
                        until = f"{runs.end:%H:%M}: it stays as it was; somebody must take over"
                        yield Reason(f"{who} until {until}")


def on_failed_rigs(known: Facts) -> Iterator[Reason]:
    """What goes on, as it is told, on a rig that is told to be out of use before it ends."""
    for rig in dict.fromkeys(name for name, _, _ in known.troubles.out_of_use):
        fails = from_now(known.troubles.out_of_use, rig, known.now)
        for standing in known.standings:
            for i, end in standing.ends.items():
                one = standing.by_index[i]
                if rig in one.rigs and any(out.meets(Interval(one.start, end)) for out in fails):
                    who = f"{standing.placed.participant}, {standing.placed.file_id}: {one.step} is on {rig}"
                    lasts = f"lasts until {clock(end)}, and {rig} is out of use from {clock(fails[0].start)}"
                    words = "it stays as it was; the person in charge decides"
                    yield Reason(f"{who} and {lasts}: {words}")


def nobody_takes_over(known: Facts, visits: Sequence[PlacedVisit]) -> Iterator[Reason]:
    """Whom the mended plan still has clear, or stay, after what runs, though they leave before that ends."""
    new = {key(visit): visit for visit in visits}
    for standing in (one for one in known.standings if key(one.placed) in new):
        visit = new[key(standing.placed)]
        now = replace(standing, placed=visit, by_index=matched(visit, standing.plan), ends={})
        for i in sorted(standing.begun & now.by_index.keys()):
            if now.end(i).timestamp() < known.now.timestamp():
                continue  # they have begun with it: `who_is_away` says so
            for name, runs in afterwards(now, i):
                if any(away.meets(runs) for away in from_now(known.troubles.absent, name, known.now)):
                    who = f"{visit.participant}, {visit.file_id}: nobody is free for what follows"
                    words = f"{now.by_index[i].step} until {clock(runs.end)}, which {name} leaves"
                    yield Reason(f"{who} {words}; somebody must take over")


def done_twice(known: Facts, visits: Sequence[PlacedVisit]) -> Iterator[Reason]:
    """What was broken off as its rig failed and is planned once more: a person decides whether it is done."""
    new = {key(visit): visit for visit in visits}
    for standing in (one for one in known.standings if one.is_broken_off):
        visit = new.get(key(standing.placed))
        again = matched(visit, standing.plan) if visit else {}
        for i in _broken_off(standing, known.now):
            if one := again.get(i):
                who = f"{standing.placed.participant}, {standing.placed.file_id}: {activity_words(one)}"
                words = f"was broken off, and stands in the plan once more, in full, at {clock(one.start)}"
                yield Reason(f"{who} {words}; the person in charge decides whether it is done again")


def checks_hit(known: Facts, before: Sequence[RigTask], after: Sequence[RigTask]) -> Iterator[Reason]:
    """Checks of rigs that have begun and whose rig fails, or whose person leaves, as they are done."""
    for task in (one for one in before if one.start.timestamp() < known.now.timestamp()):
        check = f"check of {task.rig}"
        if task in after:
            for name in dict.fromkeys(task.staff.values()):
                absent = from_now(known.troubles.absent, name, known.now)
                if any(away.meets(task.interval) for away in absent):
                    lasts = f"{check} has begun with {name} and lasts until {clock(task.end)}"
                    yield Reason(f"{lasts}: it stays as it was; somebody must take over")
        elif from_now(known.troubles.out_of_use, task.rig, known.now):
            broken = f"{check} at {clock(task.start)} was broken off"
            again = next((one for one in after if one.rig == task.rig and one not in before), None)
            if again is None:
                yield Reason(f"{broken}, and nobody uses {task.rig} any more that day")
            else:
                words = f"{broken}, and stands in the plan once more, in full, at {clock(again.start)}"
                yield Reason(f"{words}; the person in charge decides whether it is done again")


def _broken_off(standing: Standing, now: datetime) -> Iterator[int]:
    """What had begun on a rig, and is to be done anew; a bout stands for the blocks in it."""
    anew = {
        i
        for i, activity in standing.by_index.items()
        if activity.rigs and i not in standing.begun and activity.start.timestamp() < now.timestamp()
    }
    yield from sorted(i for i in anew if standing.plan.activities[i].inside not in anew)


def _begun_with(standing: Standing, i: int, name: str, now: datetime) -> Iterator[tuple[Interval, str]]:
    """When a begun activity has that person, and as what; clearing and watch once they have begun."""
    activity, ended = standing.by_index[i], standing.end(i)
    if name in activity.staff.values():
        yield Interval(activity.start, ended), f"{activity.step} has begun with {name} and lasts"
    planned = standing.plan.activities[i].clear
    own = [activity.staff.get(role) for role in planned.staff] if planned else []
    if name in own:  # the same person as in the block, whenever that ends
        takes_s = seconds_between(activity.end, activity.rig_free)
        yield Interval(ended, later(ended, takes_s)), f"{name} clears after {activity_words(activity)}"
    if ended.timestamp() < now.timestamp():
        if name in activity.clear_staff.values():
            yield Interval(ended, activity.rig_free), f"{name} clears after {activity.step}"
        if activity.watch and name in activity.watch.staff.values():
            yield Interval(ended, activity.watch.end), f"{name} stays with them after {activity.step}"
