"""`pack`, `verify`, `use`: make a plan, judge it, put it in force."""

from __future__ import annotations

import json
import signal
import threading
from collections.abc import Callable
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.commands.words import (
    Exit,
    OutFile,
    a_day,
    as_json,
    in_plain_words,
    leave,
    plan_option,
    print_json,
    say,
    show,
    study_folder,
    the_plan,
    the_study,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.packing.progress import Progress
    from planner.schedule.model import Schedule
    from planner.study.model import Study
    from planner.timing.learned import Learned
    from planner.timing.plan import VisitPlan

out_file = click.option("--out", metavar="FILE", type=OutFile(), help="Write the plan there.")
seconds_option = click.option(
    "--seconds",
    type=click.IntRange(1, 86_400),
    default=60,
    show_default=True,
    help="For the whole command.",
)


@click.command()
@study_folder
@seconds_option
@out_file
@click.option("--day", "day_text", metavar="DATE", help="Pack that day of --plan anew; the other days stay.")
@plan_option()
@click.option(
    "--on-time", "on_time", metavar="90%", help="Pack so that every visit keeps all windows with that chance."
)
@click.option("--learned", "use_learned", is_flag=True, help="Use what the record has taught about lengths.")
@click.option(
    "--capacity",
    "wants_capacity",
    is_flag=True,
    help="How many can we take? Places a day by rigs and people.",
)
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
    workers: int,
    progress_json: bool,
    as_json: bool,
) -> None:
    """Pack visits onto days, rigs and staff; proven where it says so."""
    day = a_day(day_text)
    if (day is None) != (plan_path is None):
        raise click.UsageError("--day and --plan go together")
    stop = None if wants_capacity or on_time else asked_to_stop()
    if progress_json:
        say("Reading the study.")  # from here on a stop is heard
    study = the_study(folder)
    plans = _plans(study, use_learned)
    tell = _tell_program if progress_json else _tell
    if wants_capacity:
        return _capacity(study, plans, seconds, as_json)
    if day is not None:
        from planner.packing.pack import pack_one_day

        before = the_plan(study, plan_path)
        if day not in before.dates:
            raise click.UsageError(f"--day {day}: the plan has no visit on that day")
        schedule = pack_one_day(
            study, plans, before, day, seconds=seconds, now=_now(study), progress=tell, stop=stop
        )
    elif on_time:
        from planner.packing.on_time import pack_on_time

        chance = _share_of(on_time)
        schedule = pack_on_time(
            study, plans, chance=chance, seconds=seconds, now=_now(study), version=_next(study)
        )
    else:
        from planner.packing.pack import pack as pack_study

        schedule = pack_study(
            study,
            plans,
            seconds=seconds,
            now=_now(study),
            version=_next(study),
            progress=tell,
            stop=stop,
            workers=workers,
        )
    hand_over(schedule, out, as_json)
    return None


def asked_to_stop() -> Callable[[], bool]:
    """Whether Ctrl-C or a polite kill has asked to stop and keep the best; a second one ends at once."""
    asked = threading.Event()

    def stop(number: int, _frame: object) -> None:
        if asked.is_set():
            raise KeyboardInterrupt
        asked.set()
        say("Stopping; the best plan so far is kept.")

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, stop)
    return asked.is_set


def hand_over(schedule: Schedule, out: Path | None, json_wanted: bool) -> None:
    """Write the plan, say what it holds, and leave with 3 where it is proven impossible."""
    from planner.schedule.model import Outcome
    from planner.schedule.plan_file import plan_json, write_plan

    if out:
        write_plan(schedule, out)
        say(f"Plan {schedule.version} written to {out}.")
    show(plan_json(schedule), plan_words(schedule), json_wanted)
    if schedule.status is Outcome.IMPOSSIBLE:
        leave(Exit.IMPOSSIBLE)


def plan_words(schedule: Schedule) -> str:
    """What a plan holds, in plain words."""
    from planner.schedule.model import Outcome

    status = {
        Outcome.OPTIMAL: "No better plan exists under these rules.",
        Outcome.FEASIBLE: "The plan works; a better one may exist.",
        Outcome.IMPOSSIBLE: "Not all visits can be placed: these demands cannot all be met.",
    }
    lines = [
        f"{schedule.placed} of {schedule.asked} visits placed on {len(schedule.dates)} days. "
        f"{status[schedule.status]}"
    ]
    lines += [f"  {s.name}: {s.value} (cannot be better than {s.bound}; {s.status})" for s in schedule.stages]
    lines += [f"  not placed: {n.participant} {n.visit}: {n.message}" for n in schedule.not_placed]
    lines += [f"  {r.file or ''}:{r.line or ''} {r.message}".replace(" : ", " ") for r in schedule.reasons]
    lines += [f"  change: {change.message}" for change in schedule.changes]
    return "\n".join(lines)


@click.command()
@study_folder
@plan_option(required=True)
@as_json
@in_plain_words
def verify(folder: Path, plan_path: Path, as_json: bool) -> None:
    """Judge a plan without the solver: every broken rule, in words."""
    from planner.schedule.verify import verify as judge

    study = the_study(folder)
    verdict = judge(the_plan(study, plan_path), study, _plans(study, learned=False))
    words = [f"{b.participant or ''} {b.visit or ''} {b.rule}: {b.message}".strip() for b in verdict.broken]
    words += [f"warning: {w}" for w in verdict.warnings]
    show(verdict.as_json(), "\n".join(words or ["The plan keeps every rule."]), as_json)
    if verdict.broken:
        leave(Exit.FAULTS)


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
    from planner.schedule.verify import verify as judge

    study = the_study(folder)
    schedule = the_plan(study, plan_path)
    verdict = judge(schedule, study, _plans(study, learned=False))
    if verdict.broken and not anyway:
        for broken in verdict.broken:
            say(f"{broken.participant or ''} {broken.visit or ''} {broken.rule}: {broken.message}".strip())
        say("This plan breaks rules and was not put in force. Mend it, or say --anyway.")
        if as_json:
            print_json(verdict.as_json())
        leave(Exit.FAULTS)
    put_in_force(study.folder, schedule)
    with open_store(study) as store:
        store.plan_in_force(schedule, by=by)
    show({"in_force": schedule.version}, f"Plan {schedule.version} is in force.", as_json)


def _plans(study: Study, learned: bool) -> Mapping[str, VisitPlan]:
    from planner.schedule.plans import visit_plans

    return visit_plans(study, _learned(study) if learned else None)


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
    if not digits.replace(".", "", 1).isdigit() or not 0 < float(digits) < 100:
        raise click.UsageError(f"--on-time {text}: write it as 90%")
    return float(digits) / 100


def _tell(progress: Progress) -> None:
    """One line of progress on standard error."""
    left = f"{progress.left_s:.0f} s left"
    say(f"{progress.stage}: {progress.placed} placed, best {progress.best}, at best {progress.bound}, {left}")


def _tell_program(progress: Progress) -> None:
    """The same as one JSON document on a line."""
    say(json.dumps(asdict(progress)))


def _capacity(study: Study, plans: Mapping[str, VisitPlan], seconds: float, json_wanted: bool) -> None:
    from planner.packing.capacity import capacity

    found = capacity(study, plans, seconds=seconds)
    show(found.as_json(), found.words(), json_wanted)
