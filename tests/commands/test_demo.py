"""The demo study as it is opened: rehearsed, unless its plan is of other visits than its files ask for."""

from pathlib import Path

from planner.commands.demo import _rehearse
from planner.schedule.in_force import in_force
from planner.study.read import read_study


def test_the_shipped_demo_is_rehearsed(demo: Path):
    said: list[str] = []
    _rehearse(read_study(demo), said.append)
    assert in_force(demo) is not None
    assert "Rehearsing the test days" in said[0]


def test_a_demo_without_one_of_its_participants_opens_and_says_so(demo: Path):
    file = demo / "participants.csv"
    lines = file.read_text("utf-8").splitlines(keepends=True)
    file.write_text("".join(line for line in lines if not line.startswith("ROW-03")), encoding="utf-8")
    said: list[str] = []
    _rehearse(read_study(demo), said.append)
    assert in_force(demo) is None
    assert "make the schedule anew" in said[0]
