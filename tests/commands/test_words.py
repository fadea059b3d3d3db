"""Exit statuses of a command line that is wrong: told before any work, never a traceback."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.commands.group import testday as command_line

PLAN = Path(__file__).parents[1] / "data" / "small-plan.json"


def run(*arguments: object) -> tuple[int, str, str]:
    """Exit status, standard output, standard error."""
    result = CliRunner().invoke(command_line, [str(a) for a in arguments], catch_exceptions=False)
    return result.exit_code, result.stdout, result.stderr


def test_a_file_in_no_folder_is_a_wrong_command_line(small: Path, tmp_path: Path):
    out = tmp_path / "nowhere" / "efforts.csv"
    status, stdout, stderr = run("rehearse", small, "--plan", PLAN, "--seed", 1, "--out", out, "--json")
    assert (status, stdout) == (2, "")
    assert "there is no folder" in stderr


@pytest.mark.parametrize(("share", "status"), [("100%", 0), ("0%", 2), ("101%", 2), ("0.8", 2), ("nan%", 2)])
def test_plan_on_goes_up_to_all_visits(small: Path, share: str, status: int):
    assert run("time", small / "rowing.yaml", "--plan-on", share)[0] == status
