"""`documents`: what people hold in their hands."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.commands.as_it_stands import anyway_option, the_plan_as_it_stands
from planner.commands.words import (
    a_day,
    as_json,
    in_plain_words,
    plan_option,
    say,
    show,
    study_folder,
    the_study,
)

if TYPE_CHECKING:
    from planner.schedule.model import Schedule
    from planner.study.model import Study

UNNAMED = "the study no longer has these visits of the plan before; take their duties from calendars by hand"


@click.command()
@study_folder
@plan_option()
@click.option(
    "--to", "target", metavar="FOLDER", required=True, type=click.Path(file_okay=False, path_type=Path)
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@click.option("--day", "day_text", metavar="DATE", help="That day only.")
@click.option("--person", help="What one member of staff needs.")
@click.option("--participant", help="What one participant's visits need.")
@click.option(
    "--replaces",
    metavar="FILE",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="The plan before: its calendar entries that are gone are cancelled.",
)
@anyway_option
@as_json
@in_plain_words
def documents(
    folder: Path,
    plan_path: Path | None,
    target: Path,
    paper: str,
    day_text: str | None,
    person: str | None,
    participant: str | None,
    replaces: Path | None,
    anyway: bool,
    as_json: bool,
) -> None:
    """Run sheets, boards, leaflets, calendars, kit lists and the ethics text."""
    from planner.documents.write import write

    study = the_study(folder)
    plan = the_plan_as_it_stands(study, plan_path, anyway=anyway)
    known = {p.id for p in study.people} | set(study.participants) | {None}
    if person not in known or participant not in known:
        raise click.UsageError(f"{person or participant}: nobody of that code in this study")
    files = write(
        study,
        plan.schedule,
        plan.plans,
        target,
        paper=paper,
        day=a_day(day_text),
        person=person,
        participant=participant,
        replaced=_replaced(study, replaces) if replaces else None,
        progress=lambda made: say(str(made)),
    )
    show({"files": [str(f) for f in files]}, f"{len(files)} files in {target}", as_json)


def _replaced(study: Study, path: Path) -> Schedule:
    """The plan before; what cannot be cancelled of it in calendars is told."""
    from planner.documents.shown import is_understood
    from planner.schedule.plan_file import read_plan

    before = read_plan(path, study)
    gone = [visit for visit in before.visits if not is_understood(study, visit)]
    if gone:
        named = ", ".join(f"{visit.participant} {visit.file_id}" for visit in gone)
        say(f"warning: {UNNAMED}: {named}")
    return before
