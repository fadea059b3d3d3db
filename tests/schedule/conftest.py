"""A hand-made correct plan of the small study, and ways to spoil it."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

import pytest

from planner.clock import at_clock, later
from planner.schedule.model import (
    Activity,
    Outcome,
    PlacedVisit,
    PlacedWatch,
    RigTask,
    Schedule,
)
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import read_study
from planner.timing.plan import VisitPlan

SMALL = Path(__file__).parents[1] / "data" / "small"
MON, TUE, WED, THU, FRI = (date(2027, 3, day) for day in range(1, 6))

# who serves: written by hand, so that clearing (operator, 2 min) never meets the next block
CREW: Mapping[tuple[str, str | None], Mapping[str, str]] = {
    ("welcome", None): {"lead": "K3"},
    ("learn", "fvc"): {"operator": "K1"},
    ("learn", "mep"): {"operator": "K2", "cheek support": "K3"},
    ("before", "fvc"): {"operator": "K1"},
    ("before", "mip"): {"operator": "K2"},
    ("before", "mep"): {"operator": "K1", "cheek support": "K2"},
    ("row", None): {"lead": "K3"},
    ("row", "fvc-short"): {"operator": "K1"},
    ("after", "fvc-short"): {"operator": "K1"},
    ("after", "mep"): {"operator": "K2", "cheek support": "K3"},
    ("sit", None): {},
    ("farewell", None): {"lead": "K3"},
}
VISITS = (
    ("ROW-01", 0, MON, time(9), "S1"),
    ("ROW-01", 1, TUE, time(10), "S1"),
    ("ROW-01", 2, THU, time(10), "S1"),
    ("ROW-02", 0, MON, time(10), "S2"),
    ("ROW-02", 1, TUE, time(11, 10), "S2"),
    ("ROW-02", 2, THU, time(11, 10), "S2"),
)
CHECKS = (
    ("S1", "K1", MON, time(8)),
    ("S2", "K1", MON, time(8, 10)),
    ("S1", "K1", TUE, time(8)),
    ("S2", "K2", TUE, time(10, 54)),
    ("S1", "K1", THU, time(8)),
    ("S2", "K1", THU, time(8, 10)),
)


@pytest.fixture(scope="session")
def study() -> Study:
    """The small study."""
    return read_study(SMALL)


@pytest.fixture(scope="session")
def plans(study: Study) -> dict[str, VisitPlan]:
    """Its visit plans."""
    return visit_plans(study)


@pytest.fixture
def study_with(tmp_path: Path) -> Callable[..., Study]:
    """The small study with words in its files replaced: study_with("study.yaml", "2 h", "1 h")."""

    def make(*changes: str) -> Study:
        folder = tmp_path / "changed"
        shutil.copytree(SMALL, folder)
        for file, old, new in zip(changes[::3], changes[1::3], changes[2::3], strict=True):
            text = (folder / file).read_text("utf-8")
            assert old in text, f"{old!r} is not in {file}"
            (folder / file).write_text(text.replace(old, new), "utf-8")
        return read_study(folder)

    return make


def placed(study: Study, plans: Mapping[str, VisitPlan], row: tuple[Any, ...], crew=CREW) -> PlacedVisit:
    """A visit laid out as alone in the laboratory, on one spirometer."""
    participant, which, on, clock, spirometer = row
    visit = study.asked[participant][which]
    plan = plans[visit.protocol]
    start = at_clock(on, clock, study.zone)
    rigs = {"spirometer": spirometer, "mouth-pressure meter": "M1", "rowing ergometer": "E1"}
    activities = []
    for planned, offset in zip(plan.activities, plan.starts_s, strict=True):
        begin = later(start, offset)
        end = later(begin, planned.length_s)
        staff = crew[planned.step, planned.manoeuvre]
        watch = planned.watch
        activities.append(
            Activity(
                step=planned.step,
                at_s=planned.at_s,
                manoeuvre=planned.manoeuvre,
                rigs=tuple(rigs[name] for name in planned.rigs),
                staff=staff,
                start=begin,
                first_effort=later(begin, planned.prepare_s) if planned.manoeuvre else None,
                end=end,
                rig_free=later(end, planned.clear.takes_s if planned.clear else 0),
                planned_efforts=planned.planned_efforts,
                watch=PlacedWatch(
                    dict.fromkeys(watch.staff, crew["row", None]["lead"]), later(end, watch.for_s)
                )
                if watch
                else None,
            )
        )
    activities.sort(key=lambda one: one.start)
    return PlacedVisit(participant, visit.kind, visit.number, visit.condition, tuple(activities))


def check(study: Study, row: tuple[Any, ...]) -> RigTask:
    """A spirometer's check, ten minutes."""
    rig, person, on, clock = row
    start = at_clock(on, clock, study.zone)
    return RigTask(rig, {"operator": person}, start, later(start, 600))


@pytest.fixture
def good(study: Study, plans: dict[str, VisitPlan]) -> Schedule:
    """A plan of the small study that keeps every rule, without claims about its stages."""
    return good_plan(study, plans)


def good_plan(study: Study, plans: Mapping[str, VisitPlan], rows: Any = VISITS) -> Schedule:
    """The same for a changed study."""
    return Schedule(
        study=study.name,
        version=1,
        replaces=None,
        fingerprint=study.fingerprint,
        made=datetime(2027, 2, 20, 12, tzinfo=UTC).astimezone(study.zone),
        status=Outcome.FEASIBLE,
        asked=6,
        stages=(),
        visits=tuple(placed(study, plans, row) for row in rows),
        rig_tasks=tuple(check(study, row) for row in CHECKS),
    )


class Spoil:
    """Makes a changed copy of a plan; visits are named by participant and file_id."""

    def __init__(self, plan: Schedule) -> None:
        self.plan = plan

    def visit(self, participant: str, file_id: str, **fields: Any) -> Schedule:
        """One visit with other fields."""
        return self._visits(participant, file_id, lambda visit: replace(visit, **fields))

    def activity(self, participant: str, file_id: str, key: tuple[Any, ...], **fields: Any) -> Schedule:
        """One activity (step, at_s, manoeuvre) with other fields; a callable makes them from the activity."""

        def spoiled(one: Activity) -> Activity:
            if (one.step, one.at_s, one.manoeuvre) != key:
                return one
            values = {name: value(one) if callable(value) else value for name, value in fields.items()}
            return replace(one, **values)

        def visit(old: PlacedVisit) -> PlacedVisit:
            assert key in [(one.step, one.at_s, one.manoeuvre) for one in old.activities]
            return replace(old, activities=tuple(map(spoiled, old.activities)))

        return self._visits(participant, file_id, visit)

    def moved(self, participant: str, file_id: str, seconds: int, since: str | None = None) -> Schedule:
        """One visit (from the activity `since` on) that many seconds later."""

        def visit(old: PlacedVisit) -> PlacedVisit:
            found, on = [], since is None
            for one in old.activities:
                on = on or f"{one.step}/{one.at_s}" == since
                found.append(shifted(one, seconds) if on else one)
            return replace(old, activities=tuple(found))

        return self._visits(participant, file_id, visit)

    def without(self, participant: str, file_id: str) -> Schedule:
        """The plan without one visit."""
        kept = [v for v in self.plan.visits if (v.participant, v.file_id) != (participant, file_id)]
        assert len(kept) == len(self.plan.visits) - 1
        return replace(self.plan, visits=tuple(kept))

    def _visits(
        self, participant: str, file_id: str, change: Callable[[PlacedVisit], PlacedVisit]
    ) -> Schedule:
        assert (participant, file_id) in [(v.participant, v.file_id) for v in self.plan.visits]
        return replace(
            self.plan,
            visits=tuple(
                change(v) if (v.participant, v.file_id) == (participant, file_id) else v
                for v in self.plan.visits
            ),
        )


def shifted(one: Activity, seconds: int) -> Activity:
    """The activity that many seconds later, watch and clearing as well."""
    first = later(one.first_effort, seconds) if one.first_effort else None
    watch = replace(one.watch, end=later(one.watch.end, seconds)) if one.watch else None
    return replace(
        one,
        start=later(one.start, seconds),
        first_effort=first,
        end=later(one.end, seconds),
        rig_free=later(one.rig_free, seconds),
        watch=watch,
    )


@pytest.fixture
def spoil(good: Schedule) -> Spoil:
    """Changes to the good plan."""
    return Spoil(good)


@pytest.fixture(scope="session")
def tools() -> Any:
    """The functions of this file, for tests that change the study as well."""

    class Tools:
        pass

    tools = Tools()
    for name, thing in globals().items():
        if not name.startswith("_"):
            setattr(tools, name, thing)
    return tools
