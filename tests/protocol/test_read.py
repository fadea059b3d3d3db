"""What the worked example of the formats means, and what reading refuses as a whole."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from planner.faults import FaultyInput, Place
from planner.protocol.model import Clearing, During, Length, TimePoint, Watch
from planner.protocol.read import read_protocol
from planner.quantity import Quantity

EXAMPLE = Path(__file__).parents[1] / "data" / "rowing-example.yaml"


def test_the_worked_example():
    protocol = read_protocol(EXAMPLE)
    assert [(one.code, one.place.line) for one in protocol.warnings] == [
        ("no-clearing", 24)
    ]  # of the MEP meter
    assert (protocol.name, protocol.version) == ("cold-air-rowing", "1.0")
    fvc, after = protocol.manoeuvres["fvc"], protocol.manoeuvres["fvc-after"]
    assert [fvc.length_s(n) for n in (3, 8)] == [60 + 3 * 20 + 2 * 30, 60 + 8 * 20 + 7 * 30]
    assert fvc.clear == Clearing(120, ("operator",))
    assert fvc.readings["FVC"].typical == Quantity(Decimal("4.80"), "L")
    assert (after.at_least, after.at_most, after.enough) == (2, 3, fvc.enough)
    row = protocol.step("row")
    assert (row.takes, row.clear, row.watch) == (
        Length(1200, 1200, 1200),
        Clearing(180),
        Watch(("lead",), 900),
    )
    assert row.during == (During(("fvc",), (TimePoint(600, 0, 60),)),)
    points = protocol.step("after").due.time_points
    assert points == (TimePoint(60, 0, 30), TimePoint(600, 0, 120), TimePoint(1800, 0, 120))
    assert protocol.step("sit").rest_s == 600


def test_places_lead_back_to_the_file():
    protocol = read_protocol(EXAMPLE, shown="shown.yaml")
    lines = EXAMPLE.read_text("utf-8").splitlines()
    for path in (("due", "late"), ("due", "at", 1), ("measure", 1), ("title",)):
        place = protocol.step_place("after", *path)
        assert place.file == "shown.yaml"
        assert lines[place.line - 1][place.column - 1 :].startswith(
            str(path[0])
            if len(path) == 1
            else ("late", "10 min", "mep")[[("due", "late"), ("due", "at", 1), ("measure", 1)].index(path)]
        )
    assert protocol.step_place("after", "due", "no such key") == protocol.step_place("after", "due")


def test_a_missing_file_offers_the_nearest_one():
    with pytest.raises(FaultyInput) as raised:
        read_protocol(EXAMPLE.with_name("rowing-exmple.yaml"))
    assert [one.code for one in raised.value.faults] == ["no-file"]
    assert raised.value.faults[0].hint == "Did you mean rowing-example.yaml?"


def test_warnings_come_along_with_faults(protocol_doc: Path):
    """
    format: 1
    name: x
    title: X
    version: "1"
    visit:
      - {id: run, title: Run, exercise: true, takes: 5}
    """
    with pytest.raises(FaultyInput) as raised:
        read_protocol(protocol_doc)
    assert [one.code for one in raised.value.faults] == ["duration"]
    assert [one.code for one in raised.value.warnings] == ["nobody-watches"]


def many(tmp_path: Path, text: str) -> list[str]:
    path = tmp_path / "many.yaml"
    path.write_text(text)
    with pytest.raises(FaultyInput) as raised:
        read_protocol(path)
    assert len(raised.value.faults) <= 201
    assert all(len(str(one)) < 2000 for one in raised.value.faults)
    return [one.code for one in raised.value.faults]


HEAD = 'format: 1\nname: x\ntitle: X\nversion: "1"\n'


def test_a_file_of_nothing_but_mistakes_is_cut_short(tmp_path: Path):
    steps = "".join(f"  - {{id: s{n}, title: S, measure: [no{n}], tkaes: 1}}\n" for n in range(3000))
    codes = many(tmp_path, f"{HEAD}visit:\n{steps}")
    assert codes[0] == "too-many-faults"
    assert len(codes) == 201


def test_likes_that_would_unfold_into_millions_of_values_are_refused(tmp_path: Path):
    words = ", ".join("x" * 3 for _ in range(10_000))
    takers = "".join(f"  m{n}: {{like: base}}\n" for n in range(3_000))
    base = f"  base: {{title: B, effort: 1 s, efforts: 1, say: [{words}]}}\n"
    assert "too-many-values" in many(tmp_path, f"{HEAD}manoeuvres:\n{base}{takers}visit: []\n")


@pytest.mark.parametrize(
    "text", ["a" * 900_000, "0 " * 450_000, "1a " * 300_000, "a@" * 450_000, "-" + " x" * 400_000]
)
def test_a_megabyte_in_one_value_is_refused_briefly(tmp_path: Path, text: str):
    codes = many(
        tmp_path,
        f"{HEAD}cautions: '{text}'\nvisit:\n  - {{id: '{text[:1000]}', title: A, takes: 5 minutes}}\n",
    )
    assert codes == ["identifier", "duration"]


def test_two_places_are_equal_only_where_they_are():
    assert Place("a", 1, 2) != Place("a", 1, 3)
