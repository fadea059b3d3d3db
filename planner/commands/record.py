"""`rehearse`, `record`: made-up efforts for a dry run; efforts files into the record."""

from __future__ import annotations

from pathlib import Path

import click

from planner.commands.as_it_stands import anyway_option, the_plan_as_it_stands
from planner.commands.words import (
    OutFile,
    as_json,
    in_plain_words,
    plan_option,
    say,
    show,
    study_folder,
    the_study,
)


@click.command()
@study_folder
@plan_option()
@click.option("--seed", type=click.IntRange(0), required=True, help="The same number gives the same draw.")
@click.option("--out", metavar="FILE", required=True, type=OutFile())
@anyway_option
@as_json
@in_plain_words
def rehearse(folder: Path, plan_path: Path | None, seed: int, out: Path, anyway: bool, as_json: bool) -> None:
    """Play the planned visits into an efforts file with made-up numbers."""
    from planner.record.efforts_file import write_efforts
    from planner.record.rehearse import rehearse as play

    study = the_study(folder)
    plan = the_plan_as_it_stands(study, plan_path, anyway=anyway)
    lines = play(study, plan.schedule, plan.plans, seed=seed)
    count = write_efforts(out, lines, study)
    show({"lines": count}, f"{count} rehearsed lines in {out}", as_json)


@click.command()
@study_folder
@click.argument("efforts", metavar="FILE", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--by", metavar="PERSON", help="The staff code of who hands the file in.")
@click.option("--real", is_flag=True, help="Begin the real record after a rehearsal, which stays beside it.")
@as_json
@in_plain_words
def record(folder: Path, efforts: Path, by: str | None, real: bool, as_json: bool) -> None:
    """Take an efforts file into the study's record; sent twice, it is kept once."""
    from planner.record.efforts_file import read_efforts
    from planner.record.store import open_store, open_store_for

    study = the_study(folder)
    if by is not None and by not in {person.id for person in study.people}:
        raise click.UsageError(f"--by {by}: nobody of that code in this study")
    lines = read_efforts(efforts, study)
    with open_store(study) if real else open_store_for(study, lines) as store:
        taken = store.take(lines, by=by)
    for warning in lines.warnings:
        say(f"{warning} (warning)")
    for refused in taken.refused:
        say(f"{efforts.name}: row {refused.row}: {refused.message}")
    words = f"{taken.added} added, {taken.already_there} already there, {len(taken.refused)} refused"
    show(taken.as_json(), words, as_json)
