"""Packing for a chance, and what it costs."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from planner.packing.on_time import aim, pack_on_time
from planner.packing.play import play
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.read import read_study

SMALL = Path(__file__).parents[1] / "data" / "small"


def test_each_visit_reaches_its_chance_and_the_cost_is_named() -> None:
    study = read_study(SMALL)
    plans = visit_plans(study)
    now = datetime(2027, 2, 20, tzinfo=UTC)
    made = pack_on_time(study, plans, chance=0.9, seconds=6, now=now, version=1)
    assert not verify(made, study, plans).broken
    assert made.placed + len(made.not_placed) == made.asked
    assert all(v.all_windows >= aim(v, 0.9) for v in play(study, plans, made).visits)
    assert any("Packed without regard to this" in reason.message for reason in made.reasons)
