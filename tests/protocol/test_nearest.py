"""The nearest valid name, quickly even among very many."""

from __future__ import annotations

from planner.protocol.nearest import meant, nearest


def test_a_slip_of_the_finger_is_understood():
    assert meant("prepair", ["effort", "prepare", "rest"]) == "prepare"
    assert meant("FVC", ["fvc", "mep"]) == "fvc"
    assert meant("x", ["effort"]) is None
    assert meant("", ["effort"]) is None
    assert meant("x", []) is None


def test_hints_are_sentences():
    assert nearest("mpe", ["fvc", "mep"], "manoeuvre") == "Did you mean 'mep'?"
    assert nearest("swim", ["fvc", "mep"], "manoeuvre") == "Choose one of 'fvc', 'mep'."
    assert nearest("swim", ["fvc"], "manoeuvre") == "There is 'fvc'."
    assert nearest("swim", [], "the step") == "There is no step at all."


def test_only_the_first_few_hundred_names_are_searched():
    names = [f"name-{number}" for number in range(100_000)]
    assert meant("name-7", iter(names)) == "name-7"
    assert len(nearest("zzz", iter(names), "step")) < 300
