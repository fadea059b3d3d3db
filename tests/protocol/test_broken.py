"""Broken protocol files: each lists in its first line every fault that it must be told."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planner.faults import FaultyInput
from planner.protocol.read import read_protocol

BROKEN = sorted((Path(__file__).parents[1] / "data" / "broken").glob("*.yaml"))


def expected(path: Path) -> list[str]:
    """The faults that the first line of the file lists, as line:column:code."""
    head, _, rest = path.read_text("utf-8").split("\n", 1)[0].partition("# faults: ")
    assert not head
    return rest.split()


def test_there_are_at_least_sixty_broken_files():
    assert len(BROKEN) >= 60
    assert all(expected(path) for path in BROKEN)


@pytest.mark.parametrize("path", BROKEN, ids=lambda path: path.stem)
def test_a_broken_file_is_told_all_its_faults_and_no_others(path: Path):
    with pytest.raises(FaultyInput) as raised:
        read_protocol(path)
    faults = raised.value.faults
    assert [f"{one.place.line}:{one.place.column}:{one.code}" for one in faults] == expected(path)
    assert all(one.place.file == path.name and one.message for one in faults)


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("key-unknown", "Did you mean 'prepare'?"),
        ("key-misspelt-and-so-missing", "Did you mean 'effort'?"),
        ("measure-unknown", "Did you mean 'mep'?"),
        ("like-unknown", "Did you mean 'fvc'?"),
        ("due-unknown-step", "Did you mean 'row'?"),
        ("enough-unknown-reading", "Did you mean 'FEV1'?"),
        ("stop-if-unknown-reading", "Choose one of 'FVC', 'FEV1'."),
        ("key-in-other-case", "Did you mean 'title'?"),
    ],
)
def test_the_nearest_valid_name_is_offered(name: str, hint: str):
    with pytest.raises(FaultyInput) as raised:
        read_protocol(next(path for path in BROKEN if path.stem == name))
    assert [one.hint for one in raised.value.faults] == [hint]


def test_every_rule_between_keys_has_a_broken_file():
    """Each code that the room can tell is told by some file, so that no rule goes untested."""
    room = Path(__file__).parents[2] / "planner" / "protocol"
    code = "".join(path.read_text("utf-8") for path in room.glob("*.py"))
    codes = set(re.findall(r'(?:fault\(|noted\.add\(\s*place,)\s*"([a-z-]+)"', code))
    assert len(codes) > 25
    met = {fault.rsplit(":", 1)[1] for path in BROKEN for fault in expected(path)}
    assert codes - met == set()


LIBRARY = Path(__file__).parents[2] / "protocols" / "exercise-challenge.yaml"
LINES = LIBRARY.read_text("utf-8").split("\n")
KEYS = [number for number, text in enumerate(LINES) if re.match(r"\s*(?:- )?[a-z_]+: \S", text)]


@pytest.mark.parametrize("number", KEYS)
def test_every_misspelt_key_of_a_real_protocol_is_told_in_its_line(tmp_path: Path, number: int):
    key = re.match(r"\s*(?:- )?([a-z_]+):", LINES[number])[1]
    changed = [*LINES]
    changed[number] = changed[number].replace(f"{key}:", f"{key}q:", 1)
    path = tmp_path / "protocol.yaml"
    path.write_text("\n".join(changed), "utf-8")
    with pytest.raises(FaultyInput) as raised:
        read_protocol(path)
    told = {one.place.line: one.hint for one in raised.value.faults}
    assert told[number + 1] == f"Did you mean {key!r}?"
