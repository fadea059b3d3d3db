"""`verify`, `use`: judge a plan, put it in force."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.commands.words import (
    Exit,
    as_json,
    in_plain_words,
    leave,
    moment,
    plan_option,
    print_json,
    say,
    show,
    study_folder,
    the_plan,
    the_study,
)

if TYPE_CHECKING:
    from planner.schedule.model import Broken, Schedule
    from planner.schedule.repacked import Waiting
    from planner.study.model import Study


@click.command()
@study_folder
@plan_option(required=True)
@click.option(
    "--before",
    "before_path",
    metavar="FILE",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="The plan that this one mends: what had begun must stay, and each change be listed.",
)
@click.option(
    "--now", "now_text", metavar="DATETIME", help="With --before: when it was mended; else when it was made."
)
@click.option("--late", metavar="P", multiple=True, help="With --before: a participant known to come late.")
@click.option(
    "--cancelled", metavar="P", multiple=True, help="With --before: a participant who did not come."
)
@click.option(
    "--out-of-use",
    "out_of_use",
    metavar="RIG=FROM/TO",
    multiple=True,
    help="With --before: a rig that failed; what ran on it was broken off.",
)
@as_json
@in_plain_words
def verify(
    folder: Path,
    plan_path: Path,
    before_path: Path | None,
    now_text: str | None,
    late: tuple[str, ...],
    cancelled: tuple[str, ...],
    out_of_use: tuple[str, ...],
    as_json: bool,
) -> None:
    """Judge a plan without the solver: every broken rule, in words."""
    from planner.schedule.plans import plans_of
    from planner.schedule.verify import verify as judge

    if before_path is None and (now_text or late or cancelled or out_of_use):
        raise click.UsageError("--now, --late, --cancelled and --out-of-use go with --before")
    study = the_study(folder)
    schedule = the_plan(study, plan_path)
    verdict = judge(schedule, study, plans_of(study, schedule))
    if before_path is not None:
        now = moment(now_text, study) if now_text else schedule.made
        old = the_plan(study, before_path)
        broken_off = _broken_off(study, old, now, cancelled, out_of_use)
        mended = _against(old, schedule, now, late, broken_off)
        verdict = replace(verdict, broken=(*verdict.broken, *mended))
    words = [f"{b.participant or ''} {b.visit or ''} {b.rule}: {b.message}".strip() for b in verdict.broken]
    words += [f"warning: {w}" for w in verdict.warnings]
    show(verdict.as_json(), "\n".join(words or ["The plan keeps every rule."]), as_json)
    if verdict.broken:
        leave(Exit.FAULTS)


def _against(
    before: Schedule, after: Schedule, now: datetime, late: tuple[str, ...], broken_off: Waiting
) -> tuple[Broken, ...]:
    """What a mended plan breaks against the one that it mends."""
    from planner.schedule.repacked import verify_repacked, waiting_in

    return verify_repacked(before, after, now, {*waiting_in(before, after, late), *broken_off})


def _broken_off(
    study: Study, before: Schedule, now: datetime, cancelled: tuple[str, ...], out_of_use: tuple[str, ...]
) -> Waiting:
    """What had begun by the plan only, and did not stay: told by options, for no plan can say it."""
    from planner.commands.mend import known_name, spans_told
    from planner.schedule.repacked import broken_off

    participants = {visit.participant for visit in before.visits}
    away = tuple(known_name("--cancelled", who, participants) for who in cancelled)
    failed = spans_told(study, "--out-of-use", out_of_use, {rig.id for rig in study.rigs})
    return broken_off(before, now, away, failed)


@click.command()
@study_folder
@plan_option(required=True)
@click.option("--by", metavar="PERSON", help="The staff code of who puts it in force.")
@click.option("--anyway", is_flag=True, help="Also where the plan breaks rules.")
@as_json
@in_plain_words
def use(folder: Path, plan_path: Path, by: str | None, anyway: bool, as_json: bool) -> None:
    """Put a plan in force; nothing else does."""
    from planner.record.store import open_store
    from planner.schedule.in_force import put_in_force
    from planner.schedule.plans import plans_of
    from planner.schedule.verify import verify as judge

    study = the_study(folder)
    schedule = the_plan(study, plan_path)
    verdict = judge(schedule, study, plans_of(study, schedule))
    if verdict.broken and not anyway:
        for broken in verdict.broken:
            say(f"{broken.participant or ''} {broken.visit or ''} {broken.rule}: {broken.message}".strip())
        say(
            "This plan breaks rules and was not put in force. "
            "Mend it (testday repack STUDY --plan FILE --now DATETIME), or say --anyway."
        )
        if as_json:
            print_json(verdict.as_json())
        leave(Exit.FAULTS)
    put_in_force(study.folder, schedule)
    with open_store(study) as store:
        store.plan_in_force(schedule, by=by)
    show({"in_force": schedule.version}, f"Plan {schedule.version} is in force.", as_json)
