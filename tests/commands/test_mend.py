"""`repack` as a program: what it refuses, what it warns of, and what it says at its end."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from planner.commands.group import testday as command_line

DATA = Path(__file__).parents[1] / "data"
STUDY, PLAN = DATA / "treadmill_day", DATA / "treadmill_day-plan.json"
DAY, EARLY = "2027-03-01", "2027-03-01T07:00"

Plan = dict[str, Any]


def mend(*words: object, plan: Path = PLAN, study: Path = STUDY, now: str = EARLY) -> Result:
    call = ["repack", str(study), "--plan", str(plan), "--now", now, *map(str, words)]
    return CliRunner().invoke(command_line, call)


def spoilt(tmp_path: Path, spoil: Callable[[Plan], object], plan: Path = PLAN) -> Path:
    told = json.loads(plan.read_text("utf-8"))
    spoil(told)
    path = tmp_path / "edited.json"
    path.write_text(json.dumps(told), encoding="utf-8")
    return path


def _activity(plan: Plan, step: str, manoeuvre: str | None, visit: int = 0) -> dict[str, Any]:
    return next(
        a for a in plan["visits"][visit]["activities"] if (a["step"], a["manoeuvre"]) == (step, manoeuvre)
    )


def _same_start(plan: Plan) -> None:
    """The second visit's activities at the times and on the rigs of the first."""
    plan["visits"][1]["activities"] = plan["visits"][0]["activities"]
    for name in ("start", "end"):
        plan["visits"][1][name] = plan["visits"][0][name]


BREACHES: dict[str, tuple[Callable[[Plan], object], str]] = {
    "without the role": (lambda p: _activity(p, "consent", None).update(staff={"lead": "T1"}), "T1"),
    "no such rig": (lambda p: _activity(p, "before", "mip").update(rig="M9"), "M9"),
    "an activity gone": (
        lambda p: p["visits"][0]["activities"].remove(_activity(p, "after-15", "fvc")),
        "after-15",
    ),
    "taken twice": (_same_start, "is taken tw"),
    "nobody's code": (lambda p: p["visits"][0].update(participant="Q99"), "Q99"),
    "a visit gone": (
        lambda p: p.update(placed=p["placed"] - 1, visits=p["visits"][1:]),
        "neither placed nor named",
    ),
}


@pytest.mark.parametrize(("spoil", "words"), BREACHES.values(), ids=BREACHES)
def test_a_plan_that_breaks_rules_is_refused_in_the_judges_words(
    tmp_path: Path, spoil: Callable[[Plan], object], words: str
):
    path, out = spoilt(tmp_path, spoil), tmp_path / "mended.json"
    result = mend("--out", out, plan=path)
    assert result.exit_code == 1, result.output
    judged = CliRunner().invoke(command_line, ["verify", str(STUDY), "--plan", str(path), "--json"])
    broken = json.loads(judged.stdout)["broken"]
    assert broken
    for one in broken:
        assert one["message"] in result.stderr
    assert words in result.stderr
    assert "--anyway" in result.stderr
    assert not out.exists()
    faults = json.loads(mend("--json", plan=path).stdout)["faults"]
    assert [f["code"] for f in faults[: len(broken)]] == [one["rule"] for one in broken]


def test_a_plan_that_breaks_rules_is_mended_where_that_is_asked_for(tmp_path: Path):
    path = spoilt(tmp_path, lambda p: _activity(p, "consent", None).update(staff={"lead": "T1"}))
    assert mend("--anyway", plan=path).exit_code == 0


def test_what_an_earlier_mend_lists_as_not_kept_is_no_breach(tmp_path: Path):
    """A run that lasts 30 minutes longer than planned misses windows, and the day goes on."""
    plan = json.loads(PLAN.read_text("utf-8"))
    last = max(plan["visits"], key=lambda one: one["start"])
    run = next(a for a in last["activities"] if a["step"] == "run")
    first, again = tmp_path / "first.json", tmp_path / "again.json"
    short = run["start"][:14] + "59:00" if run["start"][14:16] < "50" else run["end"][:19]
    told = f"{last['participant']}/run={short}"
    assert mend("--ended", told, "--out", first, now=short).exit_code == 0
    result = mend("--out", again, plan=first, now=short)
    assert result.exit_code == 0, result.output


SMALL, SMALL_PLAN = DATA / "small", DATA / "small-plan.json"
SLIPS = {
    "no visit that day": (
        ("--late", "ROW-02=10"), "2027-03-03T09:00", "no visit on 2027-03-03 that could still be late",
    ),
    "late for what is over": (
        ("--late", "ROW-02=10"), "2027-03-01T18:00", "no visit on 2027-03-01 that could still be late",
    ),
    "cancelled and over": (
        ("--cancelled", "ROW-02"), "2027-03-01T18:00", "the visit of 2027-03-01 is over",
    ),
    "cancelled after the last": (
        ("--cancelled", "ROW-02"), "2027-03-12T09:00", "has no visit from 2027-03-12 on",
    ),
    "no such step that day": (
        ("--ended", "ROW-02/row=2027-03-01T09:30"), "2027-03-01T09:00", "ROW-02 has no row on 2027-03-01",
    ),
    "ended another day": (
        ("--ended", "ROW-02/learn=2027-03-02T09:30"), "2027-03-01T09:00", "ends on 2027-03-02",
    ),
    "late twice": (
        ("--late", "ROW-02=10", "--late", "ROW-02=20"), "2027-03-01T07:00", "given twice",
    ),
    "ended twice": (
        ("--ended", "ROW-02/learn=2027-03-01T12:30", "--ended", "ROW-02/learn=2027-03-01T12:40"),
        "2027-03-01T09:00", "given twice",
    ),
    "late and ended": (
        ("--late", "ROW-02=10", "--ended", "ROW-02/welcome=2027-03-01T08:40"),
        "2027-03-01T08:10", "are of the same visit (practice): who has yet to come has ended nothing",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("words", "now", "told"), SLIPS.values(), ids=SLIPS)
def test_a_trouble_that_speaks_of_no_visit_that_could_be_meant_is_refused(
    words: tuple[str, ...], now: str, told: str
):
    result = mend(*words, plan=SMALL_PLAN, study=SMALL, now=now)
    assert result.exit_code == 2, result.output
    assert f"{words[0]} " in result.stderr
    assert told in result.stderr


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--out-of-use", "S1=2027-03-01T08:00/2027-03-01T08:30"), "it is over at"),
        (("--absent", "K1=2028-03-01T08:00/2028-03-01T08:30"), "no open day"),
    ],
)
def test_a_trouble_of_another_time_changes_nothing_and_is_said(words: tuple[str, ...], told: str):
    result = mend(*words, "--json", plan=SMALL_PLAN, study=SMALL, now="2027-03-01T09:00")
    assert result.exit_code == 0, result.output
    assert told in result.stderr
    before = json.loads(SMALL_PLAN.read_text("utf-8"))["visits"]
    assert [v["start"] for v in json.loads(result.stdout)["visits"]] == [v["start"] for v in before]


def test_a_trouble_that_hits_nothing_beside_one_that_does_is_a_warning():
    over, now = "S1=2027-03-01T06:00/2027-03-01T06:30", "2027-03-01T07:00"
    result = mend("--out-of-use", over, "--late", "ROW-02=5", plan=SMALL_PLAN, study=SMALL, now=now)
    assert result.exit_code == 0, result.output
    assert "warning: --out-of-use S1: it is over" in result.stderr


def test_which_visit_is_cancelled_is_said_where_it_is_on_another_day():
    result = mend("--cancelled", "ROW-02", plan=SMALL_PLAN, study=SMALL, now="2027-02-27T09:00")
    assert "no visit on 2027-02-27; practice on 2027-03-01 is taken" in result.stderr


def test_an_outage_of_an_hour_in_which_nobody_needs_the_rig_is_no_slip():
    span = "S1=2027-03-01T16:30/2027-03-01T16:45"
    result = mend("--out-of-use", span, plan=SMALL_PLAN, study=SMALL, now="2027-03-01T07:00")
    assert result.exit_code == 0, result.output
    assert "warning" not in result.stderr


@pytest.mark.parametrize("words", [("--late", "ROW-02=5"), ("--late", "ROW-02=5", "--json"), ()])
def test_that_troubles_are_to_be_told_again_is_said_last(words: tuple[str, ...]):
    result = mend(*words, plan=SMALL_PLAN, study=SMALL, now="2027-03-01T07:00")
    assert result.exit_code == 0
    assert "tell those that still stand once more" in result.stderr.splitlines()[-1]
    assert "tell those" not in result.stdout


def test_it_is_said_also_where_a_visit_has_no_place_any_more(tmp_path: Path):
    result = mend("--cancelled", "Q02", "--out", tmp_path / "mended.json")
    assert result.exit_code == 0
    assert "tell those that still stand once more" in result.stderr.splitlines()[-1]


def test_the_help_says_that_a_plan_keeps_no_troubles():
    result = CliRunner().invoke(command_line, ["repack", "--help"])
    assert "keeps no troubles" in result.output


def test_visits_on_other_days_are_counted_by_themselves():
    """ROW-01's practice moves to where the first rowing was, and the rowings behind it."""
    result = mend("--cancelled", "ROW-01", plan=SMALL_PLAN, study=SMALL, now="2027-03-01T07:00")
    assert result.exit_code == 0, result.output
    assert "  On another day than told: 3 visits\n" in result.stdout
    assert "Shifted within the day, over all blocks: 0 min" in result.stdout
    late = mend("--late", "ROW-02=5", plan=SMALL_PLAN, study=SMALL, now="2027-03-01T07:00")
    assert "On another day" not in late.stdout


def edited(small: Path, table: str, *lines: str) -> Path:
    file = small / table
    file.write_text("\n".join([file.read_text("utf-8").rstrip(), *lines, ""]), encoding="utf-8")
    return small


def verified(study: Path, plan: Path) -> int:
    return CliRunner().invoke(command_line, ["verify", str(study), "--plan", str(plan)]).exit_code


def test_a_line_written_since_is_mended_without_further_words(small: Path, tmp_path: Path):
    study, out = edited(small, "availability.csv", "ROW-01,mon-fri,12:00,17:00,"), tmp_path / "mended.json"
    assert verified(study, SMALL_PLAN) == 1
    result = mend("--out", out, plan=SMALL_PLAN, study=study, now="2027-02-28T12:00")
    assert result.exit_code == 0, result.output
    assert "do not allow all of this plan" in result.stderr
    assert f"testday use STUDY --plan {out} puts it in force" in result.stderr
    assert verified(study, out) == 0


def test_a_plan_that_stays_broken_is_never_said_to_work(small: Path, tmp_path: Path):
    """What it says of itself is wrong, and nothing that moves visits mends that."""
    path = spoilt(tmp_path, lambda p: p["stages"][2].update(value=60), SMALL_PLAN)
    result = mend("--anyway", plan=path, study=small, now="2027-02-28T12:00")
    assert result.exit_code == verified(small, path) == 1, result.output
    assert "The plan breaks 2 rules" in result.stdout
    for words in ("works", "proven", "No better plan"):
        assert words not in result.stdout
    told = json.loads(mend("--anyway", "--json", plan=path, study=small, now="2027-02-28T12:00").stdout)
    assert told["status"] == "feasible"
    assert len(told["broken"]) == 2


def test_one_line_that_breaks_many_blocks_is_named_once(small: Path, tmp_path: Path):
    study = edited(small, "absences.csv", "K1,2027-03-01T00:00,2027-03-06T00:00")
    path = spoilt(tmp_path, lambda p: _activity(p, "learn", "fvc").update(planned_efforts=2), SMALL_PLAN)
    result = mend(plan=path, study=study, now="2027-02-28T12:00")
    assert result.exit_code == 1
    assert sum("K1 is absent" in line for line in result.stderr.splitlines()) == 1
    assert "K1 is absent, which breaks" in result.stderr


def test_a_participant_whom_the_files_have_no_more_breaks_no_second_rule(small: Path):
    for name in ("participants.csv", "availability.csv"):
        lines = (small / name).read_text("utf-8").splitlines(keepends=True)
        (small / name).write_text("".join(one for one in lines if not one.startswith("ROW-02")), "utf-8")
    judged = CliRunner().invoke(command_line, ["verify", str(small), "--plan", str(SMALL_PLAN), "--json"])
    rules = [one["rule"] for one in json.loads(judged.stdout)["broken"] if one["participant"]]
    assert set(rules) == {"known"}
    result = mend(plan=SMALL_PLAN, study=small, now="2027-02-28T12:00")
    assert result.exit_code == 0, result.output
