"""The values of stages, worked out by hand on the small study."""

from dataclasses import replace

from planner.clock import later
from planner.schedule.values import MOST_SPARE_S, stage_values


def test_the_good_plan(good, study, plans):
    found = stage_values(good, study, plans)
    assert found["placed"] == 6
    assert found["last_day"] == 3, "Monday is day 0, and the last visit is on Thursday"
    assert found["waiting_s"] == 0, "every visit is laid out as alone, with every time point at its `at`"
    # ends: Monday 10:10:15, Tuesday and Thursday 12:02:55, opening at 8:00
    assert found["last_end_s"] == 7815 + 2 * 14575


def test_waiting_counts_length_once_and_time_points_twice(spoil, study, plans, tools):
    longer = spoil.moved("ROW-01", "rowing-1", 60, since="farewell/None")
    assert stage_values(longer, study, plans)["waiting_s"] == 60
    late = tools.Spoil(longer).moved("ROW-02", "rowing-1", 30, since="after/900")
    assert stage_values(late, study, plans)["waiting_s"] == 60 + 30 + 2 * 30
    early = tools.Spoil(longer).moved("ROW-02", "rowing-1", -30, since="after/900")
    assert stage_values(early, study, plans)["waiting_s"] == 60 - 30 + 2 * 30


def test_a_study_of_one_day_has_no_last_day(good, study, plans, tools):
    one = replace(study, open={tools.MON: study.open[tools.MON]})
    assert "last_day" not in stage_values(good, one, plans)


def test_an_empty_plan(good, study, plans):
    found = stage_values(replace(good, visits=(), rig_tasks=()), study, plans)
    assert found == {"placed": 0, "last_day": 0, "waiting_s": 0, "last_end_s": 0, "spare_s": MOST_SPARE_S}


def test_spare_time_before_windows(good, study, plans, tools):
    """No block with a window follows within 15 min on what its rig and people did for others."""
    assert stage_values(good, study, plans)["spare_s"] == MOST_SPARE_S
    tuesday = next(v for v in good.visits if (v.participant, v.file_id) == ("ROW-01", "rowing-1"))
    block = next(a for a in tuesday.activities if (a.step, a.at_s) == ("after", 120))
    task = good.rig_tasks[3]
    close = replace(
        task, rig="M1", staff={"operator": "K1"}, start=later(block.start, -700), end=later(block.start, -100)
    )
    spoiled = replace(good, rig_tasks=(*good.rig_tasks, close))
    assert stage_values(spoiled, study, plans)["spare_s"] == 100
