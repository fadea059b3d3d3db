"""A plan in plain words: what it holds, how good it is, what has no place, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.schedule.model import Reason, Schedule, Stage

MOST_NAMED = 40  # visits without a place, each on a line of its own


def reason_words(reason: Reason) -> str:
    """One line, with the place where it has one."""
    place = f"{reason.file}:{reason.line or ''} " if reason.file else ""
    return f"{place}{reason.message}"


def broken_words(schedule: Schedule, broken: Sequence[str]) -> str:
    """A plan that the judge refuses: what it breaks comes first, and nothing is said of how good it is."""
    number = f"{len(broken)} rule{'' if len(broken) == 1 else 's'} of the study as its files stand now"
    lines = [f"{schedule.placed} of {schedule.asked} visits placed. The plan breaks {number}:"]
    lines += [f"  {one}" for one in broken]
    lines += _not_placed_words(schedule)
    lines += [f"  {reason_words(reason)}" for reason in schedule.reasons]
    return "\n".join(lines + _change_words(schedule))


def plan_words(schedule: Schedule) -> str:
    """What a plan holds, in plain words."""
    from planner.schedule.learned_text import learned_words
    from planner.schedule.model import Outcome
    from planner.schedule.not_mended import HEAD, not_mended
    from planner.schedule.stage_words import order_words
    from planner.schedule.time_ended import HEAD as CUT_SHORT
    from planner.schedule.time_ended import time_ended

    status = {
        Outcome.OPTIMAL: "No better plan exists under these rules.",
        Outcome.FEASIBLE: "The plan works; a better one may exist.",
        Outcome.IMPOSSIBLE: "Not all visits can be placed: these demands cannot all be met.",
    }
    days = f"{len(schedule.dates)} day{'' if len(schedule.dates) == 1 else 's'}"
    why = not_mended(schedule)
    head = HEAD if why else CUT_SHORT if time_ended(schedule) else status[schedule.status]
    visits = f"{schedule.asked} visit{'' if schedule.asked == 1 else 's'}"
    lines = [f"{schedule.placed} of {visits} placed on {days}. {head}"]
    lines += [f"  {reason_words(reason)}" for reason in why]
    if schedule.learned is not None:
        lines.append(learned_words(schedule.learned))
    lines += [f"  {_stage_words(stage)}" for stage in schedule.stages]
    if order := order_words([stage.name for stage in schedule.stages]):
        lines.append(f"  {order}")
    lines += _other_days_words(schedule)
    lines += _not_placed_words(schedule)
    lines += [f"  {reason_words(reason)}" for reason in schedule.reasons if reason not in why]
    return "\n".join(lines + _change_words(schedule))


def _change_words(schedule: Schedule) -> list[str]:
    """What this plan changes; then what it keeps in mind of earlier ones."""
    from planner.schedule.changes import change_words, is_known, own_changes

    known = [one for one in schedule.changes if is_known(one, schedule)]
    lines = [f"  change: {change.message}" for change in own_changes(schedule)]
    return lines + [f"  {change_words(one, schedule)}" for one in known]


def _other_days_words(schedule: Schedule) -> list[str]:
    from planner.schedule.change_values import visits_on_other_days

    number = visits_on_other_days(schedule)
    return [f"  On another day than told: {number} visit{'' if number == 1 else 's'}"] * bool(number)


def _not_placed_words(schedule: Schedule) -> list[str]:
    left = schedule.not_placed
    lines = [f"  not placed: {n.participant} {n.visit}: {n.message}" for n in left[:MOST_NAMED]]
    more = len(left) - len(lines)
    return lines + ([f"  not placed: {more} more; --json and the plan file name each"] if more > 0 else [])


def _stage_words(stage: Stage) -> str:
    from planner.schedule.model import Outcome
    from planner.schedule.stage_words import amount_words, stage_words

    found, bound = (amount_words(stage.name, value) for value in (stage.value, stage.bound))
    sure = "proven" if stage.status is Outcome.OPTIMAL else "not proven"
    return f"{stage_words(stage.name).found}: {found} (cannot be better than {bound}; {sure})"
