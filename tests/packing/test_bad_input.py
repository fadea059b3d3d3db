"""What cannot be packed or mended as it stands: a message with its place, an exit status, no traceback."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.commands import group

DATA = Path(__file__).parents[1] / "data"
NOW = "2027-03-04T07:30"
Plan = dict[str, object]


def told(*words: object) -> Result:
    result = CliRunner().invoke(group.testday, [str(word) for word in words])
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def change(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        ("participants.csv", "ROW-01\nROW-02\n", "", "names no participant"),
        ("study.yaml", "[S1, S2]", "[]", "study.yaml"),
        ("study.yaml", "to: 2027-03-05", "to: 2027-02-05", "study.yaml"),
    ],
)  # fmt: skip
def test_a_study_that_asks_for_nothing_or_has_nothing(small: Path, file: str, old: str, new: str, words: str):
    change(small / file, old, new)
    result = told("pack", small, "--seconds", 2)
    assert result.exit_code == 1
    assert words in result.output


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("K1,2027-03-01,08:00,08:00,\n", "08:00"),
        ("K1,2027-03-01,08:00,16:00,10:00-11:00;10:30-11:30\n", "overlap"),
    ],
)  # fmt: skip
def test_a_shift_of_no_length_and_breaks_that_overlap(small: Path, line: str, words: str):
    shifts = small / "shifts.csv"
    shifts.write_text(shifts.read_text("utf-8") + line, encoding="utf-8")
    result = told("pack", small, "--seconds", 2)
    assert result.exit_code == 1
    assert "shifts.csv" in result.output
    assert words in result.output


def edited(small: Path, spoil: Callable[[Plan], object]) -> Path:
    plan = json.loads((DATA / "small-plan.json").read_text("utf-8"))
    spoil(plan)
    path = small / "edited.json"
    path.write_text(json.dumps(plan), encoding="utf-8")
    return path


def _first(plan: Plan) -> dict[str, object]:
    return plan["visits"][0]["activities"][0]  # type: ignore[index, no-any-return]


SPOILT: dict[str, Callable[[Plan], object]] = {
    "another study": lambda plan: plan.update(study="another"),
    "visits no list": lambda plan: plan.update(visits="none"),
    "version no number": lambda plan: plan.update(version="two"),
    "no asked": lambda plan: plan.pop("asked"),
    "start no moment": lambda plan: _first(plan).update(start="soon"),
    "start without offset": lambda plan: _first(plan).update(start="2027-03-01T09:00:00"),
}


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT)
def test_a_plan_that_cannot_be_understood_is_refused_everywhere(small: Path, spoil: Callable[[Plan], object]):
    path = edited(small, spoil)
    calls = (
        ("verify", small, "--plan", path),
        ("use", small, "--plan", path),
        ("repack", small, "--plan", path, "--now", NOW, "--late", "ROW-02=10"),
        ("documents", small, "--plan", path, "--to", small / "papers"),
    )
    for call in calls:
        result = told(*call)
        assert result.exit_code == 1, (call[0], result.output)
        assert "edited.json" in result.output
    assert not (small / "papers").exists() or not any((small / "papers").iterdir())


@pytest.mark.parametrize("text", ["", "{", "[]", "null", '{"study": "small"', "\x00\x01"])
def test_a_file_that_is_no_plan(small: Path, text: str):
    path = small / "edited.json"
    path.write_text(text, encoding="utf-8")
    for call in (
        ("verify", small, "--plan", path),
        ("repack", small, "--plan", path, "--now", NOW, "--late", "ROW-02=10"),
    ):
        result = told(*call)
        assert result.exit_code == 1
        assert "edited.json" in result.output


@pytest.mark.parametrize(
    "spoil",
    [
        lambda plan: _first(plan).update(start="2027-03-01T03:00:00+13:45"),
        lambda plan: _first(plan).update(staff={"lead": "K9"}),
        lambda plan: plan["visits"].pop(),
    ],
    ids=["moved", "unknown person", "a visit gone"],
)
def test_a_plan_that_breaks_rules_is_judged_and_not_put_in_force(
    small: Path, spoil: Callable[[Plan], object]
):
    path = edited(small, spoil)
    result = told("verify", small, "--plan", path, "--json")
    assert result.exit_code == 1
    assert json.loads(result.stdout)
    assert told("use", small, "--plan", path).exit_code == 1
    assert told("repack", small, "--plan", path, "--now", NOW, "--late", "ROW-02=10").exit_code == 1


@pytest.mark.parametrize(
    "words",
    [
        ("--late", "ROW-09=10"),
        ("--late", "ROW-02=soon"),
        ("--ended", "ROW-02/nowhere=2027-03-04T09:00"),
        ("--out-of-use", "S9=2027-03-04T09:00/2027-03-04T10:00"),
        ("--out-of-use", "S1=2027-03-04T10:00/2027-03-04T09:00"),
        ("--absent", "K1=2027-03-04T09:00"),
    ],
)
def test_a_trouble_of_nobody_is_a_wrong_command(small: Path, words: tuple[str, str]):
    result = told("repack", small, "--plan", DATA / "small-plan.json", "--now", NOW, *words)
    assert result.exit_code == 2
    assert words[0] in result.output


@pytest.mark.parametrize(("day", "opens"), [("2027-04-04", "01:00-12:00"), ("2027-09-26", "01:30-12:00")])
def test_a_day_on_which_clocks_change_is_packed_and_judged(tmp_path: Path, day: str, opens: str):
    """Chatham's clocks go back at 03:45 on 4 April 2027 and on at 02:45 on 26 September (IANA tzdata)."""
    small = tmp_path / "changed"
    shutil.copytree(DATA / "small", small)
    change(small / "study.yaml", "from: 2027-03-01, to: 2027-03-05", f"from: {day}, to: {day}")
    change(small / "study.yaml", '{mon-fri: "08:00-17:00"}, closed: [2027-03-03]', f'{{sun: "{opens}"}}')
    change(small / "study.yaml", 'start: "08:00-15:00"', 'start: "01:00-10:00"')
    start, end = opens.split("-")
    people = [line.split(",")[0] for line in (small / "staff.csv").read_text("utf-8").splitlines()[1:]]
    rows = "".join(f"{person},sun,{start},{end},\n" for person in people)
    (small / "shifts.csv").write_text("person,days,from,to,breaks\n" + rows, encoding="utf-8")
    (small / "availability.csv").write_text("participant,days,from,to\n", encoding="utf-8")
    plan = tmp_path / "plan.json"
    assert told("pack", small, "--seconds", 3, "--out", plan).exit_code in (0, 3)
    assert told("verify", small, "--plan", plan).exit_code == 0
    assert json.loads(plan.read_text("utf-8"))["placed"] >= 1
