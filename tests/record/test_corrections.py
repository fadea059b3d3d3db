"""Corrections: an event of its own, with who, when and why, beside the first entry."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from planner.record.actions import correct
from planner.record.chain import check
from planner.record.drafts import Hand
from planner.record.tables import events_query


def seq_of(store, reading: str, effort: int) -> int:
    return next(row.seq for row in store.rows("ROW-01") if (row.reading, row.effort) == (reading, effort))


def test_the_first_entry_stays_beside_its_correction(store, take, two_efforts):
    take(store, two_efforts)
    seq = seq_of(store, "FVC", 2)
    assert correct(store, [seq], Hand("K2", "picked"), "read wrongly", value=Decimal("4.75")).is_recorded
    first, corrected = [row for row in store.read(events_query()) if row.seq == seq or row.corrects == seq]
    assert (first.value, first.who, first.kind) == ("4.70", "K1", "reading")
    assert (corrected.value, corrected.who, corrected.kind) == ("4.75", "K2", "correction")
    assert (corrected.reason, corrected.corrects) == ("read wrongly", seq)
    assert store.happened().efforts[1].values[0].value == Decimal("4.75")
    assert store.happened().efforts[1].note == "cough"  # what was not corrected stays


def test_an_undoing_is_an_event_too(store, take, two_efforts):
    take(store, two_efforts)
    seq = seq_of(store, "FVC", 2)
    assert correct(store, [seq], Hand("K2"), "another participant's", undo=True).is_recorded
    last = store.read(events_query())[-1]
    assert (last.kind, bool(last.undone), last.corrects) == ("correction", True, seq)
    assert [effort.number for effort in store.happened().efforts] == [1]


def test_corrections_and_undoings_leave_the_chain_whole(store, take, two_efforts):
    take(store, two_efforts)
    assert correct(store, [seq_of(store, "FVC", 2)], Hand("K2"), "misread", value=Decimal("4.75")).is_recorded
    assert correct(store, [seq_of(store, "FVC", 1)], Hand("K2"), "not his", undo=True).is_recorded
    assert check(store) == ()


def test_when_an_effort_started_is_corrected_for_all_its_lines(store, take, two_efforts):
    take(store, two_efforts)
    seqs = [seq_of(store, name, 1) for name in ("FVC", "FEV1")]
    started = store.happened().efforts[0].started - timedelta(seconds=20)
    assert correct(store, seqs, Hand("K2"), "clock read wrongly", started=started).is_recorded
    assert store.happened().efforts[0].started == started


@pytest.mark.parametrize(("reason", "words"), [("", "needs a reason"), ("typed twice", "changes nothing")])
def test_what_is_no_correction_is_refused(store, take, two_efforts, reason, words):
    take(store, two_efforts)
    deed = correct(store, [seq_of(store, "FVC", 1)], Hand("K2"), reason, value=Decimal("4.80"))
    assert words in deed.refused
    assert len(store.read(events_query())) == 5


def test_all_of_several_corrections_or_none(store, take, two_efforts):
    take(store, two_efforts)
    seqs = [seq_of(store, "FVC", 1), seq_of(store, "FVC", 2)]
    assert "changes nothing" in correct(store, seqs, Hand("K2"), "why", value=Decimal("4.70")).refused
    assert "does not stand" in correct(store, [*seqs, 99], Hand("K2"), "why", value=Decimal("4.4")).refused
    assert len(store.read(events_query())) == 5


def test_a_file_sent_again_does_not_undo_a_correction(store, take, two_efforts):
    """Also not where it holds what was corrected, or what was undone."""
    take(store, two_efforts)
    correct(store, [seq_of(store, "FVC", 2)], Hand("K2"), "read wrongly", value=Decimal("4.75"))
    correct(store, [seq_of(store, "FEV1", 1)], Hand("K2"), "not his", undo=True)
    assert take(store, two_efforts).already_there == 5
    assert take(store, two_efforts.replace("4.70", "4.75")).already_there == 5
    values = [one.value for effort in store.happened().efforts for one in effort.values]
    assert values == [Decimal("4.80"), Decimal("4.75")]


def test_a_correction_sent_twice_is_kept_once(store, take, two_efforts):
    take(store, two_efforts)
    seq = seq_of(store, "FVC", 2)
    for _ in range(2):
        assert correct(store, [seq], Hand("K2"), "why", value=Decimal("4.75"), token="tap").is_recorded
    assert len(store.read(events_query())) == 6


def test_the_servers_clock_is_utc_and_set_by_no_sender(store, take, two_efforts):
    before = datetime.now(UTC)
    take(store, two_efforts)
    clocks = [datetime.fromisoformat(row.server_clock) for row in store.read(events_query())]
    assert all(clock.utcoffset() == timedelta(0) for clock in clocks)
    assert before <= min(clocks) <= max(clocks) <= datetime.now(UTC)


def test_the_delay_of_a_correction_can_be_read_off(store, take, two_efforts):
    take(store, two_efforts)
    store.writer.clock = lambda: datetime.now(UTC) + timedelta(days=2)
    seq = seq_of(store, "FVC", 2)
    correct(store, [seq], Hand("K2"), "why", value=Decimal("4.75"))
    first, later = [row for row in store.read(events_query()) if row.seq == seq or row.corrects == seq]
    delay = datetime.fromisoformat(later.server_clock) - datetime.fromisoformat(first.server_clock)
    assert timedelta(days=2) <= delay < timedelta(days=2, minutes=5)
