"""A person's and a device's own day."""

import io
from datetime import date

import pypdf
import pytest

from planner.clock import Interval
from planner.documents.busy import spans
from planner.documents.day_sheets import Of, _person_page, _rig_page, day_sheets

DAY = date(2027, 3, 1)


@pytest.fixture
def two(make):
    protocol = make.rowing_protocol()
    names = ("ROW-07", "ROW-08")
    study = make.study({protocol.file: protocol}, participants=names)
    visits = [
        make.placed(protocol, make.at(9 + n, 3 + 20 * n), participant=name) for n, name in enumerate(names)
    ]
    schedule = make.schedule(visits)
    return study, schedule, spans(study, schedule)


def test_a_person_sees_every_duty_in_order_with_breaks(two):
    study, _, found = two
    page = _person_page(study.person("K1"), DAY, found)
    cells = [row["cells"] for row in page["rows"]]
    assert cells[0] == ["08:00–08:10", "Check of S1 before first use", "", "S1", "operator"]
    assert ["12:00–12:30", "Break", "", "", ""] in cells
    assert ["09:38–09:53", "stay with the participant", "ROW-07 rowing 2", "", "lead"] in cells
    assert [c[0] for c in cells] == sorted(c[0] for c in cells)
    assert page["hours"] == "At work 08:00–17:00"


def test_only_those_who_clear_are_told_to(two):
    study, _, found = two
    helper = [row["cells"][1] for row in _person_page(study.person("K2"), DAY, found)["rows"]]
    assert "cleaning and reset" not in helper
    assert helper.count("MEP efforts") == 8


def test_a_device_sees_its_check_its_cleaning_and_each_new_participant(two):
    study, _, found = two
    page = _rig_page(study.rig("S1"), DAY, found)
    assert page["top"][0] == "Check before first use, planned 08:00–08:10, operator K1"
    whats = [row["cells"][1] for row in page["rows"]]
    assert whats.count("cleaning and reset") == 10
    assert sum("fresh filter" in what for what in whats) >= 2


def test_an_outage_stands_on_the_devices_sheet(two, make):
    study, _, found = two
    rig = study.rig("S2")
    out = type(rig)("S2", rig.classes, (Interval(make.at(10), make.at(11)),))
    assert _rig_page(out, DAY, found)["rows"][0]["cells"][:2] == ["10:00–11:00", "Out of use"]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_each_has_a_page_of_its_own(two, paper):
    study, schedule, found = two
    pages = [("K1", DAY), ("K2", DAY)]
    pdf = day_sheets(study, schedule, found, pages, of=Of.PERSON, paper=paper, what="Monday")
    texts = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]
    assert sum(text.startswith("K1") for text in texts) >= 1
    assert texts[-1].startswith("K2")
    pdf = day_sheets(
        study, schedule, found, [("M1", DAY), ("E1", DAY)], of=Of.RIG, paper=paper, what="Monday"
    )
    assert len(pypdf.PdfReader(io.BytesIO(pdf)).pages) == 2


def test_a_page_that_goes_on_says_whose_and_which_day(make):
    """Two pages lie on a table: the second one must not be taken for another day's."""
    protocol = make.rowing_protocol()
    names = tuple(f"ROW-{n:02}" for n in range(1, 7))
    study = make.study({protocol.file: protocol}, participants=names)
    visits = [make.placed(protocol, make.at(8 + n, 10), participant=name) for n, name in enumerate(names)]
    schedule = make.schedule(visits)
    found = spans(study, schedule)
    pdf = day_sheets(study, schedule, found, [("K1", DAY)], of=Of.PERSON, what="Monday")
    texts = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]
    assert len(texts) >= 2
    for number, text in enumerate(texts):
        assert text.startswith("K1")
        assert text.count("Monday 1 March 2027") == 1, number
