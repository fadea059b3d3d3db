"""A plan that the files left behind is refused by all who print or play it, in the same words."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from planner.commands.group import testday as command_line

DATA = Path(__file__).parents[1] / "data"
PLAN = DATA / "small-plan.json"
DAY = "2027-03-01"


def _call(*words: object) -> Result:
    result = CliRunner().invoke(command_line, [*map(str, words)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def _documents(folder: Path, *more: object, plan: Path = PLAN) -> Result:
    target = folder.parent / "papers"
    words = ["documents", folder, "--plan", plan, "--to", target, "--participant", "ROW-01"]
    return _call(*words, *more)


def _rehearse(folder: Path, *more: object, plan: Path = PLAN) -> Result:
    out = folder.parent / "efforts.csv"
    return _call("rehearse", folder, "--plan", plan, "--seed", 1, "--out", out, *more)


def _how_sure(folder: Path, *more: object, plan: Path = PLAN) -> Result:
    return _call("pack", folder, "--plan", plan, "--how-sure", *more)


ALL = [_documents, _rehearse, _how_sure]


def _one_gone(folder: Path) -> None:
    for name in ("participants.csv", "availability.csv"):
        lines = (folder / name).read_text("utf-8").splitlines(keepends=True)
        kept = [line for line in lines if not line.startswith("ROW-02")]
        (folder / name).write_text("".join(kept), encoding="utf-8")


def _edited(name: str, old: str, new: str) -> Callable[[Path], None]:
    def edit(folder: Path) -> None:
        file = folder / name
        text = file.read_text("utf-8")
        assert old in text
        file.write_text(text.replace(old, new), encoding="utf-8")

    return edit


OTHER_VISITS = {
    "participant removed": _one_gone,
    "visit renamed": _edited("study.yaml", "id: practice", "id: first"),
    "step renamed": _edited("practice.yaml", "id: welcome", "id: greeting"),
    "step removed": _edited(
        "practice.yaml",
        "  - id: welcome\n    title: Arrival and questions\n    takes: 5 min\n    staff: [lead]\n",
        "",
    ),
}
BROKEN_ONLY = {
    "nobody in the role": _edited("staff.csv", "K3,lead;cheek support", "K3,cheek support"),
    "another time zone": _edited("study.yaml", "Pacific/Chatham", "Pacific/Auckland"),
}


@pytest.mark.parametrize("command", ALL)
@pytest.mark.parametrize("change", OTHER_VISITS.values(), ids=OTHER_VISITS)
def test_a_plan_of_other_visits_is_refused_also_with_anyway(
    command: Callable[..., Result], change: Callable[[Path], None], small: Path
):
    change(small)
    said = {command(small, *more).output for more in ((), ("--anyway",))}
    assert len(said) == 1
    assert "make a new plan (testday pack STUDY)" in said.pop()
    assert command(small).exit_code == 1


@pytest.mark.parametrize("command", ALL)
@pytest.mark.parametrize("change", BROKEN_ONLY.values(), ids=BROKEN_ONLY)
def test_a_plan_that_breaks_rules_now_is_taken_with_anyway_only(
    command: Callable[..., Result], change: Callable[[Path], None], small: Path
):
    change(small)
    refused = command(small)
    assert refused.exit_code == 1
    assert "ROW-01, " in refused.output  # the judge's own words
    assert "or say --anyway" in refused.output
    taken = command(small, "--anyway")
    assert taken.exit_code == 0, taken.output
    assert "warning: the plan breaks rules of the study as its files stand now" in taken.output
    assert "warning: files changed since this plan was made\n" in taken.output


@pytest.mark.parametrize("command", ALL)
def test_files_that_changed_without_breaking_anything_are_told(command: Callable[..., Result], small: Path):
    assert "warning" not in command(small).output
    _edited("practice.yaml", "Stop when the participant asks to.", "Stop when asked to.")(small)
    taken = command(small)
    assert taken.exit_code == 0, taken.output
    assert "warning: files changed since this plan was made; it breaks no rule" in taken.output


def test_refused_as_json_the_rules_are_faults_of_the_plan_file(small: Path):
    _one_gone(small)
    found = json.loads(_how_sure(small, "--json").stdout)["faults"]
    assert {one["code"] for one in found} >= {"known", "broken-before"}
    assert {one["file"] for one in found} == {str(PLAN)}


def _spoilt(tmp_path: Path, spoil: Callable[[Any], object]) -> Path:
    told = json.loads(PLAN.read_text("utf-8"))
    spoil(told)
    path = tmp_path / "edited.json"
    path.write_text(json.dumps(told), encoding="utf-8")
    return path


@pytest.mark.parametrize("command", ALL)
def test_a_plan_edited_by_hand_is_refused_in_words(
    command: Callable[..., Result], small: Path, tmp_path: Path
):
    for spoil in (
        lambda plan: plan["visits"][0].update(participant="ROW-77"),
        lambda plan: plan["visits"][0]["activities"][1].update(step="nowhere"),
        lambda plan: plan["visits"][0]["activities"][1].update(start="9999-12-31T23:59:59+13:45"),
    ):
        result = command(small, "--anyway", plan=_spoilt(tmp_path, spoil))
        assert result.exit_code == 1, result.output
        assert "edited.json" in result.output


def test_one_day_is_packed_anew_of_a_plan_of_these_visits_only(small: Path, tmp_path: Path):
    """What the day's own visits lack is mended by packing them; a visit nobody asks for is not."""
    day = ("--day", DAY, "--seconds", 2)
    other = _spoilt(tmp_path, lambda plan: plan["visits"][0]["activities"][1].update(step="nowhere"))
    assert _call("pack", small, "--plan", other, *day).exit_code == 0
    gone = _spoilt(tmp_path, lambda plan: plan["visits"][0].update(participant="ROW-77"))
    refused = _call("pack", small, "--plan", gone, *day)
    assert refused.exit_code == 1
    assert "ROW-77" in refused.output
    assert "make a new plan (testday pack STUDY)" in refused.output


def test_without_a_plan_named_the_one_in_force_is_played_and_packed(small: Path, tmp_path: Path):
    for words in (["--how-sure"], ["--day", DAY, "--seconds", 2]):
        refused = _call("pack", small, *words)
        assert refused.exit_code == 2
        assert "no plan is in force here" in refused.output
    assert _call("use", small, "--plan", PLAN).exit_code == 0
    for words in (["--how-sure"], ["--day", DAY, "--seconds", 2]):
        assert _call("pack", small, *words).exit_code == 0


def test_options_that_would_be_ignored_are_refused(small: Path, tmp_path: Path):
    out = tmp_path / "x.json"
    for words in (
        ["--capacity", "--out", out],
        ["--how-sure", "--plan", PLAN, "--out", out],
        ["--plan", PLAN],
        ["--capacity", "--plan", PLAN],
        ["--anyway"],
    ):
        result = _call("pack", small, *words)
        assert result.exit_code == 2, words
        assert not out.exists()


def test_who_is_asked_for_since_is_named_when_a_day_is_packed_anew(small: Path, tmp_path: Path):
    """It ended in a fault of the program; the day is as sound with one participant more in the table."""
    (small / "participants.csv").write_text("participant\nROW-01\nROW-02\nROW-03\n", encoding="utf-8")
    _edited("study.yaml", "order: balanced", "order: listed")(small)
    plan = tmp_path / "plan.json"
    assert _call("pack", small, "--seconds", 2, "--out", plan).exit_code in (0, 3)
    with (small / "participants.csv").open("a", encoding="utf-8") as table:
        table.write("ROW-04\n")
    day = json.loads(plan.read_text("utf-8"))["visits"][0]["date"]
    result = _call("pack", small, "--day", day, "--plan", plan, "--seconds", 2, "--json")
    assert result.exit_code in (0, 3)
    found = json.loads(result.stdout)
    left = {one["visit"]: one["message"] for one in found["not_placed"] if one["participant"] == "ROW-04"}
    assert set(left) == {"practice", "rowing-1", "rowing-2"}
    assert "testday repack" in left["practice"]
    (tmp_path / "after.json").write_text(result.stdout, encoding="utf-8")
    assert _call("verify", small, "--plan", tmp_path / "after.json").exit_code == 0


@pytest.mark.parametrize("change", OTHER_VISITS.values(), ids=OTHER_VISITS)
def test_what_the_plan_before_held_is_cancelled_though_the_files_left_it_behind(
    change: Callable[[Path], None], small: Path, tmp_path: Path
):
    change(small)
    plan = tmp_path / "plan.json"
    assert _call("pack", small, "--seconds", 2, "--out", plan).exit_code in (0, 3)
    more = ("--replaces", PLAN, "--person", "K1")
    result = _call("documents", small, "--plan", plan, "--to", tmp_path / "papers", *more)
    assert result.exit_code == 0, result.output
    is_whole = change is _one_gone  # others have such visits too: what a duty was called is known
    assert ("take their duties from calendars by hand" in result.output) != is_whole
    if is_whole:
        told = [path.read_text("utf-8") for path in (tmp_path / "papers").glob("calendar-cancel_*.ics")]
        assert any("ROW-02" in one for one in told)
