"""Mutated protocol files, the same for the same seed: the raw material of the fuzz."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from pathlib import Path

DATA = Path(__file__).parents[1] / "data"
# Pieces that have broken readers of YAML before, and pieces of protocols, for the wrong place; escaped.
PIECES = [
    line.encode().decode("unicode_escape") for line in (DATA / "pieces.txt").read_text("ascii").splitlines()
]


def sources() -> list[bytes]:
    """The files that are mutated: small ones, so that many can be tried."""
    files = sorted((DATA / "tricky").glob("*.yaml")) + sorted((DATA / "small").glob("*.yaml"))
    return [file.read_bytes() for file in files if b"time_zone" not in file.read_bytes()]


def mutants(seed: int, count: int) -> Iterator[bytes]:
    """So many mutated files, each one to four changes away from a valid one."""
    chance = random.Random(seed)
    originals = sources()
    for _ in range(count):
        data = chance.choice(originals)
        for _ in range(chance.choice((1, 1, 1, 2, 4))):
            data = chance.choice((_byte, _letter, _piece, _cut, _line, _swap, _indent, _value, _value))(
                data, chance
            )
        yield data


def _byte(data: bytes, chance: random.Random) -> bytes:
    """One byte replaced by any other."""
    at = chance.randrange(len(data) or 1)
    return data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :]


def _letter(data: bytes, chance: random.Random) -> bytes:
    """One byte replaced by a letter or sign that can be typed."""
    at = chance.randrange(len(data) or 1)
    return data[:at] + bytes([chance.randrange(32, 127)]) + data[at + 1 :]


def _value(data: bytes, chance: random.Random) -> bytes:
    """A word or value that takes the place of another one of the same file."""
    words = list(re.finditer(rb"[^\s:,\[\]{}]+(?: [^\s:,\[\]{}]+)*", data))
    if not words:
        return data
    one, other = chance.choice(words), chance.choice(words)
    return data[: one.start()] + other[0] + data[one.end() :]


def _piece(data: bytes, chance: random.Random) -> bytes:
    """A nasty piece put somewhere, or in the place of what stands there."""
    at = chance.randrange(len(data) + 1)
    piece = chance.choice(PIECES).encode()
    return data[:at] + piece + data[at + chance.choice((0, 0, len(piece))) :]


def _cut(data: bytes, chance: random.Random) -> bytes:
    """A stretch taken out."""
    at = chance.randrange(len(data) + 1)
    return data[:at] + data[at + chance.randrange(1, 30) :]


def _line(data: bytes, chance: random.Random) -> bytes:
    """A line taken out or written twice."""
    lines = data.split(b"\n")
    at = chance.randrange(len(lines))
    return b"\n".join(lines[:at] + [lines[at]] * chance.choice((0, 2)) + lines[at + 1 :])


def _swap(data: bytes, chance: random.Random) -> bytes:
    """Two lines that change places."""
    lines = data.split(b"\n")
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def _indent(data: bytes, chance: random.Random) -> bytes:
    """A line moved to the right or to the left."""
    lines = data.split(b"\n")
    at = chance.randrange(len(lines))
    line = lines[at]
    lines[at] = b"  " + line if chance.random() < 0.5 else line[1:]
    return b"\n".join(lines)
