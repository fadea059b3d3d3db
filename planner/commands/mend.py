"""`repack`: mend a running plan with the fewest changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.commands.as_it_stands import MEND, NEW_ONE, anyway_option, refuse_broken
from planner.commands.plan import asked_to_stop, hand_over, out_file
from planner.commands.since import seconds_left
from planner.commands.warned import warnings_of, without_warning_s
from planner.commands.words import (
    as_json,
    in_plain_words,
    moment,
    plan_option,
    say,
    study_folder,
    the_plan,
    the_study,
)

if TYPE_CHECKING:
    from planner.packing.mend.troubles import Troubles
    from planner.packing.progress import Progress
    from planner.schedule.model import Schedule
    from planner.study.model import Study

MENDED_TOO = "The study's files as they stand now do not allow all of this plan that is still to come"
UNMENDED = "the plan breaks rules before anything is mended"
MEND_FIRST = f"{MEND.capitalize()} --anyway), or {NEW_ONE}."
NOT_KEPT = (
    "A plan keeps no troubles. What lasts beyond this day belongs in the study's tables (absences.csv, "
    "outages.csv): testday verify and testday use know nothing of it else. At the next mend tell those that "
    "still stand once more."
)


@click.command()
@study_folder
@plan_option(required=True)
@click.option("--now", "now_text", metavar="DATETIME", required=True, help="What has begun before it stays.")
@click.option(
    "--late",
    metavar="P=MIN",
    multiple=True,
    help="Participant comes that many minutes after the planned start.",
)
@click.option(
    "--ended", metavar="P/STEP=DATETIME", multiple=True, help="When a step really ended, or will end."
)
@click.option(
    "--cancelled",
    metavar="P",
    multiple=True,
    help="Participant does not come that day, or, out of the files, at all.",
)
@click.option(
    "--out-of-use", "out_of_use", metavar="RIG=FROM/TO", multiple=True, help="A rig that cannot be used."
)
@click.option("--absent", metavar="PERSON=FROM/TO", multiple=True, help="A person who is not there.")
@click.option(
    "--seconds",
    type=click.FloatRange(1, 3_600),
    default=20,
    show_default=True,
    help="At most, from the start; all are used only where a visit would lose its place.",
)
@anyway_option
@out_file
@as_json
@in_plain_words
def repack(
    folder: Path,
    plan_path: Path,
    now_text: str,
    late: tuple[str, ...],
    ended: tuple[str, ...],
    cancelled: tuple[str, ...],
    out_of_use: tuple[str, ...],
    absent: tuple[str, ...],
    seconds: float,
    anyway: bool,
    out: Path | None,
    as_json: bool,
) -> None:
    """Mend a running plan with the fewest changes; what has begun stays. Options repeat.

    What was written into the study's files since the plan was made is mended as well, from --now on.
    A plan keeps no troubles: each time, tell all that still stand, also those told when it was mended last.
    """
    from planner.packing.light import load_solver

    load_solver()
    from planner.packing.repack import repack as mend
    from planner.schedule.as_it_stands import broken_to_come, may_be_of_files
    from planner.schedule.model import Outcome
    from planner.schedule.plans import plans_of

    stop = asked_to_stop()
    study = the_study(folder)
    schedule = the_plan(study, plan_path)
    troubles = _troubles(study, schedule, late, ended, cancelled, out_of_use, absent)
    now = moment(now_text, study)
    _say_unheard(troubles, schedule, study, now)
    plans = plans_of(study, schedule)
    broken = broken_to_come(schedule, study, plans, now)
    if not anyway and not may_be_of_files(broken, schedule, study):
        refuse_broken(broken, plan_path, UNMENDED, MEND_FIRST)
    if broken:
        say(f"{MENDED_TOO} ({len(broken)}; testday verify names each): it is mended as well.")
    mended = mend(
        study,
        plans,
        schedule,
        now=now,
        troubles=troubles,
        seconds=seconds_left(without_warning_s(seconds, study), workers=2),
        progress=_tell,
        stop=stop,
        heeds_files=bool(broken),
    )
    still = broken_to_come(mended, study, plans, now) if broken else ()
    if still:
        mended = replace(mended, status=Outcome.FEASIBLE)
    try:
        hand_over(mended, out, as_json, still, warnings=warnings_of(mended, study, plans))
    finally:  # it leaves by itself where not all visits have a place
        say(NOT_KEPT)


def _say_unheard(troubles: Troubles, schedule: Schedule, study: Study, now: datetime) -> None:
    """A usage error where a trouble names the wrong day; a warning where one hits nothing."""
    from planner.packing.mend.unheard import on_another_day, unheard

    found = unheard(troubles, schedule, study, now)
    if any(one.is_slip for one in found):
        raise click.UsageError("\n".join(map(str, found)))
    for words in (*map(str, found), *on_another_day(troubles, schedule, now)):
        say(f"warning: {words}")


def _tell(progress: Progress) -> None:
    """One line of progress on standard error."""
    touched = f"{progress.best} touched, at least {progress.bound}"
    say(f"{progress.placed} placed, {touched}, {progress.left_s:.0f} s left")


def _troubles(
    study: Study,
    schedule: Schedule,
    late: tuple[str, ...],
    ended: tuple[str, ...],
    cancelled: tuple[str, ...],
    out_of_use: tuple[str, ...],
    absent: tuple[str, ...],
) -> Troubles:
    from planner.packing.mend.troubles import Troubles

    participants = {visit.participant for visit in schedule.visits}
    return Troubles(
        late={who: _minutes(text) for who, text in _pairs("--late", late, participants).items()},
        ended=_ended(study, ended, participants),
        cancelled=tuple(known_name("--cancelled", who, participants) for who in cancelled),
        out_of_use=spans_told(study, "--out-of-use", out_of_use, {rig.id for rig in study.rigs}),
        absent=spans_told(study, "--absent", absent, {person.id for person in study.people}),
    )


def known_name(option: str, name: str, names: set[str]) -> str:
    """The name, or a usage error that names the nearest one."""
    import difflib

    if name in names:
        return name
    near = difflib.get_close_matches(name, names, 1)
    raise click.UsageError(
        f"{option} {name}: not known here" + (f"; did you mean {near[0]}?" if near else "")
    )


def _pairs(option: str, texts: tuple[str, ...], names: set[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for text in texts:
        name, sign, value = text.partition("=")
        if not sign:
            raise click.UsageError(f"{option} {text}: write it as NAME=VALUE")
        if name.strip() in found:
            raise click.UsageError(f"{option} {name.strip()}: given twice; say it once")
        found[known_name(option, name.strip(), names)] = value.strip()
    return found


def _minutes(text: str) -> int:
    if not text.isdigit():
        raise click.UsageError(f"--late …={text}: write whole minutes, as in --late ROW-07=20")
    return int(text)


def _ended(study: Study, texts: tuple[str, ...], names: set[str]) -> Mapping[tuple[str, str], datetime]:
    steps = {step.id for protocol in study.protocols.values() for step in protocol.visit}
    found: dict[tuple[str, str], datetime] = {}
    for text in texts:
        where, sign, when = text.partition("=")
        participant, slash, step = where.partition("/")
        if not (sign and slash):
            raise click.UsageError(f"--ended {text}: write it as PARTICIPANT/STEP=DATETIME")
        key = (known_name("--ended", participant.strip(), names), known_name("--ended", step.strip(), steps))
        if key in found:
            raise click.UsageError(f"--ended {where}: given twice; say it once")
        found[key] = moment(when, study)
    return found


def spans_told(
    study: Study, option: str, texts: tuple[str, ...], names: set[str]
) -> tuple[tuple[str, datetime, datetime], ...]:
    """What an option says of rigs or people: (name, from, to); a usage error where it cannot be read."""
    found = []
    for text in texts:
        name, sign, span = text.partition("=")
        start, slash, end = span.partition("/")
        if not (sign and slash):
            raise click.UsageError(f"{option} {text}: write it as NAME=FROM/TO")
        first, last = moment(start, study), moment(end, study)
        if first >= last:
            raise click.UsageError(f"{option} {text}: ends before it begins")
        found.append((known_name(option, name.strip(), names), first, last))
    return tuple(found)
