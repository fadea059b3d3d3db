"""Every visit of a plan on one time line, against the small study's plan as its file says it."""

from __future__ import annotations

import json
import re
from datetime import datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
import vl_convert

from planner.documents.whole_plan import whole_chart, whole_words
from planner.schedule.model import Schedule
from planner.schedule.plan_file import read_plan
from planner.study.model import Study
from planner.study.read import read_study

DATA = Path(__file__).parents[1] / "data"
PLAN = DATA / "small-plan.json"


@pytest.fixture(scope="module")
def study() -> Study:
    return read_study(DATA / "small")


@pytest.fixture(scope="module")
def plan(study: Study) -> Schedule:
    return read_plan(PLAN, study)


def visits() -> list[dict[str, Any]]:
    return json.loads(PLAN.read_text("utf-8"))["visits"]


def rigs(visit: dict[str, Any]) -> set[str]:
    named = [a["rig"] for a in visit["activities"] if a["rig"]]
    return {rig for one in named for rig in (one if isinstance(one, list) else [one])}


def people(visit: dict[str, Any]) -> set[str]:
    own = {who for a in visit["activities"] for who in a["staff"].values()}
    return own | {who for a in visit["activities"] for who in a.get("watch", {}).get("staff", {}).values()}


NEEDS = {"rig": rigs, "person": people, "participant": lambda visit: {visit["participant"]}}


@pytest.mark.parametrize("by", NEEDS)
def test_each_visit_has_a_bar_in_every_row_that_it_needs_and_no_other(study: Study, plan: Schedule, by: Any):
    marks = whole_chart(plan, study, by=by).to_dict()["data"]["values"]
    wanted = {
        (row, visit["participant"], datetime.fromisoformat(visit["start"]).replace(tzinfo=None).isoformat())
        for visit in visits()
        for row in NEEDS[by](visit)
    }
    assert {(m["row"], m["participant"], m["start"]) for m in marks} == wanted
    assert len(marks) == len(wanted)


def test_it_is_dragged_along_time_alone_and_by_the_browser(study: Study, plan: Schedule):
    (moved,) = whole_chart(plan, study).to_dict()["params"]
    assert moved["bind"] == "scales"
    assert moved["select"]["encodings"] == ["x"]


def test_a_blind_condition_is_in_no_mark(study: Study, plan: Schedule):
    conditions = {visit["condition"] for visit in visits() if visit["condition"]}
    drawn = json.dumps(whole_chart(plan, study, by="participant").to_dict())
    assert any(kind.blind for kind in study.kinds)
    assert not [one for one in conditions if one in drawn]
    assert not [one for one in conditions if one in whole_words(plan, study)]


@pytest.mark.parametrize("by", NEEDS)
def test_its_words_count_the_visits_of_each_row(study: Study, plan: Schedule, by: Any):
    words = whole_words(plan, study, by=by)
    assert words.startswith(f"{len(visits())} visits on ")
    for row in {row for visit in visits() for row in NEEDS[by](visit)}:
        own = [visit for visit in visits() if row in NEEDS[by](visit)]
        days = {visit["date"] for visit in own}
        assert f"{row}: {len(own)} visits on {len(days)} days." in words


def test_the_axis_names_days_and_a_time_only_where_one_is_zoomed_into(study: Study, plan: Schedule):
    drawn = whole_chart(plan, study).properties(width=400).to_dict()
    far = labels_of(drawn)
    drawn["encoding"]["x"]["scale"] = {"domain": ["2027-03-01T08:00:00", "2027-03-01T12:00:00"]}
    near = labels_of(drawn)
    assert far
    assert not [words for words in far if ":" in words]
    assert [words for words in near if words.endswith(":00")]


def labels_of(drawn: dict[str, Any]) -> list[str]:
    """The words below the time line, as the picture that a browser would draw has them."""
    svg = vl_convert.vegalite_to_svg(json.dumps(drawn))
    drawn_texts = ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")
    texts = [words for element in drawn_texts for words in element.itertext()]
    return [words for words in texts if re.search(r"\d:\d\d|\d [A-Z][a-z][a-z]$", words)]
