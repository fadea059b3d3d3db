"""Who is there when, against the small study's own tables."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from planner.clock import Interval, later
from planner.documents.presence import MOST_ROWS, OUT, coming, presence, stretches
from planner.study.model import Study
from planner.study.read import read_study

SMALL = Path(__file__).parents[1] / "data" / "small"


@pytest.fixture(scope="module")
def study() -> Study:
    return read_study(SMALL)


def test_every_device_is_there_whenever_the_laboratory_is_open(study: Study):
    for rig in study.rigs:
        own = [one.span for one in stretches(study) if one.row == rig.id and one.kind == "device"]
        gone = [one.span for one in stretches(study) if one.row == rig.id and one.kind == OUT]
        whole = sum(span.length_s for spans in study.open.values() for span in spans)
        assert sum(span.length_s for span in (*own, *gone)) == whole
        assert bool(gone) == any(
            out.meets(span) for out in rig.out for d in study.open.values() for span in d
        )


def test_a_device_out_of_use_for_an_hour_is_drawn_so(study: Study):
    day, hours = next(iter(study.open.items()))
    gone = Interval(later(hours[0].start, 3600), later(hours[0].start, 7200))
    rigs = (replace(study.rigs[0], out=(gone,)), *study.rigs[1:])
    changed = replace(study, rigs=rigs)
    (drawn,) = [one for one in stretches(changed) if one.row == rigs[0].id and one.kind == OUT]
    assert drawn.span == gone
    assert f"{rigs[0].id} is out of use" in presence(changed)[1]
    assert day.strftime("%d").lstrip("0") in presence(changed)[1]


def test_staff_are_there_on_the_days_of_their_shifts(study: Study):
    with open(SMALL / "shifts.csv", encoding="utf-8") as stream:
        people = {row["person"] for row in csv.DictReader(stream)}
    assert {one.row for one in stretches(study) if one.kind == "staff"} == people


def test_counts_are_of_those_who_may_come(study: Study):
    """Who has no line may come at all opening hours; who has none left on a day is not counted."""
    everybody = coming(replace(study, available={}))
    assert set(everybody.values()) == {len(study.participants)}
    day, hours = next(iter(study.open.items()))
    who = study.participants[0]
    never = replace(
        study, available={who: ((Interval(*[later(hours[0].start, -n * 3600) for n in (5, 4)]), None),)}
    )
    assert coming(never)[day] == len(study.participants) - 1


def test_every_bar_stands_in_its_own_day(study: Study):
    spec = json.loads(presence(study)[0])
    bars = [v for layer in spec["layer"] for v in layer.get("data", {}).get("values", ()) if "to" in v]
    bars = bars or [v for values in spec["datasets"].values() for v in values if "to" in v]
    assert bars
    for bar in bars:
        assert 0 <= bar["from"] < bar["to"] <= len(study.open)
        assert int(bar["from"]) == int(bar["to"] - 1e-9)


def test_many_participants_are_counted_and_many_days_told_by_week(study: Study):
    names = tuple(f"P{n}" for n in range(MOST_ROWS + 1))
    asked = dict.fromkeys(names, study.asked[study.participants[0]])
    first, hours = next(iter(study.open.items()))
    days = [first + timedelta(days=n) for n in range(60)]
    moved = {
        day: tuple(Interval(*(later(m, 86_400 * n) for m in span)) for span in hours)
        for n, day in enumerate(days)
    }
    large = replace(study, participants=names, asked=asked, available={}, open=moved)
    assert not [one for one in stretches(large) if one.kind == "participant"]
    words = [v["words"] for v in _values(large) if v.get("row") == "may come"]
    assert set(words) == {str(len(names))}
    assert len(words) == len({day.isocalendar()[:2] for day in days})


def _values(study: Study) -> list[dict[str, str]]:
    spec = json.loads(presence(study)[0])
    inline = [v for layer in spec["layer"] for v in layer.get("data", {}).get("values", ())]
    return inline or [v for values in spec["datasets"].values() for v in values]


def test_a_study_without_an_open_day_is_said(study: Study):
    assert presence(replace(study, open={}))[1] == "No day is open."
    assert isinstance(next(iter(study.open)), date)
