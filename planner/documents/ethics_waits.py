"""How long waits for a device or a person may make a visit, by the study's rule and by the plan."""

from __future__ import annotations

from planner.clock import duration_words
from planner.documents.ethics_visits import Figures
from planner.documents.shown import minutes_words, protocol_of
from planner.documents.texts import say
from planner.schedule.model import Schedule


def wait_words(found: Figures, schedule: Schedule) -> str:
    """One sentence on the rule, one on the plan: a visit in a laboratory that others use takes longer."""
    limit_s = found.study.at_most_waiting_s
    rule = (
        say("ethics.waits_open")
        if limit_s is None
        else say("ethics.waits_limit", length=duration_words(limit_s))
    )
    plan = say("ethics.waits_plan", length=minutes_words(longest_wait_s(found, schedule)))
    return f"{say('ethics.waits')} {rule} {plan}" if schedule.visits else f"{say('ethics.waits')} {rule}"


def longest_wait_s(found: Figures, schedule: Schedule) -> int:
    """The most by which a visit of the plan is longer than the same visit planned alone."""
    waits = [
        visit.end.timestamp()
        - visit.start.timestamp()
        - found.plans[protocol_of(found.study, visit).file].alone_s
        for visit in schedule.visits
    ]
    return max(0, *(int(wait) for wait in waits)) if waits else 0
