"""Every protocol of the library as a sheet: it fits, and every planned time stands on it."""

import io
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from planner.documents.run_sheet import run_sheet
from planner.protocol.read import read_protocol

PROTOCOLS = sorted((Path(__file__).parents[2] / "protocols").glob("*.yaml"))
FILE = "cold-air-rowing.yaml"  # what the hand-made study calls its only protocol


def test_the_library_is_there():
    assert len(PROTOCOLS) >= 10


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("path", PROTOCOLS, ids=lambda path: path.stem)
def test_it_prints_on_two_pages_with_every_clock_time(make, path, paper):
    protocol = replace(read_protocol(path), file=FILE)
    visit = make.placed(protocol, make.at(8, 1))
    study, schedule = make.study({FILE: protocol}), make.schedule([visit])
    pages = pypdf.PdfReader(io.BytesIO(run_sheet(study, schedule, visit, paper=paper))).pages
    assert len(pages) <= 2
    text = "\n".join(page.extract_text() for page in pages)
    for activity in visit.activities:
        assert f"{activity.first_effort or activity.start:%H:%M}" in text
        for person in activity.staff.values():
            assert person in text
    boxes = sum(protocol.manoeuvres[a.manoeuvre].at_most for a in visit.activities if a.manoeuvre)
    numbered = [line for line in text.replace(" ", "\n").split("\n") if line.isdigit() and int(line) <= 20]
    assert len(numbered) >= boxes
