"""The ruler of the visit in hand: what is recorded, what is to come, and now at one fixed place."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest

from planner.clock import later, seconds_between
from planner.documents.now_ruler import AHEAD_S, BEHIND_S, now_chart, now_words, stretches, zero
from planner.record.actions import TestDay
from planner.record.drafts import Hand
from planner.record.live import VisitNow, visit_now
from planner.record.store import Store, open_store
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

SMALL = Path(__file__).parents[1] / "data" / "small"


class Visit:
    """ROW-01's first rowing visit, its clock moved by hand."""

    def __init__(self, store: Store) -> None:
        self.store, self.visit = store, store.study.asked["ROW-01"][1]
        self.plan = visit_plans(store.study)[self.visit.protocol]
        self.now = datetime(2027, 3, 2, 9, 0, tzinfo=store.study.zone)

    def look(self) -> VisitNow:
        return visit_now(self.store, self.visit, self.plan, None, now=self.now)

    def mark(self, step: str, seconds: int) -> None:
        for deed in ("begin", "end"):
            shown = self.look()
            part = next(part for part in shown.parts if part.activity.step == step)
            assert getattr(TestDay(self.store, shown, Hand("K1")), deed)(part).is_recorded
            if deed == "begin":
                self.now = later(self.now, seconds)


@pytest.fixture
def visit(tmp_path: Path) -> Iterator[Visit]:
    """The visit with an empty record."""
    shutil.copytree(SMALL, tmp_path / "small")
    with open_store(read_study(tmp_path / "small")) as store:
        yield Visit(store)


def test_before_anything_is_recorded_parts_follow_each_other_from_now(visit: Visit):
    found = [one for one in stretches(visit.look()) if one.part.activity.inside is None]
    assert found[0].start == visit.now
    assert not any(one.is_real for one in found)
    for before, after in pairwise(found):
        assert seconds_between(before.end, after.start) >= 0


def test_zero_is_the_recorded_end_of_exercise(visit: Visit):
    visit.mark("row", 600)
    ended = visit.now
    visit.now = later(visit.now, 90)
    shown = visit.look()
    assert zero(shown, stretches(shown)) == (ended, "Rowing")
    assert now_words(shown).startswith("Now is 1.5 min after the end of Rowing.")
    after = next(one for one in stretches(shown) if one.part.activity.at_s == 120 and one.part.due)
    assert later(after.start, after.part.activity.prepare_s) == later(visit.now, 60)  # prepared at once, then


def test_a_part_whose_time_has_gone_by_is_said_to_be_late_not_to_come_before_now(visit: Visit):
    """A measure within the bout that was not begun: nothing is "-22 to -20 min from now"."""
    shown = visit.look()
    row = next(part for part in shown.parts if part.activity.step == "row")
    assert TestDay(visit.store, shown, Hand("K1")).begin(row).is_recorded
    within = next(part for part in shown.parts if part.activity.inside is not None)
    begins = later(visit.now, within.activity.at_s - within.activity.prepare_s)
    told = (
        (60, "should have begun 1 min ago"),
        (20, "should have begun a moment ago"),
        (3600, "whose time ended"),
    )
    for seconds, words in told:
        visit.now = later(begins, seconds)
        said = now_words(visit.look())
        assert words in said
        assert " -" not in said
        assert " 0 min ago" not in said
        assert "0 to 0 min" not in said


def test_the_mark_for_now_stands_at_one_place_of_the_ruler(visit: Visit):
    visit.mark("row", 600)
    for _ in range(3):
        visit.now = later(visit.now, 200)
        drawn = now_chart(visit.look()).to_dict()
        low, high = drawn["layer"][0]["encoding"]["x"]["scale"]["domain"]
        rules = [layer for layer in drawn["layer"] if layer["mark"]["type"] == "rule"]
        now = rules[0]["data"]["values"][0]["start"]
        assert (now - low) / (high - low) == pytest.approx(BEHIND_S / (BEHIND_S + AHEAD_S))


def test_every_axis_has_the_ink_of_the_page(visit: Visit):
    for layer in now_chart(visit.look()).to_dict()["layer"]:
        for side in ("x", "y"):
            if "title" in layer["encoding"].get(side, {}) or side == "x":
                axis = layer["encoding"][side]["axis"]
                assert (axis["labelColor"], axis["titleColor"]) == ("currentColor", "currentColor")
