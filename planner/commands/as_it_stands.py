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
MEND = "mend what is still to come (testday repack STUDY --plan FILE --now DATETIME"
REMEDY = f"{MEND.capitalize()}), {NEW_ONE}, or say --anyway."
FEW = 3  # blocks that one line of a table breaks, beyond which they are counted
OF_ONE_LINE = ("outage", "absence", "shift", "break", "availability")
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
    faults = [Fault(place, rule, message) for rule, message in told_once(broken)]
    last = Fault(place, "broken-before", f"{words} ({len(broken)} named above)", hint)
    raise FaultyInput([*faults, last])


def told_once(broken: Sequence[Broken]) -> list[tuple[str, str]]:
    """Rule and words of each; where one cause breaks many blocks it is named once, with the first few."""
    groups: dict[tuple[str, str], list[str]] = {}
    for one in broken:
        groups.setdefault((one.rule, _cause(one)), []).append(one.message)
    found = []
    for (rule, cause), messages in groups.items():
        if not cause or len(messages) <= FEW:
            found += [(rule, message) for message in messages]
        else:
            few = "; ".join(messages[:FEW])
            found.append((rule, f"{cause}, which breaks {len(messages)} places: {few}; and so on"))
    return found


def _cause(one: Broken) -> str:
    """The rig or the person of whom a line of a table speaks, in the judge's words; empty: no such line."""
    if one.rule not in OF_ONE_LINE:
        return ""
    if one.rule == "availability":
        return f"the availability of {one.participant}"
    own = f"{one.participant}, {one.visit} on "
    words = one.message.split(": ", 1)[-1] if one.message.startswith(own) else one.message
    return words.split(": ", 1)[0]


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
