"""Studies that cannot be packed: the culprit is named with its file and line, and what would mend it."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from planner.packing import reasons
from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.reasons import MOST_EXPLAINED, Finding, find_reasons
from planner.packing.why.case import Case
from planner.packing.why.explain import NOT_WHOLE, Conflict, as_reasons, explain
from planner.packing.why.of_visits import NOBODY, TOO_MANY
from planner.packing.why.oracle import Kind, Oracle, Proof
from planner.schedule.plans import visit_plans
from planner.study.model import Visit
from planner.study.read import read_study

Change = Callable[[Path, str, str], None]
Asked = Callable[[Path], Finding]


def told(found: Finding) -> str:
    return "\n".join(f"{r.file}:{r.line} {r.message}" for r in found.reasons)


def test_a_participant_who_comes_too_early(small: Path, asked: Asked):
    (small / "availability.csv").write_text(
        "participant,days,from,to,visit\nROW-01,mon-fri,06:00,08:05,\n", encoding="utf-8"
    )
    found = asked(small)
    assert found.is_proven
    assert "availability.csv:2 ROW-01 can come" in told(found)
    assert re.search(r"if ROW-01 could stay \d+ min longer", told(found))
    assert "ROW-01 could come" not in told(found), "to be there before the doors open is of no use"
    assert {participant for participant, _ in found.of_visit} == {"ROW-01"}


def test_who_is_proven_to_have_no_place_is_told_so_also_where_no_more_demands_are_looked_at(
    small: Path, asked: Asked
):
    (small / "outages.csv").write_text(
        "rig,from,to\nE1,2027-03-01T00:00,2027-03-06T00:00\n", encoding="utf-8"
    )
    codes = [f"ROW-{number:02d}" for number in range(1, MOST_EXPLAINED + 3)]
    (small / "participants.csv").write_text("\n".join(["participant", *codes, ""]), encoding="utf-8")
    study = read_study(small)
    found = asked(small)
    visits = [visit for its in study.asked.values() for visit in its]
    words = {visit.participant: found.words_for(visit) for visit in visits}
    assert found.impossible == len(words) > MOST_EXPLAINED
    assert all("was found in the time" not in one for one in words.values()), words


@pytest.fixture
def six_too_early(small: Path) -> tuple[Path, list[str]]:
    """Six who all have to leave before the first visit can be over, each for a reason of their own."""
    codes = [f"ROW-{number:02d}" for number in range(1, MOST_EXPLAINED + 4)]
    (small / "participants.csv").write_text("\n".join(["participant", *codes, ""]), encoding="utf-8")
    lines = [f"{code},mon-fri,06:00,08:0{number}" for number, code in enumerate(codes)]
    (small / "availability.csv").write_text("\n".join(["participant,days,from,to", *lines, ""]), "utf-8")
    return small, codes


@pytest.fixture
def soon() -> Asked:
    """What is found out in three seconds."""

    def ask(folder: Path) -> Finding:
        study = read_study(folder)
        plans = visit_plans(study)
        case, limits = Case(study, plans), Bounds(study, plans)
        return find_reasons(case, case.visits, Budget(time.monotonic() + 3), limits)

    return ask


def test_the_demands_of_everybody_are_named_where_time_allows(
    six_too_early: tuple[Path, list[str]], soon: Asked
):
    folder, codes = six_too_early
    found = soon(folder)
    lines = [f"availability.csv:{line} {code} can come" for line, code in enumerate(codes, 2)]
    assert all(line in told(found) for line in lines)
    assert f"if {codes[-1]} could stay" in told(found), "what would mend it as well"
    assert "time was up" not in told(found)
    assert all("can come" in found.words_for(visit) for visit in _asked(folder) if visit.kind == "practice")


def test_how_many_are_not_named_is_said(
    six_too_early: tuple[Path, list[str]], soon: Asked, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(reasons, "MORE_S", 0.0)
    folder, _ = six_too_early
    assert "3 more participants are proven not to get all visits" in told(soon(folder))


def _asked(folder: Path) -> list[Visit]:
    return [visit for its in read_study(folder).asked.values() for visit in its]


def test_a_rig_that_is_out_on_all_days(small: Path, asked: Asked):
    (small / "outages.csv").write_text(
        "rig,from,to\nE1,2027-03-01T00:00,2027-03-06T00:00\n", encoding="utf-8"
    )
    found = asked(small)
    assert found.is_proven
    assert "E1 is out of use" in told(found)
    assert "with one more rowing ergometer" in told(found)
    assert "shifts of" not in told(found)


def test_a_start_range_outside_the_opening_hours(small: Path, change: Change, asked: Asked):
    change(small / "study.yaml", 'start: "08:00-15:00"', 'start: "17:30-19:00"')
    found = asked(small)
    assert found.is_proven
    assert "rowing starts 17:30-19:00" in told(found)
    assert "if rowing might start at any time" in told(found)


def test_too_few_visits_a_day(small: Path, change: Change, asked: Asked):
    change(small / "study.yaml", "at_most_visits_a_day: 3", "at_most_visits_a_day: 1")
    found = asked(small)
    assert found.is_proven
    assert "study.yaml:18 at most 1 visit a day" in told(found)
    assert "with at most 2 visits a day" in told(found)
    assert "minutes a visit" not in told(found)  # rigs and people would take more: no reason here


def test_days_between_visits_longer_than_the_study(small: Path, change: Change, asked: Asked):
    change(small / "study.yaml", "{at_least: 1 d, at_most: 3 d}", "{at_least: 9 d, at_most: 12 d}")
    found = asked(small)
    assert found.is_proven
    assert "study.yaml:15 at least 9 days between two visits of rowing" in told(found)
    assert found.impossible == 2


@pytest.mark.parametrize("role", ["lead", "operator"])
def test_people_of_one_role_who_are_never_there(small: Path, role: str, asked: Asked):
    study = read_study(small)
    gone = [person.id for person in study.people if role in person.roles]
    rows = "".join(f"{name},2027-03-01T00:00,2027-03-06T00:00\n" for name in gone)
    (small / "absences.csv").write_text("person,from,to\n" + rows, encoding="utf-8")
    found = asked(small)
    assert found.is_proven
    assert f"can be {role}" in told(found)
    assert all(f"{name} is absent" in told(found) for name in gone)
    span = "01 Mar 00:00 to 06 Mar 00:00"
    assert all(f"if {name} were there {span}: all 6 placed" in told(found) for name in gone)


OUT_BY_TURNS = """rig,from,to
S1,2027-03-01T00:00,2027-03-03T00:00
S2,2027-03-04T00:00,2027-03-06T00:00
"""


def test_a_rig_kept_across_visits_where_the_rigs_are_there_by_turns(small: Path, asked: Asked):
    """Three visits on different days; each spirometer is there on two days. Counted by hand."""
    (small / "outages.csv").write_text(OUT_BY_TURNS, encoding="utf-8")
    found = asked(small)
    assert found.is_proven
    for culprit in (
        r"study.yaml:20 the same spirometer across visits",
        r"outages.csv:2 S1 is out of use",
        r"outages.csv:3 S2 is out of use",
        r"if the spirometer might change: all 6 placed",
    ):
        assert re.search(culprit, told(found)), told(found)
    assert "lead" not in told(found)


def test_without_keeping_the_rig_the_same_outages_are_no_reason(small: Path, change: Change, asked: Asked):
    (small / "outages.csv").write_text(OUT_BY_TURNS, encoding="utf-8")
    change(small / "study.yaml", ", across_visits: [spirometer]", "")
    assert not asked(small).is_proven


def test_a_person_kept_across_visits_where_they_work_by_turns(small: Path, change: Change, asked: Asked):
    """Whoever can be operator is there on two of the days that three visits need."""
    change(small / "study.yaml", "across_visits: [spirometer]", "across_visits: [operator]")
    operators = [person.id for person in read_study(small).people if "operator" in person.roles]
    assert len(operators) == 2
    first, second = operators
    (small / "absences.csv").write_text(
        f"person,from,to\n{first},2027-03-01T00:00,2027-03-03T00:00\n"
        f"{second},2027-03-04T00:00,2027-03-06T00:00\n",
        encoding="utf-8",
    )
    found = asked(small)
    assert found.is_proven
    assert re.search(r"study.yaml:20 the same operator across visits", told(found)), told(found)
    assert all(f"{name} is absent" in told(found) for name in operators), told(found)


def test_of_a_study_that_can_be_packed_nothing_is_proven(small: Path, asked: Asked):
    found = asked(small)
    assert not found.is_proven
    assert "not decided" in told(found)


def test_where_time_is_up_it_is_said_that_demands_may_be_missing(small: Path, change: Change):
    """No time at all for naming: the conflict is told, and that it was not looked at to the end."""
    change(small / "study.yaml", "at_most_visits_a_day: 3", "at_most_visits_a_day: 1")
    study = read_study(small)
    case = Case(study, visit_plans(study))
    over, asking = Oracle(time.monotonic()), Oracle(time.monotonic() + 120)
    proof = Proof(Kind.COUNT, study.participants)
    told = [r.message for r in as_reasons(case, explain(case, proof, over), over)]
    assert NOT_WHOLE in told
    assert "These demands cannot all be met, whatever the order of the visits" in told
    whole = [r.message for r in as_reasons(case, explain(case, proof, asking), asking)]
    assert NOT_WHOLE not in whole
    assert "at most 1 visit a day" in whole


@pytest.mark.parametrize("kind", [Kind.ROW, Kind.TOGETHER])
def test_where_no_demand_could_be_named_none_is_announced(small: Path, kind: Kind):
    """Proven, and no time at all for naming: no list is announced that then does not come."""
    study = read_study(small)
    case = Case(study, visit_plans(study))
    over = Oracle(time.monotonic())
    proof = Proof(kind, ("ROW-02",), study.first_day)
    told = [r.message for r in as_reasons(case, explain(case, proof, over), over)]
    assert told[0].startswith("ROW-02")
    assert "it is proven that not all these visits can be placed" in told[0]
    assert told[1:] == [NOT_WHOLE]


@pytest.mark.parametrize("kind", [Kind.ROW, Kind.TOGETHER])
@pytest.mark.parametrize(
    ("number", "ending"), [(7, "ROW-06, ROW-07"), (12, "ROW-11, ROW-12"), (13, "ROW-11 and 2 more")]
)
def test_of_whom_it_is_proven_nobody_is_dropped_in_silence(small: Path, kind: Kind, number: int, ending: str):
    """A proof of ten that names six would be taken for a proof of six."""
    study = read_study(small)
    proof = Proof(kind, tuple(f"ROW-{n:02}" for n in range(1, number + 1)), study.first_day)
    over = Oracle(time.monotonic())
    head = as_reasons(Case(study, visit_plans(study)), Conflict(proof, (), ()), over)[0].message
    who = head.split(" on ")[0].split(":")[0]
    assert who.startswith("ROW-01, ROW-02, "), head
    assert who.endswith(ending), head


def test_a_list_of_demands_that_was_cut_is_not_told_as_whole(
    small: Path, monkeypatch: pytest.MonkeyPatch, change: Change, asked: Asked
):
    """Looked at to the end the words are of demands that collide; cut, that there are others."""
    change(small / "study.yaml", "at_most_visits_a_day: 3", "at_most_visits_a_day: 1")
    whole = set(asked(small).of_visit.values())
    assert all(words.startswith("cannot be met together: ") for words in whole)

    def cut(*given: object) -> Conflict:
        return replace(explain(*given), is_whole=False)  # type: ignore[arg-type]

    monkeypatch.setattr(reasons, "explain", cut)
    for words in asked(small).of_visit.values():
        assert "cannot be met together" not in words
        assert "with others that were not looked at in the time: " in words


@pytest.mark.parametrize(("a_day", "words"), [("1", TOO_MANY), ("3", NOBODY)])
def test_who_has_no_place_where_no_demand_is_named(
    small: Path, monkeypatch: pytest.MonkeyPatch, a_day: str, words: str, change: Change
):
    """One visit a day is too few for six; without anybody at work nobody can come at all."""
    change(small / "study.yaml", "at_most_visits_a_day: 3", f"at_most_visits_a_day: {a_day}")
    if words == NOBODY:
        gone = [f"{one.id},2027-03-01T00:00,2027-03-06T00:00\n" for one in read_study(small).people]
        (small / "absences.csv").write_text("person,from,to\n" + "".join(gone), encoding="utf-8")
    monkeypatch.setattr(reasons, "LEAST_S", 0.0)
    study = read_study(small)
    case = Case(study, visit_plans(study))
    over = Budget(time.monotonic(), workers=1)
    found = find_reasons(case, case.visits, over, Bounds(study, case.plans))
    assert found.is_proven
    assert set(found.of_visit.values()) == {words}
