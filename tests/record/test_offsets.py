"""Another device's clock: its offset from efforts in both, confirmed, taken off, and recorded."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from planner.clock import later
from planner.record.chain import check
from planner.record.efforts_file import read_efforts
from planner.record.offsets import Offset, estimate, take_shifted
from planner.record.rehearse import rehearse
from planner.record.tables import events_query


def theirs(store, two_efforts, ahead_s: int, jitter: random.Random | None = None):
    """What the other device wrote: readings of the same efforts, by its own clock."""
    path = store.study.folder / "device.csv"
    path.write_text(two_efforts)
    lines = [line for line in read_efforts(path, store.study).lines if line.reading in ("FVC", "FEV1")]
    return [
        replace(line, started=later(line.started, ahead_s + (jitter.randint(-2, 2) if jitter else 0)))
        for line in lines
    ]


def ours(store, two_efforts):
    """The page recorded when the efforts started, without readings."""
    return [
        replace(line, reading="", value=None, unit="", note="")
        for line in theirs(store, two_efforts, 0)
        if line.reading == "FVC"
    ]


@pytest.mark.parametrize("ahead_s", [-3600, -41, 0, 7, 95])
def test_the_offset_is_found_and_taken_off(store, two_efforts, ahead_s):
    store.take(ours(store, two_efforts))
    lines = theirs(store, two_efforts, ahead_s)
    found = estimate(store, lines)
    assert (found.ahead_s, found.matches, found.spread_s) == (ahead_s, 2, 0)
    assert take_shifted(store, lines, found, by="K1", station="S1").added == 3
    assert {effort.started for effort in store.happened().efforts} == {
        one.started for one in ours(store, two_efforts)
    }
    assert take_shifted(store, lines, found, by="K1", station="S1").already_there == 3
    assert check(store) == ()


def test_a_plan_full_of_efforts_with_jitter_gives_the_median(store, schedule, plans):
    lines = [
        replace(one, note="") for one in rehearse(store.study, schedule, plans, seed=1) if not one.is_mark
    ]
    store.take(lines)
    draw = random.Random(3)
    shifted = [replace(one, started=later(one.started, 40 + draw.randint(-2, 2))) for one in lines]
    shifted[0] = replace(shifted[0], started=later(shifted[0].started, 5000))
    found = estimate(store, shifted)
    assert abs(found.ahead_s - 40) <= 1
    assert found.spread_s <= 2


def test_the_offset_is_recorded_with_who_and_the_device_keeps_its_own_time(store, two_efforts):
    store.take(ours(store, two_efforts))
    lines = theirs(store, two_efforts, 95)
    take_shifted(store, lines, estimate(store, lines), by="K1", station="S1")
    events = store.read(events_query())
    offset = next(row for row in events if row.kind == "offset")
    assert (offset.who, offset.station, offset.note) == (
        "K1",
        "S1",
        "clock 95 s ahead, from 2 efforts, confirmed",
    )
    taken = [row for row in events if row.kind == "reading"]
    assert taken[0].device_clock == "2027-02-28T19:16:35+00:00"
    assert taken[0].started == "2027-03-01T09:00:00+13:45"


def test_rows_that_cannot_be_read_are_kept_with_their_reason(store, two_efforts):
    store.take(ours(store, two_efforts))
    path = store.study.folder / "device.csv"
    path.write_text(two_efforts.replace("4.70", "4,70").replace("09:00:00", "09:01:35"))
    file = read_efforts(path, store.study)
    taken = take_shifted(store, file, Offset(95, 1, 0.0), by="K1", station="S1")
    assert [one.row for one in taken.refused] == [3]
    kept = [row for row in store.read(events_query()) if row.kind == "refused"]
    assert len(kept) == 1
    assert "device.csv" in kept[0].raw


def test_only_the_visits_of_the_file_are_looked_at(store, two_efforts):
    store.take(theirs(store, two_efforts.replace("ROW-01", "ROW-02"), 0))
    assert estimate(store, theirs(store, two_efforts, 5)).matches == 0


def test_nothing_in_both_is_said(store, two_efforts):
    found = estimate(store, theirs(store, two_efforts, 5))
    assert found.matches == 0
    assert "cannot be estimated" in found.words()


def test_it_is_said_in_words():
    assert Offset(-12, 4, 1.0).words() == (
        "Its clock seems 12 s behind ours, from 4 efforts in both; they agree within about 1 s."
    )
