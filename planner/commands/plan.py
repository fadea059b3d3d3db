"""`pack`: make a plan."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import threading
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.commands.as_it_stands import (
    anyway_option,
    the_plan_as_it_stands,
    the_plan_for_a_day,
    told_once,
)
from planner.commands.plan_words import broken_words, plan_words, reason_words
from planner.commands.since import seconds_left
from planner.commands.warned import warnings_of, without_warning_s
from planner.commands.words import (
    Exit,
    OutFile,
    a_day,
    as_json,
    in_plain_words,
    leave,
    plan_option,
    say,
    show,
    study_folder,
    the_study,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from planner.packing.progress import Progress
    from planner.schedule.model import Broken, Schedule
    from planner.study.model import Study
    from planner.timing.learned import Learned
    from planner.timing.plan import VisitPlan

STDERR = 2
STOPPING = "Stopping; what was found so far is kept.\n"

out_file = click.option("--out", metavar="FILE", type=OutFile(), help="Write the plan there.")
seconds_option = click.option(
    "--seconds",
    type=click.IntRange(1, 86_400),
    default=60,
    show_default=True,
    help="For the whole command.",
)
WORTH_WORDS_S = 4  # a shorter call tells its reasons soon enough at its end


@click.command()
@study_folder
@seconds_option
@out_file
@click.option(
    "--day", "day_text", metavar="DATE", help="Pack that day of the plan anew; the other days stay."
)
@plan_option()
@click.option(
    "--on-time",
    "on_time",
    metavar="90%",
    help="Pack so that every visit keeps all windows with that chance, or nearly as surely as it can alone.",
)
@click.option("--learned", "use_learned", is_flag=True, help="Use what the record has taught about lengths.")
@click.option(
    "--capacity",
    "wants_capacity",
    is_flag=True,
    help="How many can we take? Places a day by rigs and people.",
)
@click.option(
    "--how-sure",
    "how_sure",
    is_flag=True,
    help="Play the plan 2000 times: the chance of each window, minutes late, who is waited for.",
)
@anyway_option
@click.option(
    "--workers", type=click.IntRange(1, 64), default=2, show_default=True, help="1: the same plan every time."
)
@click.option("--progress-json", is_flag=True, help="Progress as JSON, a line each, for programs.")
@as_json
@in_plain_words
def pack(
    folder: Path,
    seconds: float,
    out: Path | None,
    day_text: str | None,
    plan_path: Path | None,
    on_time: str | None,
    use_learned: bool,
    wants_capacity: bool,
    how_sure: bool,
    anyway: bool,
    workers: int,
    progress_json: bool,
    as_json: bool,
) -> None:
    """Pack visits onto days, rigs and staff; proven where it says so."""
    day, chance = a_day(day_text), None if on_time is None else _share_of(on_time)
    if sum((day is not None, chance is not None, wants_capacity, how_sure)) > 1:
        raise click.UsageError("--day, --on-time, --capacity and --how-sure: one of them at a time")
    if plan_path is not None and day is None and not how_sure:
        raise click.UsageError("--plan goes with --day or with --how-sure")
    if out is not None and (wants_capacity or how_sure):
        raise click.UsageError("--out writes a plan, and --capacity and --how-sure make none")
    if anyway and not how_sure:
        raise click.UsageError("--anyway goes with --how-sure")
    from planner.packing.light import load_solver

    stop = asked_to_stop()
    load_solver()
    if progress_json:
        say("Reading the study.")  # from here on a stop is heard
    study = the_study(folder)
    before = _before(study, plan_path, day, how_sure=how_sure, anyway=anyway)
    learned = _lengths(study, before, use_learned, day)
    plans = _plans(study, learned)
    if not (wants_capacity or how_sure or day or chance) and seconds >= WORTH_WORDS_S:
        _say_at_once(study, plans)
    left_s = seconds_left(without_warning_s(seconds, study), workers)
    call = _Call(_tell_program if progress_json else _tell, stop, left_s, workers)
    if wants_capacity:
        return _capacity(study, plans, call, as_json)
    if how_sure:
        assert before is not None  # asked above
        return _how_sure(study, plans, before, learned, as_json, stop)
    if day is not None:
        assert before is not None  # asked above
        schedule = _one_day(study, plans, before, day, call)
    elif chance is not None:
        schedule = _on_time(study, plans, chance, learned, call)
    else:
        schedule = _whole(study, plans, call)
    schedule = replace(schedule, learned=learned)
    hand_over(schedule, out, as_json, warnings=warnings_of(schedule, study, plans))
    return None


def _before(
    study: Study, path: Path | None, day: date | None, *, how_sure: bool, anyway: bool
) -> Schedule | None:
    """The plan that is played, or one day of which is packed anew; None where a new one is made."""
    if day is not None:
        return the_plan_for_a_day(study, path, day)
    return the_plan_as_it_stands(study, path, anyway=anyway).schedule if how_sure else None


def _say_at_once(study: Study, plans: Mapping[str, VisitPlan]) -> None:
    """Why not all can have a place, where that can be told before packing: nobody need wait for it."""
    from planner.packing.reasons import known_at_once

    for reason in known_at_once(study, plans):
        say(reason_words(reason))


@dataclass(frozen=True)
class _Call:
    """How long a solve may take, with how many workers, and how it hears and is heard."""

    progress: Callable[[Progress], None]
    stop: Callable[[], bool]
    seconds: float
    workers: int


def _whole(study: Study, plans: Mapping[str, VisitPlan], call: _Call) -> Schedule:
    from planner.packing.pack import pack as pack_study

    return pack_study(study, plans, now=_now(study), version=_next(study), **vars(call))


def _one_day(
    study: Study, plans: Mapping[str, VisitPlan], before: Schedule, day: date, call: _Call
) -> Schedule:
    from planner.packing.pack import pack_one_day

    return pack_one_day(study, plans, before, day, now=_now(study), **vars(call))


def _on_time(
    study: Study, plans: Mapping[str, VisitPlan], chance: float, learned: Learned | None, call: _Call
) -> Schedule:
    from planner.packing.chance.aiming import told_ahead
    from planner.packing.on_time import pack_on_time

    for line in told_ahead(study, plans, chance, learned):
        say(line)
    return pack_on_time(
        study,
        plans,
        chance=chance,
        now=_now(study),
        version=_next(study),
        learned=learned,
        **vars(call),
    )


def _how_sure(
    study: Study,
    plans: Mapping[str, VisitPlan],
    before: Schedule,
    learned: Learned | None,
    json_wanted: bool,
    stop: Callable[[], bool],
) -> None:
    from planner.packing.chance.odds_words import odds_words
    from planner.packing.play import play

    odds = play(study, plans, before, learned=learned, stop=stop)
    show(odds.as_json(), odds_words(odds), json_wanted)


def asked_to_stop() -> Callable[[], bool]:
    """Whether Ctrl-C or a polite kill has asked to stop and keep the best; a second one ends at once."""
    asked = threading.Event()

    def stop(number: int, _frame: object) -> None:
        if asked.is_set():
            raise KeyboardInterrupt
        asked.set()
        with contextlib.suppress(OSError):  # not `say`: the program may be in the midst of saying something
            os.write(STDERR, STOPPING.encode())

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, stop)
    return asked.is_set


def hand_over(
    schedule: Schedule,
    out: Path | None,
    json_wanted: bool,
    broken: Sequence[Broken] = (),
    *,
    warnings: Sequence[str],
) -> None:
    """Write the plan, say what it holds, and leave with 3 where it is proven impossible.

    `broken` is what the judge refuses in it: said first, with exit 1. `warnings` follow what the plan holds.
    """
    from planner.schedule.model import Outcome
    from planner.schedule.plan_file import plan_json, write_plan

    if out:
        write_plan(schedule, out)
        use = f" testday use STUDY --plan {out} puts it in force."
        say(f"Plan {schedule.version} written to {out}.{'' if broken else use}")
    if broken:
        told = [message for _, message in told_once(broken)]
        document = {**plan_json(schedule), "broken": [one.as_json() for one in broken]}
        show(document, broken_words(schedule, told), json_wanted)
    else:
        show(plan_json(schedule), plan_words(schedule), json_wanted)
    for words in warnings:
        say(f"warning: {words}")
    if broken:
        leave(Exit.FAULTS)
    if schedule.status is Outcome.IMPOSSIBLE:
        leave(Exit.IMPOSSIBLE)


def _lengths(study: Study, before: Schedule | None, use_learned: bool, day: date | None) -> Learned | None:
    """What a plan is packed or played with: its own learned lengths, or those of the record if asked for."""
    if before is not None and before.learned is not None:
        return before.learned
    if use_learned and day is not None:
        raise click.UsageError("--learned: this plan was made without; pack the whole study anew with it")
    return _learned(study) if use_learned else None


def _plans(study: Study, learned: Learned | None) -> Mapping[str, VisitPlan]:
    from planner.schedule.plans import visit_plans

    return visit_plans(study, learned)


def _learned(study: Study) -> Learned:
    from planner.adherence.learn import learn
    from planner.record.store import open_recorded
    from planner.schedule.in_force import in_force
    from planner.schedule.plan_file import read_plan

    current = in_force(study.folder)
    schedule = read_plan(current, study) if current else None
    with open_recorded(study) as store:
        return learn(study, store.happened(), schedule)


def _next(study: Study) -> int:
    from planner.schedule.in_force import in_force
    from planner.schedule.plan_file import read_plan

    current = in_force(study.folder)
    return read_plan(current, study).version + 1 if current else 1


def _now(study: Study) -> datetime:
    return datetime.now(study.zone).replace(microsecond=0)


def _share_of(text: str) -> float:
    digits = text.strip().removesuffix("%").strip()
    if not text.strip().endswith("%"):
        raise click.UsageError(f"--on-time {text}: write it with its sign, as 90%")
    if not digits.replace(".", "", 1).isdigit() or not 0 < float(digits) < 100:
        raise click.UsageError(f"--on-time {text}: write it as 90%")
    return float(digits) / 100


def _tell(progress: Progress) -> None:
    """One line of progress on standard error."""
    from planner.schedule.stage_words import amount_words, stage_words

    best, bound = (amount_words(progress.stage, value) for value in (progress.best, progress.bound))
    say(
        f"{stage_words(progress.stage).doing}: {progress.placed} placed; best known: {best}; "
        f"cannot be better than: {bound}; {progress.left_s:.0f} s left"
    )


def _tell_program(progress: Progress) -> None:
    """The same as one JSON document on a line."""
    say(json.dumps(asdict(progress)))


def _capacity(study: Study, plans: Mapping[str, VisitPlan], call: _Call, json_wanted: bool) -> None:
    from planner.packing.capacity import capacity

    found = capacity(study, plans, **vars(call))
    show(found.as_json(), found.words(), json_wanted)
