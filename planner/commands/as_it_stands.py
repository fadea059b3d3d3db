"""What commands say of a plan that is none of the study as its files stand now, in the same words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from planner.commands.words import plan_file, say
from planner.faults import Fault, FaultyInput, Place

if TYPE_CHECKING:
    from planner.schedule.model import Broken, Schedule
    from planner.study.model import Study
    from planner.timing.plan import VisitPlan

NOW = "the plan breaks rules of the study as its files stand now"
NEW_ONE = "make a new one (testday pack STUDY, with --day DATE --plan FILE for that day alone)"
REMEDY = f"Tell testday repack what changed, {NEW_ONE}, or say --anyway."
NO_REMEDY = "These are not the visits that the study asks for: make a new plan (testday pack STUDY)."
NO_DAY_REMEDY = "Packing that day anew does not mend it: make a new plan (testday pack STUDY)."

anyway_option = click.option("--anyway", is_flag=True, help="Also where the plan breaks rules.")


class Standing(NamedTuple):
    """A plan with its visit plans, and what it breaks in the study as its files stand now."""

    schedule: Schedule
    plans: Mapping[str, VisitPlan]
    broken: tuple[Broken, ...]
    path: Path


def the_plan_as_it_stands(study: Study, path: Path | None, *, anyway: bool) -> Standing:
    """The plan in that file, or the one in force, before it is printed or played.

    Raises FaultyInput with each broken rule; with `anyway` only where its visits are not the study's.
    What changed since the plan was made is told.
    """
    from planner.schedule.as_it_stands import strange

    found = _judged(study, path)
    odd = strange(found.broken)
    if odd or not anyway:
        refuse_broken(found.broken, found.path, NOW, NO_REMEDY if odd else REMEDY)
    for words in _since(study, found):
        say(f"warning: {words}")
    return found


def the_plan_for_a_day(study: Study, path: Path | None, day: date) -> Schedule:
    """The plan before that day is packed anew, which mends what the day's own visits break.

    Raises FaultyInput with what packing that day cannot mend; a usage error where there is no visit then.
    """
    from planner.schedule.as_it_stands import broken_beside
    from planner.schedule.plan_file import read_plan
    from planner.schedule.plans import plans_of

    file = plan_file(study, path)
    schedule = read_plan(file, study)
    if day not in schedule.dates:
        raise click.UsageError(f"--day {day}: the plan has no visit on that day")
    refuse_broken(broken_beside(schedule, study, plans_of(study, schedule), day), file, NOW, NO_DAY_REMEDY)
    return schedule


def _judged(study: Study, path: Path | None) -> Standing:
    from planner.schedule.as_it_stands import broken_as_it_stands
    from planner.schedule.plan_file import read_plan
    from planner.schedule.plans import plans_of

    file = plan_file(study, path)
    schedule = read_plan(file, study)
    plans = plans_of(study, schedule)
    return Standing(schedule, plans, broken_as_it_stands(schedule, study, plans), file)


def refuse_broken(broken: Sequence[Broken], path: Path, words: str, hint: str) -> None:
    """Raises FaultyInput with each broken rule, then `words` and what to do; not where nothing is broken."""
    if not broken:
        return
    place = Place(str(path))
    faults = [Fault(place, one.rule, one.message) for one in broken]
    last = Fault(place, "broken-before", f"{words} ({len(broken)} named above)", hint)
    raise FaultyInput([*faults, last])


def _since(study: Study, found: Standing) -> list[str]:
    """What is to be known of a plan that is taken as it is."""
    from planner.schedule.as_it_stands import files_changed, newcomers

    told = []
    if found.broken:
        told.append(f"{NOW} ({len(found.broken)}; testday verify names each)")
    if files_changed(found.schedule, study):
        told.append("files changed since this plan was made" + ("" if told else "; it breaks no rule"))
    if number := sum(1 for _ in newcomers(found.schedule, study)):
        visits = "1 visit is" if number == 1 else f"{number} visits are"
        told.append(f"{visits} asked for and not named in this plan; testday repack can place them")
    return told
