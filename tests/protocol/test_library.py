"""The protocols that come with the product: clean, sourced, in the conventional order, plainly worded."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planner.protocol.model import Protocol
from planner.protocol.read import read_protocol

PROTOCOLS = sorted((Path(__file__).parents[2] / "protocols").glob("*.yaml"))
MARK = re.compile(
    r"\(.*(?:read|as quoted|from memory).*\)|from memory|no source|assumed|worked out for this file"
)


def ids(path: Path) -> str:
    return path.stem


def test_there_are_at_least_ten():
    assert len(PROTOCOLS) >= 10


@pytest.mark.parametrize("path", PROTOCOLS, ids=ids)
def test_a_protocol_is_read_without_fault_or_warning(path: Path):
    protocol = read_protocol(path)
    assert protocol.warnings == ()
    assert protocol.name == path.stem
    assert protocol.priority
    assert protocol.preparation
    assert protocol.cautions


@pytest.mark.parametrize("path", PROTOCOLS, ids=ids)
def test_every_manoeuvre_and_every_window_names_its_source(path: Path):
    protocol = read_protocol(path)
    sources = [protocol.source, *(one.source for one in protocol.manoeuvres.values())]
    sources += [step.source for step in protocol.visit if step.due or (step.exercise and step.id != "try")]
    assert all(sources)
    for source in sources:
        for line in source:
            assert MARK.search(line), line


@pytest.mark.parametrize("path", PROTOCOLS, ids=ids)
def test_manoeuvres_are_told_in_plain_words(path: Path):
    """What participants read asks for eight years of school at most."""
    for one in read_protocol(path).manoeuvres.values():
        assert one.say
        assert one.feels
        assert grade(f"{one.how} {one.feels}") <= 8


def grade(text: str) -> float:
    """The grade of Kincaid 1975 (formula from memory), each group of vowels counted as a syllable."""
    words = re.findall(r"[A-Za-z']+", text)
    sentences = len(re.findall(r"[.!?:](?:\s|$)", text))
    syllables = sum(
        len(re.findall(r"[aeiouy]+", re.sub(r"(?<=[^aeiouyl])e$", "", word.lower()))) or 1 for word in words
    )
    return 0.39 * len(words) / sentences + 11.8 * syllables / len(words) - 15.59


def order_of(protocol: Protocol) -> list[str]:
    """Readings in the order in which the visit comes to them first."""
    names = [name for step in protocol.visit for name in step.measure]
    return list(dict.fromkeys(reading for name in names for reading in protocol.manoeuvres[name].readings))


@pytest.mark.parametrize("path", PROTOCOLS, ids=ids)
def test_the_conventional_order_is_kept(path: Path):
    """Quiet breaths before forced ones, forced ones before the tests that tire: common practice.

    Exhaled nitric oxide before any forced breath: Am J Respir Crit Care Med 2005;171:912 (read).
    Oscillometry before forced breaths: King 2020, Eur Respir J 55:1900753 (from memory).
    """
    usual = ["FeNO", "R5", "FVC", "DLCO", "MIP", "MEP", "SNIP", "MVV"]
    found = [reading for reading in order_of(read_protocol(path)) if reading in usual]
    assert found == sorted(found, key=usual.index)
