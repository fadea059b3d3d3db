"""Where results and faults become words or JSON, and exit statuses; the one place for the command line."""

from __future__ import annotations

import functools
import json
import os
import sys
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from planner.faults import Fault, FaultyInput

if TYPE_CHECKING:
    from planner.schedule.model import Schedule
    from planner.study.model import Study


class Exit(IntEnum):
    """The exit statuses that the formats fix."""

    DONE = 0
    FAULTS = 1
    USAGE = 2
    IMPOSSIBLE = 3


as_json = click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")
study_folder = click.argument("folder", metavar="STUDY", type=click.Path(exists=True, path_type=Path))


class OutFile(click.Path):
    """A file to write, in a folder that is there: told before the work, not after it."""

    def __init__(self) -> None:
        super().__init__(dir_okay=False, path_type=Path)

    def convert(
        self, value: str | os.PathLike[str], param: click.Parameter | None, ctx: click.Context | None
    ) -> Path:
        """The path; a usage error where its folder is none."""
        super().convert(value, param, ctx)
        path = Path(value)
        if not path.parent.is_dir():
            self.fail(f"there is no folder {str(path.parent)!r}", param, ctx)
        return path


def plan_option(*, required: bool = False) -> Callable[..., Any]:
    """`--plan FILE`; where it is not required, the plan in force stands in."""
    words = "A plan file." if required else "A plan file; without it the plan in force."
    kind = click.Path(exists=True, dir_okay=False, path_type=Path)
    return click.option("--plan", "plan_path", metavar="FILE", required=required, type=kind, help=words)


def say(words: str) -> None:
    """Words for the person, on standard error."""
    click.echo(words, err=True)


def print_json(document: Mapping[str, Any]) -> None:
    """One JSON document on standard output."""
    sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=2, default=str) + "\n")


def show(result: Mapping[str, Any], words: str, json_wanted: bool) -> None:
    """The result: as JSON on standard output, or as words there."""
    if json_wanted:
        print_json(result)
    else:
        click.echo(words)


def faults_json(faults: Iterable[Fault], warnings: Iterable[Fault]) -> dict[str, list[dict[str, object]]]:
    """The document that the formats fix for faults."""
    return {"faults": [f.as_json() for f in faults], "warnings": [w.as_json() for w in warnings]}


def say_faults(faults: Iterable[Fault], warnings: Iterable[Fault]) -> None:
    """Each on a line of its own: place, then words."""
    for fault in faults:
        say(str(fault))
    for warning in warnings:
        say(f"{warning} (warning)")


def leave(status: Exit) -> NoReturn:
    """End the command with that status."""
    sys.exit(int(status))


def in_plain_words(command: Callable[..., None]) -> Callable[..., None]:
    """Turns faulty input and refused files into words and exit status 1; slips of ours stay loud."""

    @functools.wraps(command)
    def wrapped(*args: Any, **kwargs: Any) -> None:
        try:
            command(*args, **kwargs)
        except FaultyInput as error:
            if kwargs.get("as_json"):
                print_json(faults_json(error.faults, error.warnings))
            say_faults(error.faults, error.warnings)
            leave(Exit.FAULTS)
        except FileNotFoundError as error:
            say(f"{error.filename}: {error.strerror}")
            leave(Exit.USAGE)
        except (PermissionError, IsADirectoryError, NotADirectoryError, FileExistsError) as error:
            say(f"{error.filename}: {error.strerror}. Choose another place, or change who may write there.")
            leave(Exit.FAULTS)

    return wrapped


def the_study(folder: Path) -> Study:
    """The study in that folder; raises FaultyInput with every fault, contradictions included."""
    from planner.study.read import read_study
    from planner.timing.network import contradictions

    study = read_study(folder)
    found = [fault for protocol in study.protocols.values() for fault in contradictions(protocol)]
    if found:
        raise FaultyInput(found, study.warnings)
    return study


def the_plan(study: Study, path: Path | None) -> Schedule:
    """The plan in that file, or the one in force; a usage error where there is none."""
    from planner.schedule.plan_file import read_plan

    return read_plan(plan_file(study, path), study)


def plan_file(study: Study, path: Path | None) -> Path:
    """That file, or the one of the plan in force; a usage error where there is none."""
    from planner.schedule.in_force import in_force

    found = path or in_force(study.folder)
    if found is None:
        raise click.UsageError(
            "no plan is in force here; give --plan FILE, or first: testday use STUDY --plan FILE"
        )
    return found


def moment(text: str, study: Study) -> datetime:
    """A local date-time of the command line; a usage error where it is none."""
    from planner.clock import local_moment

    try:
        return local_moment(text, study.zone)
    except ValueError as error:
        raise click.UsageError(str(error)) from error


def a_day(text: str | None) -> date | None:
    """A date of the command line; a usage error where it is none."""
    from planner.clock import day

    try:
        return day(text) if text else None
    except ValueError as error:
        raise click.UsageError(str(error)) from error
