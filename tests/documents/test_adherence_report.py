"""The report for the study meeting: one page, the same bytes for the same record, files beside it."""

import csv
import io
import math
from datetime import timedelta

import pytest
from pypdf import PdfReader

from planner.adherence.compare import compare
from planner.adherence.scores import forecasts
from planner.documents.adherence_pictures import pictures
from planner.documents.adherence_report import report_pdf, write_report
from planner.record.effort import Effort, Happened, Mark, VisitKey


def play(schedule, late_s=0, rehearsed=False):
    """Every block so many seconds later than planned."""
    efforts, marks = [], []
    for visit in schedule.visits:
        key = VisitKey(visit.participant, visit.visit, visit.number)
        for a in visit.activities:
            if a.first_effort is None:
                marks += [Mark(key, a.step, None, "start", a.start), Mark(key, a.step, None, "end", a.end)]
                continue
            for n in range(a.planned_efforts):
                moment = a.first_effort + timedelta(seconds=late_s + 60 * n)
                efforts.append(Effort(key, a.step, a.at_s, a.manoeuvre, n + 1, moment))
    return Happened(tuple(efforts), tuple(marks), rehearsed)


def text_of(pdf):
    reader = PdfReader(io.BytesIO(pdf))
    return len(reader.pages), " ".join("".join(page.extract_text() for page in reader.pages).split())


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("late_s", [0, 200])
def test_it_is_one_sheet(one_day, paper, late_s):
    study, schedule = one_day
    found = compare(study, schedule, play(schedule, late_s, rehearsed=True))
    drawn = pictures(study, found, forecasts(study))
    pages, text = text_of(report_pdf(study, schedule, found, drawn, paper=paper))
    assert pages <= 2, "a sheet has two sides"
    assert "How the plan was kept: cold-air-rowing-study" in text
    assert "Dry run with made-up numbers" in text
    assert "plan 3 of 2027-02-20" in text
    assert ("time point late" in text) == (late_s > 0)


def letters_of(pdf):
    """How many points high each piece of text is printed, drawings included, with the text."""
    found = []

    def see(text, around, own, _, size):
        if text.strip():
            found.append((size * abs(own[3]) * math.hypot(around[2], around[3]), text.strip()))

    for page in PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(visitor_text=see)
    return found


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_nothing_is_printed_smaller_than_9_points(one_day, paper):
    study, schedule = one_day
    found = compare(study, schedule, play(schedule, 200))
    printed = letters_of(
        report_pdf(study, schedule, found, pictures(study, found, forecasts(study)), paper=paper)
    )
    assert any("on time" in text for _, text in printed)
    assert [(round(size, 1), text) for size, text in printed if size < 8.99] == []


def test_each_picture_has_a_sentence_that_says_how_to_read_it(one_day):
    study, schedule = one_day
    found = compare(study, schedule, play(schedule, 200))
    _, text = text_of(report_pdf(study, schedule, found, pictures(study, found, forecasts(study))))
    for picture in pictures(study, found, forecasts(study)):
        assert picture.words.partition(". ")[0] in text


def test_the_folder_holds_all_that_belongs_to_it(one_day, tmp_path):
    study, schedule = one_day
    found = compare(study, schedule, play(schedule, 200))
    paths = write_report(study, schedule, found, tmp_path / "new" / "folder")
    assert all(path.stat().st_size > 0 for path in paths)
    assert [path.name for path in paths][:3] == ["adherence.pdf", "deviations.csv", "methods.txt"]
    assert {path.suffix for path in paths} == {".pdf", ".csv", ".txt", ".svg", ".png"}
    with paths[1].open(encoding="utf-8", newline="") as file:
        assert len(list(csv.DictReader(file))) == len(found.deviations) > 0


def test_the_same_record_prints_the_same_bytes(one_day, tmp_path):
    study, schedule = one_day
    found = compare(study, schedule, play(schedule))
    first = write_report(study, schedule, found, tmp_path)[0].read_bytes()
    assert write_report(study, schedule, found, tmp_path)[0].read_bytes() == first


def test_without_a_plan_and_without_a_record(one_day, tmp_path):
    study, _ = one_day
    found = compare(study, None, Happened((), ()))
    pages, text = text_of(write_report(study, None, found, tmp_path)[0].read_bytes())
    assert pages <= 2
    assert "without a plan" in text
    assert "No deviation was found." in text


def test_with_the_record_single_visits_are_drawn_too(one_day, tmp_path):
    study, schedule = one_day
    happened = play(schedule, 200)
    found = compare(study, schedule, happened)
    names = {path.name for path in write_report(study, schedule, found, tmp_path, happened=happened)}
    assert {f"visit_ROW-07_rowing-2.{kind}" for kind in ("svg", "png", "pdf", "csv", "txt")} <= names
