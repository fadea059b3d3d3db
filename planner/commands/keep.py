"""`audit`, `backup`, `restore`, `withdraw`, `export`, `set-up-database`: looking after the record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.commands.words import Exit, as_json, in_plain_words, leave, say, show, study_folder, the_study

if TYPE_CHECKING:
    from planner.record.access import Actor
    from planner.study.model import Study

by_coordinator = click.option(
    "--by", metavar="PERSON", required=True, help="The staff code of the coordinator."
)
A_FOLDER = click.Path(file_okay=False, path_type=Path)
OWNER = "TESTDAY_OWNER_URL"


@click.command()
@study_folder
@as_json
@in_plain_words
def audit(folder: Path, as_json: bool) -> None:
    """Find any event of the record that was changed, lost or moved."""
    from planner.record.chain import check
    from planner.record.store import open_recorded

    with open_recorded(the_study(folder)) as store:
        problems = check(store)
    found = [{"event": problem.seq, "message": problem.message} for problem in problems]
    words = "\n".join(problem.message for problem in problems) or "The record is whole."
    show({"problems": found}, words, as_json)
    if problems:
        leave(Exit.FAULTS)


@click.command()
@study_folder
@click.option("--to", "target", metavar="PLACE", required=True, type=click.Path(path_type=Path))
@click.option("--by", metavar="PERSON", required=True, help="The staff code of who asks for it.")
@as_json
@in_plain_words
def backup(folder: Path, target: Path, by: str, as_json: bool) -> None:
    """Copy the record while it is in use; PLACE is a folder, or a name ending in .sqlite3."""
    from planner.record.backup import backup as copy
    from planner.record.store import open_recorded

    study = the_study(folder)
    with open_recorded(study) as store:
        done = copy(store, target, by=_coordinator(study, by))
    show(
        {"file": str(done.file), "events": done.events},
        f"{done.events} events copied to {done.file}",
        as_json,
    )


@click.command()
@study_folder
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@by_coordinator
@click.option("--anyway", is_flag=True, help="Also where the record holds events that the backup lacks.")
@as_json
@in_plain_words
def restore(folder: Path, file: Path, by: str, anyway: bool, as_json: bool) -> None:
    """Put a backup back; the record that it replaces is kept beside it."""
    from planner.record.backup import restore as put_back
    from planner.record.store import open_recorded

    study = the_study(folder)
    with open_recorded(study) as store:
        done = put_back(store, file, by=_coordinator(study, by), anyway=anyway)
    if done.kept:
        say(f"The record that was there is kept as {done.kept}")
    show({"events": done.events, "kept": str(done.kept or "")}, f"{done.events} events restored", as_json)


@click.command()
@study_folder
@click.argument("participant")
@by_coordinator
@click.option("--reason", required=True, help="Why, without naming anybody.")
@click.option("--owner-url", envvar=OWNER, help="PostgreSQL: the account that owns the tables.")
@as_json
@in_plain_words
def withdraw(  # one parameter an option
    folder: Path, participant: str, by: str, reason: str, owner_url: str | None, as_json: bool
) -> None:
    """Blank one participant's readings and notes on withdrawal; the events' places and hashes stay."""
    from planner.record.removal import remove
    from planner.record.store import open_recorded

    study = the_study(folder)
    with open_recorded(study) as store:
        done = remove(store, participant, by=_coordinator(study, by), reason=reason, owner_url=owner_url)
    words = f"{done.events} events and {done.refused_rows} refused rows blanked."
    if done.backups:
        words += " These backups still hold the readings: " + ", ".join(done.backups)
    found = {"events": done.events, "refused_rows": done.refused_rows, "backups": list(done.backups)}
    show(found, words, as_json)


@click.command()
@study_folder
@click.option(
    "--to", "target", metavar="FOLDER", required=True, type=click.Path(file_okay=False, path_type=Path)
)
@by_coordinator
@click.option("--conditions", is_flag=True, help="Also which visit had which condition; this unblinds.")
@as_json
@in_plain_words
def export(folder: Path, target: Path, by: str, conditions: bool, as_json: bool) -> None:
    """Write the record as CSV with a data dictionary."""
    from planner.record.access import Right, refuse_unless
    from planner.record.export import export as write
    from planner.record.store import open_recorded

    study = the_study(folder)
    with open_recorded(study) as store:
        refuse_unless(store, _coordinator(study, by), Right.EXPORT)
        files = write(store, target, conditions=conditions)
    show({"files": [str(file) for file in files]}, f"{len(files)} files in {target}", as_json)


@click.command()
@study_folder
@click.option("--owner-url", envvar=OWNER, required=True, help="An account that may create schemas.")
@click.option("--account", required=True, help="The account that the app uses: it may read and add, no more.")
@in_plain_words
def set_up_database(folder: Path, owner_url: str, account: str) -> None:
    """Make the study's record in PostgreSQL; sent again, it changes nothing."""
    from planner.record.accounts import set_up

    set_up(the_study(folder), owner_url, account)
    say("The record is set up. Give the app its own account's URL in TESTDAY_RECORD_URL.")


def _coordinator(study: Study, code: str) -> Actor:
    """Whoever has this machine's shell acts as coordinator; the record says that the code was picked."""
    from planner.record.access import Actor, Role

    if code not in {person.id for person in study.people}:
        raise click.UsageError(f"--by {code}: nobody of that code in this study")
    return Actor(code, Role.COORDINATOR)
