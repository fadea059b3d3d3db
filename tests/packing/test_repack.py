"""A running day mended: begun stays, the judge is silent, and nothing changes that need not."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.commands.mend import repack as command
from planner.commands.plan_words import plan_words
from planner.faults import FaultyInput
from planner.packing.mend.aims import AIMS
from planner.packing.mend.day import MendedDay
from planner.packing.mend.troubles import Troubles
from planner.packing.progress import Progress
from planner.packing.repack import repack
from planner.schedule.model import Activity, NotPlaced, Outcome, PlacedVisit, Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.schedule.repacked import verify_repacked, waiting_in
from planner.schedule.time_ended import time_ended
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study

DATA = Path(__file__).parents[1] / "data"


class Day:
    """A study with its plan, and what a test asks of both."""

    def __init__(self, folder: Path, plan: Path) -> None:
        self.study: Study = read_study(folder)
        self.plans = visit_plans(self.study)
        self.plan: Schedule = read_plan(plan, self.study)

    def at(self, clock: str, on: str = "2027-03-01") -> datetime:
        return datetime.fromisoformat(f"{on}T{clock}").replace(tzinfo=self.study.zone)

    def mend(
        self,
        now: datetime,
        waiting: tuple[tuple[str, str, str], ...] = (),
        seconds: float = 20,
        **troubles: object,
    ) -> Schedule:
        """The mended plan, once both judges are silent."""
        told = Troubles(**troubles)  # type: ignore[arg-type]
        mended = repack(self.study, self.plans, self.plan, now=now, troubles=told, seconds=seconds)
        assert [b.message for b in verify(mended, self.study, self.plans).broken] == []
        assert [b.message for b in verify_repacked(self.plan, mended, now, waiting)] == []
        assert not any("stands as it was" in reason.message for reason in mended.reasons)
        return mended

    def only(self, number: int) -> None:
        """Keeps the first visits of the plan; the others are named as not placed."""
        kept = tuple(sorted(self.plan.visits, key=lambda v: v.start)[:number])
        left = [v for v in self.plan.visits if v not in kept]
        named = tuple(NotPlaced(v.participant, v.file_id, "left out") for v in left)
        self.plan = replace(self.plan, visits=kept, not_placed=named, stages=(), status=Outcome.FEASIBLE)


def visit(schedule: Schedule, participant: str, file_id: str | None = None) -> PlacedVisit:
    return next(v for v in schedule.visits if v.participant == participant and file_id in (None, v.file_id))


def others(schedule: Schedule, *participants: str) -> list[PlacedVisit]:
    return [v for v in schedule.visits if v.participant not in participants]


def values(schedule: Schedule) -> dict[str, tuple[int, int]]:
    return {stage.name: (stage.value, stage.bound) for stage in schedule.stages}


def step(placed: PlacedVisit, name: str) -> Activity:
    return next(a for a in placed.activities if a.step == name)


@pytest.fixture
def twelve() -> Day:
    return Day(DATA / "treadmill_day", DATA / "treadmill_day-plan.json")


@pytest.fixture
def five(twelve: Day) -> Day:
    twelve.only(5)
    return twelve


@pytest.fixture
def week(small: Path) -> Day:
    return Day(small, DATA / "small-plan.json")


def test_nothing_wrong_changes_nothing(twelve: Day):
    mended = twelve.mend(twelve.at("11:00"))
    assert mended.visits == twelve.plan.visits
    assert mended.changes == ()
    assert (mended.version, mended.replaces) == (twelve.plan.version + 1, twelve.plan.version)


def test_a_trouble_that_hits_nobody_changes_nothing(twelve: Day):
    mended = twelve.mend(twelve.at("07:00"), out_of_use=(("M1", twelve.at("07:10"), twelve.at("07:30")),))
    assert mended.visits == twelve.plan.visits
    assert mended.changes == ()


def test_who_comes_late_starts_no_sooner_and_others_stay(five: Day):
    last = max(five.plan.visits, key=lambda v: v.start)
    now = last.start - timedelta(minutes=20)
    mended = five.mend(now, late={last.participant: 20})
    assert visit(mended, last.participant).start >= last.start + timedelta(minutes=20)
    assert others(mended, last.participant) == others(five.plan, last.participant)
    assert values(mended)["participants_touched"] == (1, 1)
    assert values(mended)["blocks_changed"][0] == values(mended)["blocks_changed"][1] == len(last.activities)


def test_who_is_not_there_yet_has_not_begun(five: Day):
    last = max(five.plan.visits, key=lambda v: v.start)
    now = last.start + timedelta(minutes=2)
    waiting = tuple((last.participant, last.file_id, a.step) for a in last.activities)
    mended = five.mend(now, waiting, late={last.participant: 12})
    assert visit(mended, last.participant).start >= last.start + timedelta(minutes=12)


def test_due_times_count_from_the_real_end_of_the_bout(five: Day):
    """After 15 minutes more of running, +1 min is 1 to 2 min after the real end (the protocol's window)."""
    running = max(five.plan.visits, key=lambda v: v.start)
    bout = step(running, "run")
    end = bout.end + timedelta(minutes=15)
    now = bout.end + timedelta(minutes=1)
    waiting = tuple(
        (running.participant, running.file_id, a.step) for a in running.activities if a.start >= bout.end
    )
    mended = five.mend(now, waiting, ended={(running.participant, "run"): end})
    new = visit(mended, running.participant)
    assert step(new, "run").end == end
    first = step(new, "after-1").first_effort
    assert first is not None
    assert timedelta(minutes=1) <= first - end <= timedelta(minutes=2)
    assert step(new, "after-1").start >= end


def test_a_bout_that_ends_early_is_named(five: Day):
    running = max(five.plan.visits, key=lambda v: v.start)
    bout = step(running, "run")
    end = bout.end - timedelta(minutes=4)
    mended = five.mend(end, ended={(running.participant, "run"): end})
    assert [(c.kind, c.step) for c in mended.changes if c.kind == "ended early"] == [("ended early", "run")]
    assert step(visit(mended, running.participant), "run").end == end


def test_an_end_before_its_start_is_refused_in_words(five: Day):
    running = max(five.plan.visits, key=lambda v: v.start)
    bout = step(running, "run")
    told = Troubles(ended={(running.participant, "run"): bout.start - timedelta(minutes=1)})
    with pytest.raises(FaultyInput, match="Give an end after its start"):
        repack(five.study, five.plans, five.plan, now=bout.end, troubles=told)


@pytest.mark.parametrize("kind", ["out_of_use", "absent"])
def test_what_is_not_there_serves_nobody_meanwhile(five: Day, kind: str):
    name = "M1" if kind == "out_of_use" else "T3"
    start, end = five.at("10:45"), five.at("11:15")
    now = five.at("10:30")
    mended = five.mend(now, **{kind: ((name, start, end),)})
    for placed in mended.visits:
        for one in placed.activities:
            if name in one.rigs:
                assert one.rig_free <= start or one.start >= end
            if name in one.staff.values():
                assert one.end <= start or one.start >= end
    touched, bound = values(mended)["participants_touched"]
    assert touched == bound


def test_a_block_on_a_failing_rig_is_done_again_and_no_other_that_had_begun(five: Day):
    placed, block = next(
        (v, a)
        for v in sorted(five.plan.visits, key=lambda v: v.start, reverse=True)
        for a in v.activities
        if a.manoeuvre == "fvc" and a.step == "after-15"
    )
    now = block.start + timedelta(minutes=2)
    waiting = ((placed.participant, placed.file_id, block.step),)
    mended = five.mend(now, waiting, out_of_use=((block.rigs[0], now, now + timedelta(hours=1)),))
    again = next(
        a
        for a in visit(mended, placed.participant).activities
        if (a.step, a.manoeuvre) == ("after-15", "fvc")
    )
    assert again.start >= now
    assert again.rigs != block.rigs or again.start >= now + timedelta(hours=1)
    late = again.first_effort - step(placed, "run").end - timedelta(minutes=17)  # at 15 min, late 2 min
    missed = [c for c in mended.changes if c.kind == "window missed" and c.step == "after-15"]
    assert bool(missed) == (late > timedelta(0))


def test_a_cancelled_visit_gets_another_day_and_others_stay(week: Day):
    """ROW-01's first rowing: another open day, at least a day after practice and before the second."""
    first = visit(week.plan, "ROW-01", "rowing-1")
    mended = week.mend(first.start - timedelta(hours=1), cancelled=("ROW-01",))
    assert others(mended, "ROW-01") == others(week.plan, "ROW-01")
    new = {v.file_id: v for v in mended.visits if v.participant == "ROW-01"}
    assert visit(mended, "ROW-01", "practice") == visit(week.plan, "ROW-01", "practice")
    assert new["rowing-1"].date > first.date
    assert new["rowing-1"].condition == first.condition
    assert 1 <= (new["rowing-2"].date - new["rowing-1"].date).days <= 3
    assert values(mended)["shift_s"] == (0, 0), "a visit on another day is not shifted within its day"
    assert mended.status is Outcome.FEASIBLE, "nothing proves that its new day is the nearest"


def test_a_day_that_a_later_visit_has_left_keeps_its_check_of_a_rig(week: Day):
    """ROW-01's practice is cancelled and moves to where the first rowing was: S1 is checked there already."""
    first = visit(week.plan, "ROW-01", "practice")
    mended = week.mend(first.start - timedelta(hours=1), cancelled=("ROW-01",))
    assert visit(mended, "ROW-01", "practice").date > first.date
    assert len({(task.rig, task.start.date()) for task in mended.rig_tasks}) == len(mended.rig_tasks)
    assert others(mended, "ROW-01") == others(week.plan, "ROW-01")


def test_a_visit_that_no_other_day_takes_says_which_were_tried(five: Day):
    last = max(five.plan.visits, key=lambda v: v.start)
    mended = five.mend(last.start - timedelta(hours=1), cancelled=(last.participant,))
    left = next(n for n in mended.not_placed if n.participant == last.participant)
    assert left.message == "cancelled on 2027-03-01; the study has no other day"
    assert [c.kind for c in mended.changes] == ["dropped"]
    assert others(mended, last.participant) == others(five.plan, last.participant)


@pytest.mark.parametrize(("bound", "words"), [(1, "it has no place left"), (0, "no place was found")])
def test_no_place_is_only_said_where_it_is_proven(
    five: Day, monkeypatch: pytest.MonkeyPatch, bound: int, words: str
):
    """One visit is left out; whether every plan of the day must leave one out is what the bound says."""
    first = min(five.plan.visits, key=lambda v: v.start)
    asked = next(v for v in five.study.asked[first.participant] if v.file_id == first.file_id)
    others = tuple(v for v in five.plan.visits if v != first)
    left = MendedDay(
        others, five.plan.rig_tasks, (asked,), values={"visits_lost": 1}, bounds={"visits_lost": bound}
    )
    left = replace(
        left, values=dict.fromkeys(AIMS, 0) | left.values, bounds=dict.fromkeys(AIMS, 0) | left.bounds
    )
    monkeypatch.setattr("planner.packing.repack.mend_day", lambda *_: left)
    now = five.at("07:00")
    told = Troubles(absent=(("T1", now, now + timedelta(hours=2)),))
    mended = repack(five.study, five.plans, five.plan, now=now, troubles=told, seconds=2)
    (named,) = [n for n in mended.not_placed if n.participant == first.participant]
    assert words in named.message
    assert ("with more seconds" in named.message) == (bound == 0)


def test_two_visits_of_the_small_study_mend_on_a_day_of_changed_times(week: Day):
    """ROW-02 late by 10 minutes on 4 March: rowing-1 moves, practice and other days stay."""
    planned = visit(week.plan, "ROW-02", "rowing-1")
    mended = week.mend(planned.start - timedelta(minutes=30), late={"ROW-02": 10})
    assert visit(mended, "ROW-02", "rowing-1").start >= planned.start + timedelta(minutes=10)
    untouched = [v for v in week.plan.visits if v.date != planned.date]
    assert [v for v in mended.visits if v.date != planned.date] == untouched


def test_one_late_in_a_day_of_twelve_is_mended_without_loss(twelve: Day):
    late = next(v for v in sorted(twelve.plan.visits, key=lambda v: v.start) if v.start > twelve.at("11:00"))
    told, heard = Troubles(late={late.participant: 10}), list[Progress]()
    mended = repack(
        twelve.study, twelve.plans, twelve.plan, now=twelve.at("11:00"), troubles=told, seconds=3600,
        progress=heard.append, stop=lambda: any(one.placed == 12 for one in heard),
    )  # fmt: skip
    assert mended.placed == 12
    assert not verify(mended, twelve.study, twelve.plans).broken
    assert not verify_repacked(twelve.plan, mended, twelve.at("11:00"))
    assert values(mended)["demands_missed"] == (0, 0)


def test_the_command_gives_a_plan_with_its_changes(week: Day, small: Path):
    planned = visit(week.plan, "ROW-02", "rowing-1")
    now = planned.start - timedelta(minutes=30)
    words = [
        str(small),
        "--plan",
        str(DATA / "small-plan.json"),
        "--now",
        now.isoformat(),
        "--late",
        "ROW-02=10",
    ]
    result = CliRunner().invoke(command, [*words, "--json"])
    assert result.exit_code == 0, result.output
    plan = json.loads(result.stdout)
    assert plan["version"] == plan["replaces"] + 1
    assert {change["participant"] for change in plan["changes"]} == {"ROW-02"}


def test_who_stays_with_one_and_serves_them_may_stay_with_another_later(demo: Path):
    """Two visits whose watches one person may keep: serving the own participant meanwhile is no clash."""
    day = Day(demo, demo / "plan.json")
    now = day.at("10:07:55", "2027-10-15")
    begun = {v.participant for v in day.plan.on(now.date()) if v.start < now}
    waiting = tuple(
        (v.participant, v.file_id, a.step)
        for v in day.plan.on(now.date())
        for a in v.activities
        if v.participant in begun and a.end > now and "S1" in a.rigs
    )
    mended = day.mend(now, waiting, out_of_use=(("S1", now, now + timedelta(minutes=33)),))
    assert mended.placed == 72
    assert [v for v in mended.visits if v.date != now.date()] == [
        v for v in day.plan.visits if v.date != now.date()
    ]


def run_of_pressures(five: Day) -> tuple[PlacedVisit, Activity]:
    """The last visit's MEP at 5 min, which shares a meter with the MIP before it."""
    placed = max(five.plan.visits, key=lambda v: v.start)
    return placed, next(a for a in placed.activities if (a.step, a.manoeuvre) == ("after-5", "mep"))


def test_a_rig_that_fails_within_a_run_is_taken_over_by_another(five: Day):
    """MEP is broken off on the meter of the MIP before it: it is done anew elsewhere, and that is named."""
    placed, block = run_of_pressures(five)
    now = block.start + timedelta(minutes=1)
    waiting = ((placed.participant, placed.file_id, block.step),)
    mended = five.mend(now, waiting, out_of_use=((block.rigs[0], now, now + timedelta(hours=3)),))
    own = visit(mended, placed.participant)
    again = next(a for a in own.activities if (a.step, a.manoeuvre) == ("after-5", "mep"))
    assert len(own.activities) == len(placed.activities)
    assert again.start >= now
    assert again.rigs != block.rigs
    assert [c.step for c in mended.changes if c.kind == "run broken"] == ["after-5"]
    first = next(a for a in own.activities if (a.step, a.manoeuvre) == ("after-5", "mip"))
    assert (first.start, first.rigs) == (step(placed, "after-5").start, block.rigs)


def test_a_run_broken_before_stays_so_when_mended_again(five: Day):
    placed, block = run_of_pressures(five)
    now = block.start + timedelta(minutes=1)
    waiting = ((placed.participant, placed.file_id, block.step),)
    five.plan = five.mend(now, waiting, out_of_use=((block.rigs[0], now, now + timedelta(hours=3)),))
    own = visit(five.plan, placed.participant)
    again = next(a for a in own.activities if (a.step, a.manoeuvre) == ("after-5", "mep"))
    ahead = next(a for a in own.activities if a.step == "after-15")
    longer = five.mend(
        again.end + timedelta(seconds=30),
        absent=(("T3", ahead.start, ahead.end), ("T2", ahead.start, ahead.end)),
    )
    assert [c.step for c in longer.changes if c.kind == "run broken"] == ["after-5"]


def test_a_mended_plan_is_called_optimal_where_its_own_stages_are_proven(five: Day):
    last = max(five.plan.visits, key=lambda v: v.start)
    mended = five.mend(last.start - timedelta(minutes=20), late={last.participant: 20})
    full = replace(mended, asked=mended.placed)
    assert all(stage.status is Outcome.OPTIMAL for stage in mended.stages if stage.name != "placed")
    assert not time_ended(mended)
    assert values(mended)["shift_s"][0] == sum(
        abs((new.start - old.start).total_seconds())
        for old, new in zip(last.activities, visit(mended, last.participant).activities, strict=True)
    )
    assert full.placed == len(five.plan.visits)


def test_a_day_is_optimal_where_everybody_has_a_place_and_all_is_proven(twelve: Day):
    running = max(twelve.plan.visits, key=lambda v: v.start)
    block = next(a for a in running.activities if a.step == "after-30")
    now = block.start + timedelta(seconds=30)
    waiting = ((running.participant, running.file_id, block.step),)
    mended = twelve.mend(now, waiting, out_of_use=((block.rigs[0], now, now + timedelta(minutes=1)),))
    assert mended.placed == 12
    assert mended.status is Outcome.OPTIMAL
    assert [stage.name for stage in mended.stages] == [
        "placed", "demands_missed", "participants_touched", "blocks_changed", "shift_s",
    ]  # fmt: skip


@pytest.mark.parametrize("name", ["participants_touched", "blocks_changed", "shift_s", "demands_missed"])
def test_a_stage_of_a_mended_plan_that_its_changes_do_not_give_is_refused(five: Day, name: str):
    last = max(five.plan.visits, key=lambda v: v.start)
    mended = five.mend(last.start - timedelta(minutes=20), late={last.participant: 20})
    told = tuple(
        replace(s, value=s.value + 1, bound=s.bound + 1) if s.name == name else s for s in mended.stages
    )
    broken = verify(replace(mended, stages=told), five.study, five.plans).broken
    assert [b.rule for b in broken] == ["stage-value"]
    assert name in broken[0].message


def test_a_mended_plan_called_optimal_with_a_stage_unproven_is_refused(five: Day):
    last = max(five.plan.visits, key=lambda v: v.start)
    mended = five.mend(last.start - timedelta(minutes=20), late={last.participant: 20})
    told = tuple(
        replace(s, bound=0, status=Outcome.FEASIBLE) if s.name == "shift_s" else s for s in mended.stages
    )
    broken = verify(replace(mended, stages=told, status=Outcome.OPTIMAL), five.study, five.plans).broken
    assert "false-optimal" in {b.rule for b in broken}
    assert any("shift_s" in b.message for b in broken)


def test_a_stop_keeps_the_best_and_progress_is_told(twelve: Day):
    late = next(v for v in sorted(twelve.plan.visits, key=lambda v: v.start) if v.start > twelve.at("11:00"))
    heard: list[Progress] = []
    told = Troubles(late={late.participant: 20})
    mended = repack(
        twelve.study, twelve.plans, twelve.plan, now=twelve.at("11:00"), troubles=told,
        progress=heard.append, stop=lambda: bool(heard),
    )  # fmt: skip
    assert heard
    assert heard[0].placed <= mended.placed
    assert not verify(mended, twelve.study, twelve.plans).broken
    own = [v for v in mended.visits if v.participant == late.participant]
    assert own or late.participant in {n.participant for n in mended.not_placed}
    assert all(v.start >= late.start + timedelta(minutes=20) for v in own)


def test_a_stop_before_anything_is_found_still_gives_a_whole_plan(twelve: Day):
    late = next(v for v in sorted(twelve.plan.visits, key=lambda v: v.start) if v.start > twelve.at("11:00"))
    told = Troubles(late={late.participant: 20})
    mended = repack(
        twelve.study, twelve.plans, twelve.plan, now=twelve.at("11:00"), troubles=told, stop=lambda: True
    )
    assert not verify(mended, twelve.study, twelve.plans).broken
    assert not verify_repacked(twelve.plan, mended, twelve.at("11:00"))


def test_a_replacement_comes_with_the_order_of_the_one_replaced(week: Day):
    """ROW-02 leaves before the first rowing; ROW-03 takes over with ROW-02's sequence of conditions."""
    folder = week.study.folder
    (folder / "participants.csv").write_text(
        "participant,replaces\nROW-01,\nROW-02,\nROW-03,ROW-02\n", encoding="utf-8"
    )
    before = week.plan
    again = Day(folder, DATA / "small-plan.json")
    now = min(v.start for v in before.visits) - timedelta(hours=1)
    told = Troubles(cancelled=("ROW-02",))
    mended = repack(again.study, again.plans, again.plan, now=now, troubles=told)
    conditions = {
        who: [v.condition for v in again.study.asked[who] if v.condition] for who in ("ROW-02", "ROW-03")
    }
    assert conditions["ROW-03"] == conditions["ROW-02"]
    placed = [v for v in mended.visits if v.participant == "ROW-03"]
    named = [n for n in mended.not_placed if n.participant == "ROW-03"]
    assert len(placed) + len(named) == len(again.study.asked["ROW-03"])
    assert placed
    assert mended.asked == sum(map(len, again.study.asked.values()))
    assert not verify(mended, again.study, again.plans).broken
    assert others(mended, "ROW-02", "ROW-03") == others(before, "ROW-02", "ROW-03")


@pytest.fixture
def without_two(week: Day) -> Day:
    """The week's plan beside files that know no ROW-02 any more."""
    folder = week.study.folder
    for name in ("participants.csv", "availability.csv"):
        lines = (folder / name).read_text("utf-8").splitlines(keepends=True)
        (folder / name).write_text("".join(one for one in lines if "ROW-02" not in one), encoding="utf-8")
    return Day(folder, DATA / "small-plan.json")


def test_who_is_out_of_the_files_and_cancelled_is_asked_for_no_more(without_two: Day):
    """None of the visits to come has another day, and the judge of the new plan is silent."""
    mended = without_two.mend(without_two.at("07:00"), cancelled=("ROW-02",))
    assert {v.participant for v in mended.visits} == {"ROW-01"}
    assert (mended.asked, mended.placed, mended.not_placed) == (3, 3, ())
    assert values(mended)["placed"] == (3, 3)
    assert values(mended)["participants_touched"] == (1, 1)
    assert mended.fingerprint == without_two.study.fingerprint


def test_what_had_begun_of_who_is_out_of_the_files_stays_and_counts(without_two: Day):
    told = Troubles(cancelled=("ROW-02",))
    now = visit(without_two.plan, "ROW-02", "practice").end + timedelta(hours=1)
    mended = repack(without_two.study, without_two.plans, without_two.plan, now=now, troubles=told)
    assert [v.file_id for v in mended.visits if v.participant == "ROW-02"] == ["practice"]
    assert (mended.asked, mended.placed) == (4, 4)


def test_who_is_out_of_the_files_without_a_place_is_named_no_more(without_two: Day):
    plan = without_two.plan
    named = tuple(
        NotPlaced("ROW-02", v.file_id, "left out") for v in plan.visits if v.participant == "ROW-02"
    )
    kept = tuple(others(plan, "ROW-02"))
    without_two.plan = replace(plan, visits=kept, not_placed=named, stages=(), status=Outcome.FEASIBLE)
    mended = without_two.mend(without_two.at("07:00"), late={"ROW-01": 5})
    assert (mended.asked, mended.placed, mended.not_placed) == (3, 3, ())


def test_who_has_no_place_for_a_first_visit_is_not_given_one_for_those_after_it(week: Day):
    """ROW-03 takes over from ROW-02, and may come to practice for ten minutes only: too short for it."""
    folder = week.study.folder
    (folder / "participants.csv").write_text(
        "participant,replaces\nROW-01,\nROW-02,\nROW-03,ROW-02\n", encoding="utf-8"
    )
    lines = "participant,days,from,to,visit\nROW-03,2027-03-02,08:00,08:10,practice\n"
    (folder / "availability.csv").write_text(lines + "ROW-03,mon-fri,08:00,17:00,rowing\n", encoding="utf-8")
    again = Day(folder, DATA / "small-plan.json")
    now = min(v.start for v in again.plan.visits) - timedelta(hours=1)
    mended = again.mend(now, cancelled=("ROW-02",))
    assert [v for v in mended.visits if v.participant == "ROW-03"] == []
    named = {n.visit: n.message for n in mended.not_placed if n.participant == "ROW-03"}
    assert list(named) == ["practice", "rowing-1", "rowing-2"]
    assert "practice, which comes before it, has no place" in named["rowing-1"]


def test_visits_that_stay_without_the_one_before_them_are_named_with_it(week: Day):
    """Practice is cancelled and has no other day; the rowings stay where they were told."""
    folder = week.study.folder
    lines = "participant,days,from,to,visit\nROW-01,2027-03-01,08:00,17:00,practice\n"
    (folder / "availability.csv").write_text(lines + "ROW-01,mon-fri,08:00,17:00,rowing\n", encoding="utf-8")
    again = Day(folder, DATA / "small-plan.json")
    mended = again.mend(visit(again.plan, "ROW-01").start - timedelta(hours=1), cancelled=("ROW-01",))
    (left,) = mended.not_placed
    assert (left.participant, left.visit) == ("ROW-01", "practice")
    assert "on no later day may it be" in left.message
    assert "rowing-1 and rowing-2 stay in the plan without it" in left.message
    assert len([v for v in mended.visits if v.participant == "ROW-01"]) == 2


def test_the_bound_does_not_count_who_cannot_come_any_more(twelve: Day):
    """One day, twelve visits, one cancelled: eleven are all that can come; a second mend knows it as well."""
    last = max(twelve.plan.visits, key=lambda v: v.start)
    twelve.plan = twelve.mend(last.start - timedelta(hours=1), cancelled=(last.participant,))
    assert values(twelve.plan)["placed"] == (11, 11)
    assert twelve.plan.status is Outcome.FEASIBLE
    again = twelve.mend(last.start - timedelta(minutes=30))
    assert (values(again)["placed"], again.status) == ((11, 11), Outcome.FEASIBLE)
    last = max(twelve.plan.visits, key=lambda v: v.start)
    late = twelve.mend(last.start - timedelta(minutes=10), late={last.participant: 5})
    assert values(late)["placed"][1] == 11


def test_the_bound_counts_who_may_still_have_another_day(week: Day):
    """ROW-01's practice is cancelled; Friday is open to it, if only the rowings moved."""
    folder = week.study.folder
    lines = "participant,days,from,to,visit\nROW-01,2027-03-01,08:00,17:00,practice\n"
    lines += "ROW-01,2027-03-05,08:00,17:00,practice\n"
    (folder / "availability.csv").write_text(lines + "ROW-01,mon-fri,08:00,17:00,rowing\n", encoding="utf-8")
    again = Day(folder, DATA / "small-plan.json")
    mended = again.mend(visit(again.plan, "ROW-01").start - timedelta(hours=1), cancelled=("ROW-01",))
    assert values(mended)["placed"] == (5, 6)
    assert mended.status is Outcome.FEASIBLE


@pytest.mark.parametrize("seconds", [0.01, 1])
def test_some_way_is_found_however_little_time_there_is(twelve: Day, seconds: float):
    """A person away for two hours from now on, in a day of twelve that is full."""
    now = twelve.at("10:12")
    told = Troubles(absent=(("T1", now, now + timedelta(hours=2)),))
    mended = repack(twelve.study, twelve.plans, twelve.plan, now=now, troubles=told, seconds=seconds)
    assert [b.message for b in verify(mended, twelve.study, twelve.plans).broken] == []
    assert not any("stands as it was" in reason.message for reason in mended.reasons)
    for placed in mended.visits:
        for one in placed.activities:
            if "T1" in one.staff.values():
                assert one.start < now or one.start >= now + timedelta(hours=2)


def test_nobody_loses_their_place_in_no_time_where_waiting_is_enough(twelve: Day):
    """A device is out for twenty minutes early on a full day: everybody waits their turn."""
    now = twelve.at("08:57")
    mended = twelve.mend(now, seconds=0.01, out_of_use=(("M1", now, now + timedelta(minutes=20)),))
    assert mended.placed == 12
    assert time_ended(mended)
    twelve.plan = mended
    assert not time_ended(twelve.mend(now)), "with nothing wrong there was nothing to search for"


def test_windows_past_already_are_named_and_cost_nobody_their_place(twelve: Day):
    twelve.only(4)
    now, ended = twelve.at("09:00"), {("Q02", "run"): twelve.at("08:46")}
    told = Troubles(ended=ended)
    mended = repack(twelve.study, twelve.plans, twelve.plan, now=now, troubles=told, seconds=20)
    waiting = waiting_in(twelve.plan, mended)
    assert verify(mended, twelve.study, twelve.plans).broken == ()
    assert verify_repacked(twelve.plan, mended, now, waiting) == ()
    assert len(mended.visits) == 4
    assert visit(mended, "Q01") == visit(twelve.plan, "Q01")
    missed = [c for c in mended.changes if c.kind == "window missed"]
    assert {c.participant for c in missed} == {"Q02"}  # at 1 and 5 min after 8:46, and what must follow them
    assert {"after-1", "after-5"} <= {c.step for c in missed}


def unchecked(week: Day, monkeypatch: pytest.MonkeyPatch) -> Schedule:
    """A mend that would leave a rig unchecked, as the judge finds."""
    now = week.at("07:30")
    kept = MendedDay(tuple(v for v in week.plan.visits if v.date == now.date()), ())
    monkeypatch.setattr("planner.packing.repack.mend_day", lambda *_: kept)
    told = Troubles(absent=(("K2", now, week.at("08:05")),))
    return repack(week.study, week.plans, week.plan, now=now, troubles=told)


def test_a_mend_that_is_refused_claims_nothing_and_says_so_first(week: Day, monkeypatch: pytest.MonkeyPatch):
    week.plan = replace(week.plan, status=Outcome.OPTIMAL)
    found = unchecked(week, monkeypatch)
    assert found.visits == week.plan.visits
    assert found.status is Outcome.FEASIBLE
    head, why, *_ = plan_words(found).splitlines()
    assert head.endswith("Not mended: with these troubles the plan does not hold.")
    assert why.startswith("  the mended plan was refused, and the plan stands as it was: ROW-01, practice")


def test_what_is_mended_later_does_not_say_that_it_was_not(week: Day, monkeypatch: pytest.MonkeyPatch):
    week.plan = unchecked(week, monkeypatch)
    monkeypatch.undo()
    mended = week.mend(week.at("07:30"), late={"ROW-02": 10})
    assert "Not mended" not in plan_words(mended)
