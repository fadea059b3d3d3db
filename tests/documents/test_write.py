"""Everything into a folder: names, filters, versions, nothing lost."""

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from planner.documents.write import write
from planner.schedule.plans import visit_plans
from planner.study.read import read_study
from planner.timing.lay_out import lay_out


@pytest.fixture
def two_days(make):
    protocol = make.rowing_protocol()
    study = make.study({protocol.file: protocol}, participants=("ROW-07", "ROW-08"))
    visits = [
        make.placed(protocol, make.at(9), number=1, condition="mild air"),
        make.placed(protocol, make.at(13), participant="ROW-08", number=1),
        make.placed(protocol, make.at(9, on=date(2027, 3, 9))),
    ]
    return study, make.schedule(visits), {protocol.file: lay_out(protocol, Decimal("0.8"))}


def names(paths):
    return [path.name for path in paths]


def test_every_kind_of_file_is_there_and_named_as_promised(two_days, tmp_path):
    found = names(write(*two_days, tmp_path))
    assert found == sorted(found)
    for name in (
        "run-sheet_2027-03-01_ROW-07_rowing-1.pdf",
        "run-sheet_2027-03-09_ROW-07_rowing-2.pdf",
        "run-sheet_2027-03-01_ROW-08_rowing-1.pdf",
        "day-board_2027-03-01.pdf",
        "person-sheets_2027-03-01.pdf",
        "rig-sheets_2027-03-09.pdf",
        "leaflet_ROW-08.pdf",
        "calendar_all.ics",
        "calendar_participant_ROW-07.ics",
        "calendar_person_K2.ics",
        "calendar_rig_M1.ics",
        "kit-list.xlsx",
        "workbook.xlsx",
        "ethics-text.docx",
        "README.txt",
    ):
        assert name in found
    assert {path.name for path in tmp_path.iterdir()} == {*found, ".documents.json"}


def test_no_file_names_a_condition_or_a_manoeuvre(two_days, tmp_path):
    for name in names(write(*two_days, tmp_path)):
        assert not re.search(r"mild|cold|fvc|mep", name)


def test_twice_the_same_gives_the_same_bytes(two_days, tmp_path):
    one = {p.name: p.read_bytes() for p in write(*two_days, tmp_path / "a")}
    other = {p.name: p.read_bytes() for p in write(*two_days, tmp_path / "b")}
    assert one == other


def test_a_day(two_days, tmp_path):
    found = names(write(*two_days, tmp_path, day=date(2027, 3, 9)))
    assert found == [
        "README.txt",
        "day-board_2027-03-09.pdf",
        "kit-list_2027-03-09.xlsx",
        "person-sheets_2027-03-09.pdf",
        "rig-sheets_2027-03-09.pdf",
        "run-sheet_2027-03-09_ROW-07_rowing-2.pdf",
    ]


def test_a_person(two_days, tmp_path):
    found = names(write(*two_days, tmp_path, person="K2"))
    assert "person-sheets_K2.pdf" in found
    assert "calendar_person_K2.ics" in found
    assert len([name for name in found if name.startswith("run-sheet")]) == 3
    assert not any("leaflet" in name or "board" in name for name in found)


def test_a_participant(two_days, tmp_path):
    found = names(write(*two_days, tmp_path, participant="ROW-08"))
    assert found == [
        "README.txt",
        "calendar_participant_ROW-08.ics",
        "leaflet_ROW-08.pdf",
        "run-sheet_2027-03-01_ROW-08_rowing-1.pdf",
    ]


def test_what_a_person_changed_stays_and_the_list_says_so(two_days, tmp_path):
    write(*two_days, tmp_path)
    changed = tmp_path / "ethics-text.docx"
    changed.write_bytes(b"completed by hand")
    found = names(write(*two_days, tmp_path))
    assert "ethics-text (new).docx" in found
    assert changed.read_bytes() == b"completed by hand"
    assert "ethics-text.docx -> ethics-text (new).docx" in (tmp_path / "README.txt").read_text("utf-8")


def test_sheets_of_an_earlier_plan_step_aside(two_days, tmp_path, make):
    study, old, plans = two_days
    write(study, old, plans, tmp_path)
    moved = make.placed(study.protocols["cold-air-rowing.yaml"], make.at(9, on=date(2027, 3, 10)))
    new = replace(old, version=4, replaces=3, visits=(*old.visits[:2], moved))
    found = names(write(study, new, plans, tmp_path, replaced=old))
    assert "run-sheet_2027-03-10_ROW-07_rowing-2.pdf" in found
    assert not (tmp_path / "run-sheet_2027-03-09_ROW-07_rowing-2.pdf").exists()
    assert (tmp_path / "replaced" / "run-sheet_2027-03-09_ROW-07_rowing-2.pdf").exists()
    assert "run-sheet_2027-03-09_ROW-07_rowing-2.pdf" in (tmp_path / "README.txt").read_text("utf-8")


def test_dropped_visits_are_cancelled_in_calendars(two_days, tmp_path):
    study, old, plans = two_days
    new = replace(old, version=4, replaces=3, visits=old.visits[:1])
    found = names(write(study, new, plans, tmp_path, replaced=old))
    assert "calendar-cancel_participant_ROW-08_01.ics" in found
    assert "calendar_participant_ROW-08.ics" in found


def test_progress_ends_with_everything(two_days, tmp_path):
    seen = []
    write(*two_days, tmp_path, progress=seen.append)
    assert seen[-1].done == seen[-1].of
    assert len(seen) <= 40
    assert re.fullmatch(r"\d+ of \d+ files: .+", str(seen[-1]))


def test_an_unknown_paper_is_refused_before_anything_is_written(two_days, tmp_path):
    with pytest.raises(ValueError, match="a4, letter"):
        write(*two_days, tmp_path / "x", paper="a5")
    assert not (tmp_path / "x").exists()


def test_a_plan_without_visits_still_gives_what_does_not_need_any(two_days, tmp_path):
    study, schedule, plans = two_days
    found = names(write(study, replace(schedule, visits=(), rig_tasks=()), plans, tmp_path))
    assert found == ["README.txt", "ethics-text.docx", "kit-list.xlsx", "workbook.xlsx"]


def hand_placed(study, plans, make):
    """Each visit alone on a day of its own, on the first rig of each class and the first people."""
    from planner.clock import at_clock, later
    from planner.schedule.model import Activity, PlacedVisit, PlacedWatch

    days = iter(sorted(study.open))
    placed = []
    for participant, asked in study.asked.items():
        for visit in asked:
            plan, begins = plans[visit.protocol], at_clock(next(days), make.at(9).time(), study.zone)
            rigs = {
                c: next(r.id for r in study.rigs if c in r.classes) for a in plan.activities for c in a.rigs
            }
            people = {}
            for role in sorted(
                {r for a in plan.activities for r in (*a.staff, *(a.watch.staff if a.watch else ()))}
            ):
                able = [p.id for p in study.people if role in p.roles]
                people[role] = next((p for p in able if p not in people.values()), able[0])
            activities = []
            for a in plan.activities:
                start = later(begins, plan.starts_s[a.index])
                end = later(start, a.length_s)
                watch = (
                    PlacedWatch({r: people[r] for r in a.watch.staff}, later(end, a.watch.for_s))
                    if a.watch
                    else None
                )
                activities.append(
                    Activity(
                        a.step, a.at_s, a.manoeuvre, tuple(rigs[c] for c in a.rigs), {r: people[r] for r in a.staff},  # noqa: E501
                        start, later(start, a.prepare_s) if a.manoeuvre else None, end,
                        later(end, a.clear.takes_s if a.clear else 0), a.planned_efforts, watch,
                    )
                )  # fmt: skip
            placed.append(
                PlacedVisit(participant, visit.kind, visit.number, visit.condition, tuple(activities))
            )
            if len(placed) == len(study.open):
                return placed
    return placed


def test_the_small_study_from_its_files(small, tmp_path, make):
    study = read_study(small)
    plans = visit_plans(study)
    visits = hand_placed(study, plans, make)
    schedule = make.schedule(visits, study=study.name, tz=study.zone, rig_tasks=())
    found = names(write(study, schedule, plans, tmp_path / "out"))
    assert len([name for name in found if name.startswith("run-sheet_")]) == len(visits)
    assert "ethics-text.docx" in found


def test_every_paper_of_a_plan_that_the_files_left_behind_says_so(two_days, tmp_path):
    """A sheet goes from hand to hand, and who holds it has not seen the command line."""
    study, schedule, plans = two_days
    changed = replace(study, fingerprint="other files")
    for of, is_said in ((study, False), (changed, True)):
        folder = tmp_path / str(is_said)
        for path in write(of, schedule, plans, folder):
            if path.suffix == ".pdf":
                pages = [" ".join(page.extract_text().split()) for page in PdfReader(path).pages]
                assert {"study files changed since" in page for page in pages} == {is_said}, path.name
        assert ("study files changed since" in (folder / "README.txt").read_text("utf-8")) == is_said
        told = load_workbook(folder / "workbook.xlsx").worksheets[0]
        assert any("files changed since" in str(row[0].value) for row in told) == is_said
