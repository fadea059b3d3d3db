"""`check`, `time`, `changes`, `schema`: what a protocol says, and how long it takes."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from pathlib import Path

import click

from planner.commands.timed import timed_words
from planner.commands.words import (
    Exit,
    as_json,
    faults_json,
    in_plain_words,
    leave,
    print_json,
    say,
    say_faults,
    show,
)
from planner.faults import Fault, FaultyInput


@click.command()
@click.argument("path", type=click.Path(exists=True, path_type=Path))
@as_json
@in_plain_words
def check(path: Path, as_json: bool) -> None:
    """Read a protocol file or a study folder and list every mistake and warning."""
    try:
        warnings = _check_folder(path) if path.is_dir() else _check_protocol(path)
        faults: tuple[Fault, ...] = ()
    except FaultyInput as error:
        faults, warnings = error.faults, error.warnings
    if as_json:
        print_json(faults_json(faults, warnings))
    say_faults(faults, warnings)
    if faults:
        leave(Exit.FAULTS)
    said = f", {len(warnings)} {'warning' if len(warnings) == 1 else 'warnings'}" if warnings else ""
    say(f"{path}: no mistakes{said}")


def _check_protocol(path: Path) -> tuple[Fault, ...]:
    from planner.protocol.read import read_protocol
    from planner.timing.check import timing_warnings
    from planner.timing.network import contradictions

    protocol = read_protocol(path)
    if found := contradictions(protocol):
        raise FaultyInput(found, protocol.warnings)
    return (*protocol.warnings, *timing_warnings(protocol))


def _check_folder(folder: Path) -> tuple[Fault, ...]:
    from planner.commands.words import the_study
    from planner.timing.check import timing_warnings

    study = the_study(folder)
    timed = (warning for protocol in study.protocols.values() for warning in timing_warnings(protocol))
    return (*study.warnings, *timed)


def _share(_context: click.Context, parameter: click.Parameter, text: str | None) -> Decimal | None:
    """A percentage of the command line, such as 80%, as a share above 0 and up to 1."""
    if text is None:
        return None
    digits = text.strip().removesuffix("%").strip()
    if not text.strip().endswith("%") or not digits.replace(".", "", 1).isdigit():
        raise click.BadParameter("write it as 80%", param=parameter)
    share = Decimal(digits) / 100
    if not 0 < share <= 1:
        raise click.BadParameter("must lie above 0% and be at most 100%", param=parameter)
    return share


@click.command()
@click.argument("path", metavar="PROTOCOL", type=click.Path(exists=True, path_type=Path))
@click.option(
    "--plan-on", default="80%", callback=_share, help="Plan blocks so long that this share has ended."
)
@click.option(
    "--suggest", "wanted", is_flag=True, help="For each time point below --chance: what would mend it."
)
@click.option("--chance", default="95%", callback=_share, help="The chance that --suggest asks for.")
@as_json
@in_plain_words
def time(path: Path, plan_on: Decimal, wanted: bool, chance: Decimal, as_json: bool) -> None:
    """The timed plan of one visit, chances of its time points, numbers of efforts.

    For a study folder: what all visits together ask of one participant.
    """
    if path.is_dir():
        return _burden_of_study(path, as_json)
    from planner.protocol.read import read_protocol
    from planner.timing.burden import burden
    from planner.timing.forecast import forecast
    from planner.timing.network import contradictions

    protocol = read_protocol(path)
    if found := contradictions(protocol):
        raise FaultyInput(found, protocol.warnings)
    document = forecast(protocol, plan_on).as_json() | {"burden": burden(protocol).as_json()}
    words = timed_words(document)
    if wanted:
        from planner.timing.suggest import suggest

        suggestions = suggest(protocol, chance=float(chance))
        document["suggestions"] = [suggestion.as_json() for suggestion in suggestions]
        words += "\n\n" + ("\n".join(s.words for s in suggestions) or "Every time point reaches that chance.")
    show(document, words, as_json)
    return None


def _burden_of_study(folder: Path, json_wanted: bool) -> None:
    """Efforts and minutes of one participant over the whole study; of the first participant of each group."""
    from planner.commands.timed import burden_lines
    from planner.commands.words import the_study
    from planner.timing.burden import study_burden

    study = the_study(folder)
    first_of = {study.groups.get(name, ""): name for name in reversed(study.participants)}
    found = {}
    for group, name in sorted(first_of.items()):
        counts = Counter(visit.protocol for visit in study.asked[name])
        asked = [(study.protocols[file], number) for file, number in counts.items()]
        found[group] = study_burden(asked).as_json() | {"visits": len(study.asked[name])}
    words = [
        line
        for group, burden in found.items()
        for line in (f"{group or study.name}: {burden['visits']} visits", *burden_lines(burden))
    ]
    show({"study": study.name, "groups": found}, "\n".join(words), json_wanted)


@click.command()
@click.argument("old", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("new", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@as_json
@in_plain_words
def changes(old: Path, new: Path, as_json: bool) -> None:
    """What changed between two versions of a protocol, for an amendment."""
    from planner.documents.protocol_changes import changes as changed
    from planner.protocol.read import read_protocol

    lines = [str(change) for change in changed(read_protocol(old), read_protocol(new))]
    show({"changes": lines}, "\n".join(lines) or "Nothing changed.", as_json)


@click.command()
def schema() -> None:
    """The JSON Schema of a protocol file, for editors."""
    from planner.protocol.schema import json_schema

    print_json(json_schema())
