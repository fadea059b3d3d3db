"""Large and odd input stays bounded, and is never a traceback."""

import tracemalloc
from contextlib import suppress

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.faults import FaultyInput
from planner.study.read import read_study


def test_ten_thousand_participants(folder):
    codes = [f"ROW-{number:05}" for number in range(10_000)]
    folder.write("participants.csv", "participant\n" + "\n".join(codes) + "\n")
    lines = "".join(f"{code},mon-fri,08:00,16:00,\n{code},2027-03-02,09:00,13:00,\n" for code in codes)
    folder.write("availability.csv", "participant,days,from,to,visit\n" + lines)
    tracemalloc.start()
    try:
        study = folder.study()
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert sum(map(len, study.asked.values())) == 30_000
    assert peak < 100_000_000, "bytes"


def test_ten_thousand_unknown_names_are_told_in_bounded_time(folder):
    codes = [f"ROW-{number:05}" for number in range(10_000)]
    folder.write("participants.csv", "participant\n" + "\n".join(codes) + "\n")
    lines = "".join(f"ROV-{number:05},mon-fri,08:00,16:00,\n" for number in range(10_000))
    folder.write("availability.csv", "participant,days,from,to,visit\n" + lines)
    assert len(folder.faults()) == 10_000


def test_one_participant(folder):
    folder.write("participants.csv", "participant\nROW-02\n")
    assert len(folder.study().asked["ROW-02"]) == 3


words = st.text(st.sampled_from("ab1-:;,.#[]{}\"'|>&*!%@\n\t \u00e9"), max_size=12)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_edit_of_a_file_gives_a_traceback(data, folder):
    """Some words anywhere in any file replaced by others: a study, or faults with places."""
    files = sorted(path.name for path in folder.path.iterdir())
    file = data.draw(st.sampled_from(files))
    text = (folder.path / file).read_text("utf-8")
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, min(len(text), start + 20)))
    folder.write(file, text[:start] + data.draw(words) + text[end:])
    try:
        with suppress(FaultyInput):
            read_study(folder.path)
    finally:
        folder.write(file, text)
