"""Which view of the Study page shows which line."""

from __future__ import annotations

import pytest

from planner.pages.study_views import VIEWS, view_of_line

TEXT = """\
format: 1
name: ours
days:
  from: 2027-03-01
  to: 2027-03-05
rigs: {spirometer: S1}
at_most_waiting: 40 min
outages: broken.csv
visits:
  - id: first
    protocol: a.yaml
"""


@pytest.mark.parametrize(
    ("file", "line", "view"),
    [
        ("study.yaml", 5, "Days and rules"),
        ("study.yaml", 6, "Devices"),
        ("study.yaml", 7, "Days and rules"),
        ("study.yaml", 11, "Visits"),
        ("study.yaml", None, VIEWS[0]),
        ("broken.csv", 2, "Out of use"),
        ("unknown.csv", 2, VIEWS[0]),
    ],
)
def test_a_line_is_shown_where_it_can_be_mended(file: str, line: int | None, view: str):
    assert view_of_line(TEXT, file, line) == view


def test_where_only_the_text_can_be_shown_it_is():
    assert view_of_line("a: [", "study.yaml", 1) == "Text"
