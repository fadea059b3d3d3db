"""Warnings that care for people: nobody left alone, devices cleaned, nobody named."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.protocol.care import looks_personal
from planner.protocol.read import read_protocol


def warnings_of(path: Path) -> list[tuple[str, int]]:
    return [(one.code, one.place.line) for one in read_protocol(path).warnings]


def test_a_bout_without_watch_and_with_too_few_people(protocol_doc: Path):
    """
    format: 1
    name: x
    title: X
    version: "1"
    visit:
      - {id: walk, title: Walk, exercise: true, takes: 6 min}
      - {id: run, title: Run, exercise: true, takes: {about: 9 min, shortest: 3 min, longest: 20 min}}
      - id: swim
        title: Swim
        exercise: true
        takes: {about: 9 min, shortest: 3 min, longest: 20 min}
        staff: [lead, spotter]
        watch: {staff: lead, for: 5 min}
      - {id: sit, title: Sit, takes: 5 min}
    """
    assert warnings_of(protocol_doc) == [("nobody-watches", 7), ("nobody-watches", 8), ("too-few-people", 8)]


def test_only_the_last_block_on_a_device_needs_clearing(protocol_doc: Path):
    """
    format: 1
    name: x
    title: X
    version: "1"
    manoeuvres:
      mip: {title: MIP, rig: meter, effort: 5 s, efforts: 1}
      mep: {title: MEP, rig: meter, effort: 5 s, efforts: 1, clear: 2 min}
      grip: {title: Grip, effort: 5 s, efforts: 1}
      gas: {title: Gas, rig: cart, effort: 5 s, efforts: 1}
    visit:
      - {id: a, title: A, measure: [mip, mep, grip]}
      - id: b
        title: B
        exercise: true
        takes: 5 min
        rig: [cycle, cart]
        clear: 1 min
        watch: {staff: lead, for: 1 min}
        during: {measure: gas, at: 1 min, late: 1 min}
    """
    assert warnings_of(protocol_doc) == []


def test_a_device_that_is_left_as_it_is_gets_one_warning(protocol_doc: Path):
    """
    format: 1
    name: x
    title: X
    version: "1"
    manoeuvres:
      mip: {title: MIP, rig: meter, effort: 5 s, efforts: 1}
      mep: {title: MEP, rig: other meter, effort: 5 s, efforts: 1, clear: 2 min}
    visit:
      - {id: a, title: A, measure: [mip, mep]}
      - {id: b, title: B, measure: [mip]}
      - {id: c, title: C, takes: 3 min, rig: cycle}
      - {id: d, title: D, takes: 3 min, rig: cycle, starts_within: 0 s}
    """
    assert warnings_of(protocol_doc) == [("no-clearing", 7), ("no-clearing", 13)]


def test_a_manoeuvre_that_no_step_measures_and_labels_that_differ_in_case(protocol_doc: Path):
    """
    format: 1
    name: x
    title: X
    version: "1"
    manoeuvres:
      base: {title: B, effort: 5 s, efforts: 1}
      taker: {like: base}
      idle: {like: base}
    visit:
      - {id: a, title: A, measure: taker}
      - {id: b, title: B, takes: 3 min, staff: [Lead]}
      - {id: c, title: C, takes: 3 min, staff: [lead]}
    """
    assert warnings_of(protocol_doc) == [("label-case", 13), ("unused-manoeuvre", 9)]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("Ask ann.other@example.org first", "an e-mail address"),
        ("Born 3.11.1987", "a date of birth"),
        ("1987-11-03", "a date of birth"),
        ("Call +49 30 1234567", "a telephone number"),
        ("As Dr. Example said", "a person's name"),
        ("Meet at 12 Harbour Street", "an address"),
        ("Forced vital capacity", None),
        ("Maximal 20 min at 85 % of 180 per min, 3/4 of load", None),
        ("Graham 2019, table 3, pages 70-88", None),
        ("0 10 20 30 40", None),
        ("As approved on 2027-03-01", None),
    ],
)
def test_what_looks_like_a_person(text: str, what: str | None):
    assert looks_personal(text) == what


def test_a_person_in_a_title_is_a_warning(protocol_doc: Path):
    """
    format: 1
    name: x
    title: Visit of Mrs Example
    version: "1"
    cautions: [Stop when asked., Call ann.other@example.org]
    visit:
      - {id: a, title: A, takes: 3 min}
    """
    assert warnings_of(protocol_doc) == [("personal", 6), ("personal", 4)]
