"""A whole user's day from the command line: the first file to the last page, on the demo study."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.commands.group import testday as command_line

ROOT = Path(__file__).parents[2]


def run(*arguments: object, status: int = 0) -> Result:
    result = CliRunner().invoke(command_line, [str(a) for a in arguments], catch_exceptions=False)
    assert result.exit_code == status, f"{arguments}\n{result.stdout}\n{result.stderr}"
    return result


def read(*arguments: object, status: int = 0) -> dict:
    """Standard output holds one JSON document and nothing else."""
    return json.loads(run(*arguments, "--json", status=status).stdout)


@pytest.mark.parametrize("file", sorted((ROOT / "protocols").glob("*.yaml")), ids=lambda f: f.stem)
def test_every_shipped_protocol_is_clean_and_timed(file: Path):
    assert read("check", file) == {"faults": [], "warnings": []}
    found = read("time", file)
    assert found["length_s"]["shortest"] <= found["length_s"]["p50"] <= found["length_s"]["longest"]
    assert all(block["chance_on_time"] is None or block["chance_on_time"] > 0.9 for block in found["blocks"])


def test_readme_protocol_checks_clean(tmp_path: Path):
    text = (ROOT / "README.md").read_text("utf-8").split("```yaml\n")[1].split("```")[0]
    file = tmp_path / "short-row.yaml"
    file.write_text(text, encoding="utf-8")
    assert read("check", file)["faults"] == []


def test_the_demo_study_is_clean(demo: Path):
    assert read("check", demo)["faults"] == []


def test_the_shipped_plan_places_everybody_and_keeps_every_rule(demo: Path):
    plan = json.loads((demo / "plan.json").read_text("utf-8"))
    assert (plan["asked"], plan["placed"], plan["not_placed"]) == (72, 72, [])
    judged = read("verify", demo, "--plan", demo / "plan.json")
    assert judged["broken"] == []
    assert judged["checked"]["visits"] == 72


def test_a_broken_plan_is_named_and_not_put_in_force(demo: Path):
    plan = json.loads((demo / "plan.json").read_text("utf-8"))
    first, second = plan["visits"][0], plan["visits"][1]
    block = next(a for a in first["activities"] if a["rig"])
    other = next(p for p in ("K1", "K2", "K3", "K4", "K5") if p not in block["staff"].values())
    block["staff"] = dict.fromkeys(block["staff"], other)
    hand_made = demo / "hand.json"
    hand_made.write_text(json.dumps(plan), encoding="utf-8")
    judged = read("verify", demo, "--plan", hand_made, status=1)
    assert any(broken["participant"] == first["participant"] for broken in judged["broken"])
    run("use", demo, "--plan", hand_made, status=1)
    assert not (demo / ".testday" / "in-force.json").exists()
    assert second["participant"]


def test_from_plan_to_report(demo: Path, tmp_path: Path):
    run("use", demo, "--plan", demo / "plan.json")
    papers = read("documents", demo, "--to", tmp_path / "papers", "--day", "2027-10-13")["files"]
    sheets = [Path(name) for name in papers if "run-sheet_2027-10-13_" in name]
    assert sheets
    assert all(sheet.read_bytes().startswith(b"%PDF") for sheet in sheets)
    efforts = tmp_path / "efforts.csv"
    lines = read("rehearse", demo, "--seed", 3, "--out", efforts)["lines"]
    with open(efforts, encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == lines
    assert {row["note"] for row in rows} == {"rehearsed"}
    assert read("record", demo, efforts, "--by", "K1") == {"added": lines, "already_there": 0, "refused": []}
    assert read("record", demo, efforts)["already_there"] == lines
    kept = read("adherence", demo, "--to", tmp_path / "report")
    assert kept["summary"]["efforts"]["matched"] == kept["summary"]["efforts"]["recorded"]
    assert kept["summary"]["time_points"]["share"] > 0.9
    assert (tmp_path / "report" / "adherence.pdf").read_bytes().startswith(b"%PDF")
    assert read("audit", demo) == {"problems": []}
    copied = read("backup", demo, "--to", tmp_path, "--by", "K1")
    assert Path(copied["file"]).exists()
    run("export", demo, "--to", tmp_path / "out", "--by", "K1")
    assert (tmp_path / "out" / "dictionary.csv").exists()


def test_the_small_study_is_packed_and_judged(small: Path, tmp_path: Path):
    plan = read("pack", small, "--seconds", 15, "--out", tmp_path / "plan.json")
    assert (plan["asked"], plan["placed"]) == (6, 6)
    assert [stage["name"] for stage in plan["stages"]][:3] == ["placed", "last_day", "waiting_s"]
    assert json.loads((tmp_path / "plan.json").read_text("utf-8")) == plan
    assert read("verify", small, "--plan", tmp_path / "plan.json")["broken"] == []
    mended = read("repack", small, "--plan", tmp_path / "plan.json", "--now", plan["visits"][0]["start"])
    assert mended["changes"] == []
    assert mended["visits"] == plan["visits"]
    assert mended["replaces"] == plan["version"]


def test_wrong_command_lines_end_with_two(small: Path, tmp_path: Path):
    protocol = ROOT / "protocols" / "practice.yaml"
    run("check", tmp_path / "nowhere", status=2)
    run("time", protocol, "--plan-on", "80", status=2)
    run("time", protocol, "--plan-on", "120%", status=2)
    run("adherence", small, "--plan", tmp_path / "none.json", status=2)
    run("documents", small, "--to", tmp_path / "x", status=2)
    run("nonsense", status=2)


def test_faults_end_with_one_and_are_json(tmp_path: Path):
    file = tmp_path / "broken.yaml"
    file.write_text(
        "format: 1\nname: x\ntitle: x\nversion: '1'\nvisit:\n- {id: a, titel: a, takes: 5:00}\n", "utf-8"
    )
    for command in ("check", "time"):
        faults = read(command, file, status=1)["faults"]
        assert {fault["line"] for fault in faults} == {6}
        assert all(set(fault) == {"file", "line", "column", "code", "message"} for fault in faults)


def test_a_demand_that_cannot_be_met_ends_with_three(small: Path):
    """Two participants, and nobody who can lead on any day."""
    staff = small / "staff.csv"
    staff.write_text(staff.read_text("utf-8").replace("lead", "helper"), encoding="utf-8")
    result = CliRunner().invoke(command_line, ["pack", str(small), "--seconds", "5", "--json"])
    assert result.exit_code in (1, 3), result.output
    assert "lead" in result.output


def test_the_burden_of_a_whole_study(demo: Path):
    """One practice visit and three rowing visits: least and most efforts are sums over the visits."""
    whole = read("time", demo)["groups"][""]
    practice = read("time", demo.parent / "protocols" / "practice.yaml")["burden"]["efforts"]
    rowing = read("time", demo.parent / "protocols" / "cold-air-rowing.yaml")["burden"]["efforts"]
    assert whole["visits"] == 4
    assert whole["efforts"]["least"] == practice["least"] + 3 * rowing["least"]
    assert whole["efforts"]["most"] == practice["most"] + 3 * rowing["most"]


def test_waiting_is_said_of_the_shortest_and_the_longest_visit():
    """Who is quick at a measure may wait longer for the next: the least and the most it is not."""
    words = run("time", ROOT / "protocols" / "exercise-challenge.yaml").stdout
    (line,) = [line for line in words.splitlines() if line.startswith("waiting")]
    assert "in the shortest visit" in line
    assert "in the longest visit" in line
    assert not {"least", "most"} & set(line.replace(":", "").split())
