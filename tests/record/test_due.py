"""A window in words."""

from datetime import datetime

from planner.clock import later
from planner.record.due import Due

AT = datetime.fromisoformat("2027-03-02T10:00:00-04:00")
OPEN = Due(AT, AT, later(AT, 60), "2 min after the end of Rowing")
WIDE = Due(AT, later(AT, -30), later(AT, 60), "2 min after the end of Rowing")


def test_each_time_that_counts_is_said_once():
    assert OPEN.words(later(AT, -90)) == (
        "early; start first effort at 10:00:00 (in 1 min 30 s), not after 10:01:00; "
        "2 min after the end of Rowing."
    )
    assert "at 10:00:00 (now), not after" in OPEN.words(AT)
    assert "(in 20 s), not before 09:59:30, not after 10:01:00" in WIDE.words(later(AT, -20))
    assert "(20 s ago)" in WIDE.words(later(AT, 20))


def test_once_it_is_late_only_that_is_said():
    assert OPEN.words(later(AT, 105)) == (
        "late; the first effort was to start by 10:01:00, 45 s ago; 2 min after the end of Rowing."
    )
