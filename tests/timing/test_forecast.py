"""The document of `time`: its fixed keys, and figures worked by hand."""

import json
from decimal import Decimal

import pytest

from planner.timing.forecast import forecast

STEPS = """
- {id: arrive, title: Arrive, takes: 5 min}
- {id: row, title: Row, exercise: true, takes: 20 min}
- {id: after, title: A, measure: [blow, mouth], due: {after: row, at: [1 min, 8 min], late: 30 s}}
- {id: cool, title: C, takes: 2 min, due: {after: row, at: 20 min, late: 1 min}}
- {id: sit, title: Sit, rest: 3 min}
"""


@pytest.fixture
def document(visit):
    return json.loads(json.dumps(forecast(visit(STEPS), Decimal("0.80")).as_json()))


def test_length(document):
    """cool 20 min after row, 2 min, sit 3 min; early by nothing, late by a minute at most."""
    assert document["length_s"] == {
        "shortest": 300 + 1200 + 1500, "p50": 3000, "p80": 3000, "p90": 3000, "longest": 3060,
    }  # fmt: skip
    assert (document["protocol"], document["version"]) == ("timed", "1.0")


def test_blocks(document):
    blow, mouth = document["blocks"][0], document["blocks"][3]
    assert (blow["step"], blow["at_s"], blow["manoeuvre"]) == ("after", 60, "blow")
    assert (blow["start_s"], blow["first_effort_s"], blow["end_s"]) == (1560, 1560, 1730)
    assert (blow["planned_efforts"], blow["chance_on_time"]) == (4, 1.0)
    assert (mouth["start_s"], mouth["first_effort_s"], mouth["end_s"]) == (2150, 2195, 2285)  # 8 min + 170 s
    assert (mouth["at_s"], mouth["planned_efforts"]) == (480, 3)


def test_the_chance_is_the_time_points_on_each_of_its_blocks(document):
    """From 1 min: blow 3:40 at most, mouth 2:15, ends by 6:55."""
    assert [block["chance_on_time"] for block in document["blocks"]] == [1.0] * 4


def test_tasks(document):
    found = [
        (task["step"], task["at_s"], task["start_s"], task["end_s"], task["chance_on_time"])
        for task in document["tasks"]
    ]
    assert found == [
        ("arrive", None, 0, 300, None),
        ("row", None, 300, 1500, None),
        ("cool", 1200, 2700, 2820, 1.0),
        ("sit", None, 2820, 3000, None),
    ]


def test_efforts(document):
    """blow: any three within 1.5 SD, at most five; mouth has no rule."""
    blow, mouth = document["efforts"]["blow"], document["efforts"]["mouth"]
    assert blow["mean"] == pytest.approx(3.72, abs=0.01)
    assert list(blow["chance_done_by"]) == ["3", "4", "5"]
    assert list(blow["chance_done_by"].values()) == pytest.approx([0.4614, 0.8208, 0.9749], abs=0.006)
    assert blow["chance_without_agreement"] == pytest.approx(0.025, abs=0.003)
    assert blow["chance_done_by"]["5"] + blow["chance_without_agreement"] == pytest.approx(1)
    assert (mouth["mean"], mouth["chance_done_by"], mouth["chance_without_agreement"]) == (3, {}, 0)


def test_every_chance_has_a_small_standard_error(visit):
    steps = """
    - {id: row, title: Row, exercise: true, takes: 20 min}
    - {id: after, title: A, measure: [blow], due: {after: row, at: [1 min, 3 min], late: 30 s}}
    """
    found = forecast(visit(steps), Decimal("0.80"))
    second = found.chances[2]
    assert second.share == pytest.approx(0.4614, abs=3 * 0.002)
    assert 0 < second.error <= 0.002
    assert found.as_json()["blocks"][1]["standard_error"] == round(second.error, 6)
