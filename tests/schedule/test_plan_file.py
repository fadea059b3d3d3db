"""The plan file: what is written comes back; what was spoilt by hand is told with its place."""

import json
from contextlib import suppress
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.faults import FaultyInput
from planner.schedule.model import (
    Change,
    NotPlaced,
    Outcome,
    Reason,
    Stage,
)
from planner.schedule.plan_file import plan_json, plan_text, read_plan, write_plan
from planner.schedule.verify import verify

FIXED = [
    "study", "version", "replaces", "fingerprint", "made", "status", "asked", "placed",
    "stages", "visits", "rig_tasks", "not_placed", "reasons",
]  # fmt: skip


@pytest.fixture
def full(good):
    """A plan with something under every key."""
    return replace(
        good,
        version=2,
        replaces=1,
        status=Outcome.FEASIBLE,
        stages=(Stage("placed", 6, 6, Outcome.OPTIMAL),),
        not_placed=(NotPlaced("ROW-03", "practice", "no room"),),
        reasons=(Reason("the shift of K1", "shifts.csv", 2),),
        changes=(Change("ROW-01", "practice", "moved", "moved", "learn", None, "fvc", "09:00", "09:10"),),
        solver="hand",
    )


def test_what_is_written_comes_back(full, study, tmp_path):
    path = tmp_path / "plan.json"
    write_plan(full, path)
    assert read_plan(path, study) == full
    assert [file.name for file in tmp_path.iterdir()] == ["plan.json"]


def test_the_fixed_keys(full):
    found = plan_json(full)
    assert [key for key in found if key in FIXED] == FIXED
    visit = found["visits"][1]
    assert visit["start"] == "2027-03-02T10:00:00+13:45"
    assert visit["date"] == "2027-03-02"
    row = next(one for one in visit["activities"] if one["step"] == "row" and one["manoeuvre"] is None)
    assert row["rig"] == "E1"
    assert row["first_effort"] is None
    assert row["watch"]["staff"] == {"lead": "K3"}
    welcome = visit["activities"][0]
    assert (welcome["rig"], welcome["planned_efforts"], welcome["rig_free"]) == (None, None, welcome["end"])


def test_an_unchanged_plan_has_no_changes_but_the_key_where_it_replaces_one(good, full):
    assert "changes" not in plan_json(good)
    assert plan_json(replace(full, changes=()))["changes"] == []


def spoilt(full, study, tmp_path, change):
    """The faults that reading gives after a change of the JSON document."""
    document = json.loads(plan_text(full))
    change(document)
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(document, indent=1), "utf-8")
    with pytest.raises(FaultyInput) as caught:
        read_plan(path, study)
    return caught.value.faults


def test_every_fault_is_told_at_its_place(full, study, tmp_path):
    def change(document):
        del document["version"]
        document["visits"][1]["start"] = "10 o'clock"
        document["visits"][2]["activities"][3]["end"] = 7
        document["status"] = "perfect"

    faults = spoilt(full, study, tmp_path, change)
    lines = (tmp_path / "plan.json").read_text("utf-8").splitlines()
    found = {fault.code: lines[fault.place.line - 1][fault.place.column - 1 :] for fault in faults}
    assert found["missing-key"].startswith("{")
    assert [fault.message for fault in faults if "10 o'clock" in fault.message]
    assert any(lines[f.place.line - 1][f.place.column - 1 :].startswith('"10 o') for f in faults)
    assert any(lines[f.place.line - 1][f.place.column - 1 :].startswith("7") for f in faults)
    assert any(lines[f.place.line - 1][f.place.column - 1 :].startswith('"perfect"') for f in faults)


def test_a_plan_of_another_study(full, study, tmp_path):
    faults = spoilt(full, study, tmp_path, lambda document: document.update(study="other"))
    assert [fault.code for fault in faults] == ["other-study"]
    assert faults[0].place.line == 2


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d.update(visits=None),
        lambda d: d.update(visits={}),
        lambda d: d["visits"].append(3),
        lambda d: d["visits"][0].update(activities=[]),
        lambda d: d["visits"][0]["activities"][0].update(staff=["K1"]),
        lambda d: d["visits"][0]["activities"][0].update(start="2027-03-01T09:00:00"),
        lambda d: d["visits"][0]["activities"][0].update(start="9999-12-31T23:59:59-12:00"),
        lambda d: d["visits"][0]["activities"][0].update(start="2027-03-01T09:00:00.5+13:45"),
        lambda d: d["visits"][0]["activities"][0].update(rig=[1]),
        lambda d: d["visits"][0]["activities"][0].update(at_s=True),
        lambda d: d.update(asked=1.5),
        lambda d: d.update(stages=[{}]),
    ],
)
def test_a_plan_edited_by_hand(full, study, tmp_path, change):
    faults = spoilt(full, study, tmp_path, change)
    assert all(fault.place.file == "plan.json" and fault.place.line >= 1 for fault in faults)


@pytest.mark.parametrize(
    "content",
    [
        b"", b"{", b"[]", b"null", b"\xff\xfe{}", b'{"study": NaN}', b'{"study": "small", "study": "small"}',
        b"[" * 100_000, b'{"study": 1e999}', b"format: 1\nname: small\n", b'"\\ud800"',
    ],
)  # fmt: skip
def test_a_file_that_is_no_plan(study, tmp_path, content):
    path = tmp_path / "plan.json"
    path.write_bytes(content)
    with pytest.raises(FaultyInput) as caught:
        read_plan(path, study)
    assert caught.value.faults


def test_a_missing_file(study, tmp_path):
    with pytest.raises(FaultyInput):
        read_plan(tmp_path / "none.json", study)


def reread(plan, study, tmp_path, change):
    document = json.loads(plan_text(plan))
    change(document)
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(document), "utf-8")
    return read_plan(path, study)


@pytest.mark.parametrize(
    ("rule", "change"),
    [
        ("placed", lambda d: d.update(placed=7)),
        ("visit-times", lambda d: d["visits"][0].update(start="2027-03-01T09:00:01+13:45")),
        ("visit-times", lambda d: d["visits"][0].update(date="2027-03-02")),
        (
            "time-zone",
            lambda d: d["visits"][0].update(
                end=d["visits"][0]["end"].replace("09:10:15+13:45", "19:25:15+00:00")
            ),
        ),
    ],
)
def test_what_the_file_says_twice_and_differently_is_for_the_judge(
    good, study, plans, tmp_path, rule, change
):
    found = reread(good, study, tmp_path, change)
    verdict = verify(found, study, plans)
    assert rule in [one.rule for one in verdict.broken]


def test_another_offset_is_told(good, study, plans, tmp_path):
    def change(document):
        activity = document["visits"][0]["activities"][0]
        assert activity["start"] == "2027-03-01T09:00:00+13:45"
        activity["start"] = "2027-02-28T19:15:00+00:00"

    found = reread(good, study, tmp_path, change)
    assert [one.rule for one in verify(found, study, plans).broken] == ["time-zone"]


def test_the_number_of_a_visit_follows_from_its_condition(good, study, tmp_path):
    def change(document):
        for visit in document["visits"]:
            del visit["number"]

    assert reread(good, study, tmp_path, change) == good


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=8) | st.floats(allow_nan=False),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_no_edit_gives_a_traceback(data, study, plans, tmp_path_factory, tools):
    """Any value anywhere in the document: either faults, or a schedule that the judge can judge."""
    document = json.loads(plan_text(tools.good_plan(study, plans)))
    spots = list(_spots(document))
    holder, key = data.draw(st.sampled_from(spots))
    holder[key] = data.draw(json_values)
    path = tmp_path_factory.mktemp("plans") / "plan.json"
    path.write_text(json.dumps(document), "utf-8")
    with suppress(FaultyInput):
        verify(read_plan(path, study), study, plans)


def _spots(node):
    pairs = node.items() if isinstance(node, dict) else enumerate(node)
    for key, value in list(pairs):
        yield node, key
        if isinstance(value, dict | list):
            yield from _spots(value)
