"""Ten thousand mutated files: each is read, or refused with faults that name a line of the file."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from planner.faults import Fault, FaultyInput, Place
from planner.protocol.model import Protocol
from planner.protocol.read import read_protocol

COUNT = 10_000


def faults_of(path: Path) -> tuple[Fault, ...]:
    """What the file is told; nothing where it is read. Whatever else is raised ends the test."""
    try:
        found = read_protocol(path)
    except FaultyInput as faulty:
        return faulty.faults or (Fault(Place(path.name), "silent", ""),)
    assert isinstance(found, Protocol)
    return ()


def lines_of(data: bytes) -> int:
    return data.count(b"\n") + data.count(b"\r") + 2  # a fault may stand behind the last line end


@pytest.mark.timeout(120)
def test_no_mutant_brings_anything_but_a_protocol_or_its_faults(tmp_path: Path, mutants):
    path = tmp_path / "mutant.yaml"
    codes: Counter[str] = Counter()
    for data in mutants(20_270_301, COUNT):
        path.write_bytes(data)
        told = faults_of(path)
        assert all(one.message and 1 <= one.place.line <= lines_of(data) for one in told)
        codes.update([one.code for one in told] or ["valid"])
    assert codes["valid"] < COUNT / 2  # most mutants are broken, or the mutator is
    assert len(codes) > 40  # and broken in many ways
