"""What may come too late next: the time still needed before a window against the time that is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from planner.clock import duration_words, seconds_between
from planner.record.parts import Part, Status
from planner.timing.plan import VisitPlan


@dataclass(frozen=True, slots=True)
class Risk:
    """A part that may miss its window. `sure`: it can no longer be on time, however short the rest is.

    `short_s` are the seconds by which the time left falls short if all goes as planned. `keep_first`
    says what the protocol's priority names to keep, the most important first.
    """

    index: int
    sure: bool
    short_s: int
    words: str
    keep_first: str = ""


def risks(plan: VisitPlan, parts: Sequence[Part], now: datetime) -> tuple[Risk, ...]:
    """The windows ahead that may be missed, in order; only those whose anchor is recorded can be judged."""
    found = []
    until_free = {False: (0, 0), True: (0, 0)}  # from now, at least and as planned; True: inside a bout
    for part in parts:
        if part.status in (Status.DONE, Status.PASSED):
            continue
        is_inside = part.activity.inside is not None
        least_s, usual_s = until_free[is_inside]
        if part.due and part.status is Status.TO_COME:
            prepare_s = part.activity.prepare_s
            whole_s = seconds_between(now, part.due.not_after)
            left_s = whole_s - prepare_s
            if usual_s > left_s:  # getting ready is not recorded: it may be over, so it makes nothing sure
                found.append(_risk(plan, parts, part, usual_s - left_s, least_s > whole_s or whole_s < 0))
            open_s = seconds_between(now, part.due.at) - prepare_s
            least_s, usual_s = max(least_s, open_s), max(usual_s, open_s)
        more = left_s_of(plan, part, now)
        until_free[is_inside] = (least_s + more[0], usual_s + more[1])
    return tuple(found)


def left_s_of(plan: VisitPlan, part: Part, now: datetime) -> tuple[int, int]:
    """Seconds that a part still needs: at least, and as planned."""
    activity = part.activity
    if not part.efforts:
        gone_s = seconds_between(part.started, now) if part.started else 0
        return max(0, activity.shortest_s - gone_s), max(0, activity.length_s - gone_s)
    if activity.manoeuvre is None or part.agreement is None or not part.agreement.may_go_on:
        return 0, 0
    manoeuvre = plan.protocol.manoeuvres[activity.manoeuvre]
    done = len(part.efforts)
    planned = activity.planned_efforts or manoeuvre.at_least
    each_s = manoeuvre.rest_s + manoeuvre.effort_s
    return max(1, manoeuvre.at_least - done) * each_s, max(1, planned - done) * each_s


def _risk(plan: VisitPlan, parts: Sequence[Part], part: Part, short_s: int, sure: bool) -> Risk:
    activity = part.activity
    name = plan.protocol.step(activity.step).title
    if activity.manoeuvre:
        name = f"{name}, {part.title}"
    if activity.at_s is not None:
        name = f"{name} at {duration_words(activity.at_s)}"
    words = (
        f"{name} can no longer start on time."
        if sure
        else f"{name} is at risk: {duration_words(short_s)} short if all goes as planned."
    )
    kept = _keep_first(plan, parts)
    return Risk(part.index, sure, short_s, words, f"Keep first: {', '.join(kept)}." if kept else "")


def _keep_first(plan: VisitPlan, parts: Sequence[Part]) -> list[str]:
    """What the priority names, in the titles that stand on the sheet; only what may still be measured."""
    found = []
    for entry in plan.protocol.priority:
        step, _, manoeuvre = entry.partition("/")
        open_ones = [
            part
            for part in parts
            if part.activity.step == step
            and manoeuvre in ("", part.activity.manoeuvre)
            and part.status in (Status.TO_COME, Status.NOW)
        ]
        if open_ones:
            title = plan.protocol.step(step).title
            found.append(f"{open_ones[0].title} ({title})" if manoeuvre else title)
    return found
