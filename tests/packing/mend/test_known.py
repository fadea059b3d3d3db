"""What an earlier mend has named already stays named, and costs nothing a second time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from planner.commands.plan_words import plan_words
from planner.schedule.model import Schedule
from planner.schedule.repacked import verify_repacked
from planner.schedule.verify import verify

STEPS = """
  - {id: hello, title: Hello, takes: 5 min, staff: lead}
  - {id: ride, title: Ride, exercise: true, takes: 10 min, rig: bike, staff: lead,
     watch: {staff: lead, for: 5 min}}
  - {id: after, title: After, measure: fvc,
     due: {after: ride, at: [2 min, 15 min], early: 1 min, late: [1 min, 2 min]}}
"""
VISITS = """
P1
08:00:00 K2
08:05:00 B1 K2 + K2
08:16:00 S1 K1
08:29:00 S1 K1
P2
08:25:00 K3
08:30:00 B1 K3 + K3
08:41:00 S1 K1
08:54:00 S1 K1
P3
09:00:00 K2
09:05:00 B1 K2 + K2
09:16:00 S2 K4
09:29:00 S2 K4
P4
09:40:00 K3
09:45:00 B1 K3 + K3
09:56:00 S1 K1
10:09:00 S1 K1
"""
NAMED = {"window missed", "waits longer", "dropped"}
Days = Callable[..., Any]


def missed(plan: Schedule, *, since: int | None = None) -> list[tuple[str | None, int | None]]:
    """Whose window is named as missed, by which plan; None for this one itself."""
    own = (one for one in plan.changes if one.kind == "window missed" and one.since == since)
    return sorted((one.participant, one.at_s) for one in own)


def value(plan: Schedule, name: str) -> int:
    return next(stage.value for stage in plan.stages if stage.name == name)


@pytest.fixture
def chain(running_day: Days) -> list[Schedule]:
    """Four troubles on one day, each mended from the plan before; the judges are silent after each."""
    day = running_day(STEPS, VISITS)
    until = day.at("08:22")
    told = (
        ("07:50", {"late": {"P4": 10}}),
        ("08:17", {"out_of_use": (("S1", day.at("08:17"), until), ("S2", day.at("08:17"), until))}),
        ("08:50", {"ended": {("P2", "ride"): day.at("08:44")}}),
        ("09:48", {"cancelled": ("P4",)}),
    )
    plans = []
    for now, trouble in told:
        day.plan = day.mend(now, **trouble)
        plans.append(day.plan)
    return plans


def test_each_of_four_troubles_names_what_it_costs_itself(chain: list[Schedule]):
    away = chain[-1]
    assert [missed(plan) for plan in chain] == [[], [("P1", 120)], [("P2", 120)], []]
    assert [value(plan, "demands_missed") for plan in chain] == [0, 1, 1, 0]
    assert [value(plan, "participants_touched") for plan in chain] == [1, 1, 1, 1]
    assert value(away, "blocks_changed") == 0


def test_what_was_missed_before_stays_named_with_the_plan_that_missed_it(chain: list[Schedule]):
    _, out, longer, away = chain
    assert missed(longer, since=out.version) == [("P1", 120)]
    assert missed(away, since=out.version) == [("P1", 120)]
    assert missed(away, since=longer.version) == [("P2", 120)]


def test_words_tell_what_was_known_from_what_is_new(chain: list[Schedule]):
    _, out, longer, _ = chain
    known = [line for line in plan_words(longer).splitlines() if line.startswith("  known since plan")]
    new = [line for line in plan_words(longer).splitlines() if line.startswith("  change:")]
    assert len(known) == 1
    assert known[0].startswith(f"  known since plan {out.version}: P1, short: ")
    assert not any("P1" in line for line in new)
    assert any("P2" in line and "misses its window" in line for line in new)


def test_a_plan_that_passes_off_its_own_loss_as_known_is_refused(running_day: Days):
    day = running_day(STEPS, VISITS)
    now, told = "08:17", (("S1", day.at("08:17"), day.at("08:22")), ("S2", day.at("08:17"), day.at("08:22")))
    found = day.mend(now, out_of_use=told)
    hidden = replace(
        found,
        changes=tuple(replace(one, since=1) if one.kind in NAMED else one for one in found.changes),
    )
    assert "stage-value" in {one.rule for one in verify(hidden, day.study, day.plans).broken}
    against = verify_repacked(day.plan, hidden, day.at(now), {("P1", "short", "after")})
    assert [one.message for one in against if one.rule == "changes"] == [
        "named as known since plan 1, and the plan before does not name it: P1, short, window missed, after, "
        "fvc, 120"
    ]


def test_a_plan_cannot_say_that_it_was_known_since_itself(running_day: Days):
    """What is dated no earlier than the plan itself counts as its own."""
    day = running_day(STEPS, VISITS)
    found = day.mend("08:17", out_of_use=tuple((r, day.at("08:17"), day.at("08:22")) for r in ("S1", "S2")))
    dated = tuple(replace(one, since=found.version) if one.kind in NAMED else one for one in found.changes)
    assert verify(replace(found, changes=dated), day.study, day.plans).broken == ()


def test_who_misses_a_window_again_by_more_is_not_counted_twice(running_day: Days):
    """P1's second measure is late already when its device fails once more."""
    day = running_day(STEPS, VISITS)
    rigs = ("S1", "S2")
    day.plan = day.mend("08:26", out_of_use=tuple((rig, day.at("08:26"), day.at("08:36")) for rig in rigs))
    first = day.plan
    assert missed(first) == [("P1", 900)]
    day.plan = day.mend("08:35", out_of_use=tuple((rig, day.at("08:35"), day.at("08:39")) for rig in rigs))
    assert missed(day.plan) == []
    assert missed(day.plan, since=first.version) == [("P1", 900)]
    (again,) = [one for one in day.plan.changes if one.kind == "window missed"]
    (before,) = [one for one in first.changes if one.kind == "window missed"]
    assert again.message != before.message
    assert value(day.plan, "demands_missed") == 0
