"""Who watches may do whatever else the same visit wants: no bound may count that person twice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.packing.bounds.arithmetic import earliest_last_end, most_placed
from planner.packing.bounds.edge_bounds import most_by_edges
from planner.packing.bounds.last_end_bounds import earliest_proven
from planner.packing.bounds.limits import person_seconds
from planner.packing.bounds.study_bounds import Bounds
from planner.packing.capacity import capacity
from planner.packing.model import make_model
from planner.packing.objective import AIMS, value
from planner.packing.pack import pack
from planner.packing.problem import DayProblem
from planner.packing.realise import placed_visits, rig_tasks
from planner.packing.solve import Limits, Proof, run
from planner.packing.translate import translate
from planner.schedule.model import Outcome, Schedule
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study

NOW = datetime(2027, 1, 4, 8, tzinfo=UTC)
LEAD = frozenset({"lead"})
WATCHED = "exercise: true, rig: treadmill, staff: lead"
WALK_AND_TALK = (
    f"{{id: walk, {WATCHED}, takes: 10 min, watch: {{staff: lead, for: 15 min}}}}",
    "{id: talk, takes: 15 min, staff: lead}",
)
TWO_BOUTS = (
    f"{{id: one, {WATCHED}, takes: 5 min, watch: {{staff: lead, for: 20 min}}}}",
    f"{{id: two, {WATCHED}, takes: 5 min, watch: {{staff: lead, for: 20 min}}}}",
    "{id: sit, rest: 20 min}",
)
WALK_AND_GO = (f"{{id: walk, {WATCHED}, takes: 10 min, watch: {{staff: lead, for: 25 min}}}}",)


def written(folder: Path, steps: tuple[str, ...], **told: Any) -> Study:
    """A study of one day (or of `days`) of visits of these steps, with K1 as lead."""
    has = {"count": 8, "last": "2027-03-01", "closes": "12:00", "until": "12:00", "others": (), **told}
    titled = (step.replace("id: ", "title: A step, id: ", 1) for step in steps)
    lines = "".join(f"  - {step}\n" for step in titled)
    (folder / "walk.yaml").write_text(
        "format: 1\nname: walk\ntitle: Walking\nversion: '1'\ncautions: [Stop when asked to.]\n"
        "manoeuvres:\n"
        "  blow: {title: Blowing, rig: meter, staff: operator, prepare: 60 s, effort: 30 s, rest: 30 s,\n"
        "         efforts: 2, clear: {takes: 2 min, staff: operator}}\n"
        f"visit:\n{lines}",
        "utf-8",
    )
    (folder / "study.yaml").write_text(
        "format: 1\nname: walks\ntime_zone: Europe/Oslo\nvisits: [{id: only, protocol: walk.yaml}]\n"
        f"days: {{from: 2027-03-01, to: {has['last']}, open: {{mon-fri: '08:00-{has['closes']}'}}}}\n"
        "rigs: {treadmill: [B1], meter: [M1]}\n"
        "staff: staff.csv\nshifts: shifts.csv\nparticipants: participants.csv\n",
        "utf-8",
    )
    people = [("K1", "lead;operator"), *has["others"]]
    rows = "".join(f"{who},{roles}\n" for who, roles in people)
    (folder / "staff.csv").write_text(f"person,roles\n{rows}", "utf-8")
    shifts = "".join(f"{who},mon-fri,08:00,{has['until']},\n" for who, _ in people)
    (folder / "shifts.csv").write_text(f"person,days,from,to,breaks\n{shifts}", "utf-8")
    names = "".join(f"P{n}\n" for n in range(1, has["count"] + 1))
    (folder / "participants.csv").write_text(f"participant\n{names}", "utf-8")
    return read_study(folder)


@pytest.mark.parametrize(
    ("steps", "minutes"), [(WALK_AND_TALK, 25), (TWO_BOUTS, 30), (WALK_AND_GO, 35)], ids=("talk", "two", "go")
)
def test_a_visit_takes_what_one_person_cannot_do_at_once(
    tmp_path: Path, steps: tuple[str, ...], minutes: int
):
    (plan,) = visit_plans(written(tmp_path, steps)).values()
    assert person_seconds(plan, LEAD) == 60 * minutes


def test_what_lies_beyond_the_watch_is_not_done_meanwhile(tmp_path: Path):
    """The rest keeps the questions 5 min away from the end of the bout: 10 of the 15 min fit."""
    steps = (WALK_AND_TALK[0], "{id: sit, rest: 5 min}", WALK_AND_TALK[1])
    (plan,) = visit_plans(written(tmp_path, steps)).values()
    assert person_seconds(plan, LEAD) == 60 * (10 + 5 + 15)


@pytest.mark.parametrize("steps", [WALK_AND_TALK, TWO_BOUTS], ids=("talk", "two"))
def test_all_who_fit_on_the_first_day_are_not_said_to_need_more(tmp_path: Path, steps: tuple[str, ...]):
    study = written(tmp_path, steps, last="2027-03-05")
    plans = visit_plans(study)
    found = capacity(study, plans, seconds=4).lines[0]
    assert found.found >= 8
    made = pack(study, plans, seconds=4, now=NOW)
    assert verify(made, study, plans).broken == ()
    stages = {stage.name: stage for stage in made.stages}
    assert (made.placed, stages["last_day"].value, stages["last_day"].bound) == (8, 0, 0)


def test_a_watch_may_go_on_after_closing(tmp_path: Path):
    """The seventh visit ends at 11:40 and is watched until 12:05."""
    study = written(tmp_path, WALK_AND_GO, until="14:00", count=7)
    plans = visit_plans(study)
    assert Bounds(study, plans).most("walk.yaml", study.first_day) == 7
    made = pack(study, plans, seconds=4, now=NOW)
    assert verify(made, study, plans).broken == ()
    assert (made.placed, made.status) == (7, Outcome.OPTIMAL)


minutes = st.sampled_from((3, 5, 8, 10, 15))
roles = st.sampled_from(("lead", "operator", "[lead, operator]"))


@st.composite
def bouts(draw: st.DrawFn) -> str:
    watch = f", watch: {{staff: {draw(roles)}, for: {draw(minutes)} min}}" if draw(st.booleans()) else ""
    clear = draw(st.sampled_from(("", ", clear: 2 min", ", clear: {takes: 4 min, staff: lead}")))
    staff = draw(st.sampled_from(("lead", "operator")))
    takes = f"takes: {draw(minutes)} min"
    return f"{{id: ID, exercise: true, rig: treadmill, staff: {staff}, {takes}{watch}{clear}}}"


@st.composite
def others(draw: st.DrawFn) -> str:
    kind = draw(st.sampled_from(("task", "rest", "block")))
    if kind == "task":
        return f"{{id: ID, takes: {draw(minutes)} min, staff: {draw(roles)}}}"
    return f"{{id: ID, rest: {draw(minutes)} min}}" if kind == "rest" else "{id: ID, measure: blow}"


@st.composite
def visits(draw: st.DrawFn) -> tuple[str, ...]:
    first = [draw(others())] if draw(st.booleans()) else []
    rest = draw(st.lists(st.one_of(bouts(), others()), max_size=3))
    steps = [*first, draw(bouts()), *rest]
    return tuple(step.replace("ID", f"s{n}", 1) for n, step in enumerate(steps))


def best(problem: DayProblem, stage: str) -> tuple[Schedule, int]:
    """The best day of all by the bare model, and its value; the judge finds nothing broken."""
    core, grid = translate(problem)
    done = run(v := make_model(core), AIMS[stage](v).expression, Limits(20.0, workers=1))
    assert done.proof is Proof.OPTIMAL
    assert done.answer is not None
    visits = placed_visits(problem, core, grid, done.answer)
    tasks = rig_tasks(core, grid, done.answer)
    made = Schedule(
        problem.study.name, 1, None, problem.study.fingerprint, NOW, Outcome.FEASIBLE,
        len(problem.visits), (), visits, tasks, (), (),
    )  # fmt: skip
    return made, value(core, done.answer, stage)


def cases(steps: tuple[str, ...], told: dict[str, Any]) -> Iterator[tuple[Study, DayProblem]]:
    with TemporaryDirectory() as folder:
        study = written(Path(folder), steps, **told)
        asked = tuple(visit for several in study.asked.values() for visit in several)
        yield study, DayProblem(study, visit_plans(study), study.first_day, asked)


@settings(max_examples=60, deadline=None)
@given(
    steps=visits(),
    closes=st.sampled_from(("08:40", "09:00", "09:30")),
    until=st.sampled_from(("09:00", "09:45")),
    second=st.sampled_from(((), (("K2", "lead"),), (("K2", "operator"), ("K3", "lead")))),
)
def test_no_day_beats_a_bound(steps: tuple[str, ...], closes: str, until: str, second: tuple[Any, ...]):
    told = {"count": 4, "closes": closes, "until": until, "others": second}
    for study, problem in cases(steps, told):
        core, _ = translate(problem)
        made, _ = best(problem, "placed")
        assert [b for b in verify(made, study, problem.plans).broken if b.rule != "all-asked"] == []
        bounds = Bounds(study, problem.plans)
        assert bounds.most("walk.yaml", problem.day) >= made.placed
        assert bounds.room(problem.day) >= made.placed
        assert bounds.most_placed() >= made.placed
        assert most_placed(core) >= made.placed
        assert most_by_edges(core, 4, 0, Limits(2.0, workers=1)) >= made.placed
        if made.placed == 4:
            assert bounds.fits_by(0)
            all_of = replace(problem, must=frozenset(problem.visits))
            _, ends_s = best(all_of, "last_end_s")
            core, _ = translate(all_of)
            assert earliest_last_end(core) * core.step_s <= ends_s
            assert (
                earliest_proven(core, 0, ends_s // core.step_s, Limits(2.0, workers=1)) * core.step_s
                <= ends_s
            )
