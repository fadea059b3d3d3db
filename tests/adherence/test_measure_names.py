"""People's names of measures: nobody who reads a report knows the short names of a protocol file."""

from pathlib import Path

from planner.adherence.measure_names import measure_names
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]


def test_a_title_measured_by_several_rules_says_where():
    """By the demo's protocols: `fvc` before rowing, `fvc-during` in it, `fvc-after` after it."""
    names = measure_names(read_study(ROOT / "demo_study"))
    rowing = {key[1]: name for key, name in names.items() if "rowing" in key[0]}
    assert rowing["fvc"] == "Forced vital capacity (Measures before rowing)"
    assert rowing["fvc-during"] == "Forced vital capacity (Rowing in the cold chamber)"
    assert rowing["mip"] == "Maximal inspiratory pressure (Measures before rowing and Measures after rowing)"
    assert len(set(names.values())) == len(names)


def test_a_title_with_one_rule_is_its_name(by_hand):
    names = measure_names(by_hand.study)
    assert "Forced vital capacity" in names.values()
    assert not any("(" in name for name in names.values())
