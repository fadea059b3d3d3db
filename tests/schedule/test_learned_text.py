"""A plan made with learned lengths says so and keeps them: it is judged, printed and mended by them."""

import json
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

import pytest

from planner.commands.group import main
from planner.faults import FaultyInput
from planner.packing.pack import pack
from planner.schedule.learned_text import learned_from, learned_json
from planner.schedule.plan_file import plan_json, read_plan, write_plan
from planner.schedule.plans import plans_of, visit_plans
from planner.schedule.verify import verify
from planner.study.read import read_study
from planner.timing.lay_out import lay_out
from planner.timing.learned import Estimate, Learned
from planner.timing.simulate import simulate

TAUGHT = Learned(
    spread={("rowing", "fvc", "FVC"): Estimate(0.096, 1 / 7, 30)},
    prepare_s={("rowing", "mep"): Estimate(45, 71.5, 12)},
    rest_s={("rowing", "mip"): Estimate(30, 38.3, 40)},
    clear_s={("rowing", "mep"): Estimate(120, 170.2, 9)},
    bout_s={("rowing", "row"): Estimate(720, 720.0, 3)},
    delay_s={("rowing", "farewell"): Estimate(0, 33.3, 8, (0.0, 0.0, 99.9))},
    late_s={("rowing", "after"): Estimate(0, -1.5, 2, (-6.0, 0.0, 1.5))},
)


@pytest.fixture
def packed(small):
    study = read_study(small)
    plans = visit_plans(study, TAUGHT)
    now = datetime(2027, 2, 1, 12, tzinfo=study.zone)
    schedule = replace(pack(study, plans, seconds=15, now=now, workers=1), learned=TAUGHT)
    path = small / "plan.json"
    write_plan(schedule, path)
    return study, schedule, path


def test_the_values_come_back_to_the_last_digit(packed):
    study, schedule, path = packed
    assert read_plan(path, study).learned == TAUGHT == schedule.learned
    assert read_plan(path, study) == schedule


def test_a_plan_of_assumed_lengths_has_no_such_key(packed):
    _, schedule, _ = packed
    assert "learned" not in plan_json(replace(schedule, learned=None))


def test_the_judge_uses_the_lengths_that_the_plan_was_made_with(packed):
    study, _, path = packed
    again = read_plan(path, study)
    assert again.placed == again.asked == 6
    assert verify(again, study, plans_of(study, again)).broken == ()
    rules = {one.rule for one in verify(again, study, visit_plans(study)).broken}
    assert rules  # by the protocol's own lengths it breaks rules, so the two are really told apart


@pytest.mark.parametrize("command", ["verify", "documents", "repack", "rehearse", "use"])
def test_every_command_goes_by_the_plan(packed, command, capsys):
    study, _, path = packed
    folder = study.folder
    more = {
        "verify": [],
        "documents": ["--to", str(folder / "out"), "--day", "2027-03-01"],
        "repack": ["--now", "2027-03-01T07:00:00", "--out", str(folder / "mended.json"), "--seconds", "5"],
        "rehearse": ["--seed", "1", "--out", str(folder / "efforts.csv")],
        "use": [],
    }[command]
    with pytest.raises(SystemExit) as left:
        main([command, str(folder), "--plan", str(path), "--json", *more])
    said = capsys.readouterr()
    assert left.value.code == 0, said.out + said.err
    if command == "verify":
        assert json.loads(said.out)["broken"] == []
    if command == "repack":
        assert json.loads(said.out)["learned"] == learned_json(TAUGHT)
        assert read_plan(folder / "mended.json", study).learned == TAUGHT


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"what": "nap_s"}, "none of spread, prepare_s"),
        ({"learned": -3}, "a number from 0 is expected here, and -3 was found"),
        ({"learned": "long"}, "a number from 0 is expected"),
        ({"observations": 1.5}, "a whole number is expected"),
        ({"protocol": None}, "the key 'protocol' is missing"),
    ],
)
def test_a_learned_value_that_is_none_is_a_fault_with_its_line(packed, row, words):
    study, schedule, path = packed
    document = plan_json(schedule)
    document["learned"][1] |= row
    path.write_text(json.dumps(document, indent=1), encoding="utf-8")
    with pytest.raises(FaultyInput) as found:
        read_plan(path, study)
    (fault,) = found.value.faults
    assert words in fault.message
    assert "learned, item 2" in fault.message
    assert fault.place.line > 100


def test_nothing_learned_shortens_a_rest_or_a_clearing(small):
    """Both are the least that is asked for: people who hurry teach no plan to hurry."""
    study = read_study(small)
    key = ("rowing", "mep")
    hurried = Learned(rest_s={key: Estimate(30, 12, 99)}, clear_s={key: Estimate(120, 20, 99)})
    protocol = study.protocols["rowing.yaml"]
    assert lay_out(protocol, Decimal("0.8"), hurried) == lay_out(protocol, Decimal("0.8"))


def test_longer_clearing_is_planned(small):
    study = read_study(small)
    plan = visit_plans(study, TAUGHT)["rowing.yaml"]
    clear = [a.clear.takes_s for a in plan.activities if a.manoeuvre == "mep" and a.clear]
    assert set(clear) == {170}


def test_rows_of_nothing_are_nothing():
    assert learned_json(Learned()) == []
    assert learned_from([]) == Learned()


def test_a_task_takes_as_long_as_learned_and_a_prescribed_bout_as_long_as_written(small):
    study = read_study(small)
    taught = Learned(
        bout_s={("rowing", "welcome"): Estimate(300, 421.4, 50), ("rowing", "row"): Estimate(720, 800, 50)}
    )
    protocol = study.protocols["rowing.yaml"]
    lengths = {
        a.step: a.length_s for a in lay_out(protocol, Decimal("0.8"), taught).activities if not a.manoeuvre
    }
    assert (lengths["welcome"], lengths["row"]) == (421, 720)
    drawn = simulate(protocol, draws=10, learned=taught)
    spots = {spot.step.id: spot.index for spot in drawn.outline.spots if spot.manoeuvre is None}
    assert set(drawn.lengths_s[spots["welcome"]]) == {421.0}
    assert set(drawn.lengths_s[spots["row"]]) == {720.0}
