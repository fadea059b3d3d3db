"""What is asked for: two visits of one participant fall on one day only where somebody says so."""

import pytest

SINCE = "    since_last: {at_least: 1 d}\n"
BETWEEN = "    between_conditions: {at_least: 1 d, at_most: 3 d}\n"


@pytest.mark.parametrize(
    ("left_out", "written", "is_warned"),
    [
        ([], "", False),
        ([SINCE], "", True),  # the visit before it is another kind's
        ([BETWEEN], "", False),  # what holds since the last one holds between conditions too
        ([SINCE, BETWEEN], "", True),
        ([SINCE, BETWEEN], "between_visits: {at_least: 0 d}\n", False),
        ([SINCE, BETWEEN], "between_visits: {at_least: 2 d}\n", False),
    ],
)
def test_visits_that_may_fall_on_one_day_unsaid_are_warned_of(folder, left_out, written, is_warned):
    for line in left_out:
        folder.replace("study.yaml", line, "")
    folder.add("study.yaml", written)
    found = [one for one in folder.study().warnings if one.code == "same-day"]
    assert len(found) == is_warned
    if is_warned:
        assert "id: rowing" in folder.where(found[0])
        assert "between_visits: {at_least: 1 d}" in found[0].hint


def test_a_single_visit_of_each_is_not_warned_of(folder):
    text = (folder.path / "study.yaml").read_text("utf-8")
    start, end = text.index("  - id: rowing"), text.index("same_time_of_day")
    folder.write("study.yaml", text[:start] + text[end:])
    assert not [one for one in folder.study().warnings if one.code == "same-day"]
