"""`adherence`: how closely the recorded efforts kept to the plan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.commands.words import (
    as_json,
    in_plain_words,
    plan_option,
    show,
    study_folder,
    the_plan,
    the_study,
)

if TYPE_CHECKING:
    from planner.schedule.model import Schedule
    from planner.study.model import Study


@click.command()
@study_folder
@plan_option()
@click.option(
    "--to",
    "target",
    metavar="FOLDER",
    type=click.Path(file_okay=False, path_type=Path),
    help="Write the report, the pictures and the deviation log there.",
)
@click.option(
    "--by-staff",
    is_flag=True,
    help="Name the people too: for a coordinator, where local employment law allows it.",
)
@as_json
@in_plain_words
def adherence(
    folder: Path, plan_path: Path | None, target: Path | None, by_staff: bool, as_json: bool
) -> None:
    """How closely the plan was kept, counted from the recorded end of exercise."""
    from planner.adherence.as_json import document
    from planner.adherence.beside import beside
    from planner.adherence.compare import compare
    from planner.adherence.words import summary_words
    from planner.record.store import open_recorded

    study = the_study(folder)
    schedule = _plan_if_any(study, plan_path)
    with open_recorded(study) as store:
        happened = store.happened()
        known = beside(store, by_person=by_staff)
    found = compare(study, schedule, happened, beside=known)
    if target:
        from planner.documents.adherence_report import write_report

        write_report(study, schedule, found, target, happened=happened)
    show(document(found), summary_words(found), as_json)


def _plan_if_any(study: Study, plan_path: Path | None) -> Schedule | None:
    from planner.schedule.in_force import in_force

    return the_plan(study, plan_path) if plan_path or in_force(study.folder) else None
