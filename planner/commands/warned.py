"""What the judge warns of in a plan that was just made: briefly, in the words of `verify`."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from planner.schedule.model import Broken, Schedule
    from planner.study.model import Study
    from planner.timing.plan import VisitPlan

MOST_NAMED = 5  # warnings of one kind; beyond, they are counted
VISIT_S = 0.0005  # that looking for the warnings of one visit takes
MOST_SHARE = 0.1  # of a command's seconds, for all of them


def without_warning_s(seconds: float, study: Study) -> float:
    """The seconds of a command less what looking for warnings will take at its end."""
    visits = sum(map(len, study.asked.values()))
    return seconds - min(VISIT_S * visits, MOST_SHARE * seconds)


def warnings_of(schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]) -> list[str]:
    """Each warning of `verify` once, a line each; of one kind the first few, then how many more there are."""
    from planner.schedule.rules.case import case_of
    from planner.schedule.verify import WARNINGS

    case = case_of(schedule, study, plans)
    return brief(warning for rule in WARNINGS for warning in rule(case))


def brief(warnings: Iterable[Broken]) -> list[str]:
    """Their words in order, each once; of one kind the first few, then how many more there are."""
    kinds: dict[str, dict[str, None]] = {}
    for one in warnings:
        kinds.setdefault(one.rule, {})[str(one)] = None
    found = []
    for words in map(list, kinds.values()):
        found += words[:MOST_NAMED]
        if more := len(words[MOST_NAMED:]):
            found.append(f"{more} more of this kind; testday verify names each")
    return found
