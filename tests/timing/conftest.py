"""Protocols for the tests of timing: from short texts, and at random."""

import random
import textwrap
from dataclasses import replace
from decimal import Decimal

import pytest

from planner.protocol.model import (
    Due,
    During,
    EnoughLine,
    Length,
    Manoeuvre,
    Protocol,
    Reading,
    Step,
    TimePoint,
)
from planner.protocol.read import read_protocol
from planner.quantity import Quantity

HEAD = """
format: 1
name: timed
title: A visit to be timed
version: "1.0"
manoeuvres:
  five: {title: Five, rig: spirometer, prepare: 60 s, effort: 20 s, rest: 30 s, efforts: 3}  # 60 s + 2 min
  mouth: {title: Mouth, rig: meter, prepare: 45 s, effort: 10 s, rest: 30 s, efforts: 3}  # 45 s + 1 min 30 s
  quick: {title: Quick, rig: meter, effort: 10 s, efforts: 1}
  blow:                                                # 3 to 5 efforts: 2 min to 3 min 40 s, no preparing
    title: Blow
    rig: spirometer
    effort: 20 s
    rest: 30 s
    efforts: {at_least: 3, at_most: 5}
    enough: {reading: R, any: 3, within: 1.5 L}
    readings: {R: {unit: L, typical: 100 L, spread: 1 L}}
visit:
"""


@pytest.fixture
def visit(tmp_path):
    """A function: the steps of a visit as text to a Protocol; the manoeuvres are those of HEAD."""

    def read(steps, head=HEAD):
        path = tmp_path / "timed.yaml"
        path.write_text(head.strip() + "\n" + textwrap.indent(textwrap.dedent(steps).strip("\n"), "  "))
        return read_protocol(path)

    return read


@pytest.fixture
def manoeuvre_of():
    """A function: a manoeuvre with one reading R of SD 1 around 100 L, and these stop rules."""

    def build(*rules, at_least=3, at_most=8, level="100", spread="1", **more):
        lines = tuple(
            EnoughLine(
                reading, kind, count, tuple(Quantity(Decimal(w.split()[0]), w.split()[1]) for w in within)
            )
            for reading, kind, count, within in rules
        )
        readings = {
            name: Reading(name, "L", Quantity(Decimal(level), "L"), Quantity(Decimal(spread), "L"))
            for name in {line.reading for line in lines} or {"R"}
        }
        return Manoeuvre("m", "M", (), (), 0, 20, 30, at_least, at_most, lines, readings, (), None, **more)

    return build


@pytest.fixture
def random_visit():
    """A function: a number to a Protocol with bouts, series, windows of all kinds, often just too tight."""
    return _random_visit


def _random_visit(number, *, bouts_unknown=True):
    rng = random.Random(number)
    manoeuvres = {
        name: Manoeuvre(
            name,
            name,
            (name,),
            (),
            rng.choice([0, 15, 45]),
            rng.choice([5, 20]),
            rng.choice([0, 30]),
            rng.randint(1, 3),
            5,
            (),
            {},
            (),
            None,
        )
        for name in "abc"
    }
    count = rng.randint(2, 7)
    steps = []
    singles = []  # ids of steps that happen once
    targets = rng.sample(range(count), k=min(2, count))  # steps that a `before` may name
    for place in range(count):
        step = _random_step(rng, place, manoeuvres, bouts_unknown)
        later = [target for target in targets if target > place]
        if singles and rng.random() < 0.45 and place not in targets:
            step = _dated(
                step, rng, Due(rng.choice(singles), "after", rng.choice(["end", "end", "start"]), ())
            )
        elif later and rng.random() < 0.45 and place not in targets:
            step = _dated(step, rng, Due(f"s{rng.choice(later)}", "before", "start", ()))
        elif place and rng.random() < 0.25:
            step = _changed(step, starts_within_s=rng.choice([0, 60, 300]))
        if step.due is None or len(step.due.time_points) == 1:
            singles.append(step.id)
        steps.append(step)
    return Protocol("random", "Random", "1", (), manoeuvres, tuple(steps), file="random.yaml")


def _changed(step, **changes):
    return replace(step, **changes)


def _dated(step, rng, due):
    times = sorted(rng.sample(range(0, 1500, 30), k=rng.choice([1, 1, 2, 3])), reverse=due.side == "before")
    points = tuple(TimePoint(at, min(at, rng.choice([0, 0, 60])), rng.choice([0, 60, 300])) for at in times)
    return _changed(step, due=Due(due.anchor, due.side, due.anchored, points))


def _random_step(rng, place, manoeuvres, bouts_unknown):
    name = f"s{place}"
    kind = rng.choice(["task", "measure", "measure", "rest", "bout"])
    if kind == "measure":
        return Step(name, name, measure=tuple(rng.sample(sorted(manoeuvres), k=rng.randint(1, 3))))
    if kind == "rest":
        return Step(name, name, rest_s=rng.choice([30, 120]))
    about = rng.choice([60, 300, 600])
    if kind == "task":
        return Step(name, name, takes=Length(about, about, about))
    unknown = bouts_unknown and rng.random() < 0.6
    takes = (
        Length(about, about // 2, rng.choice([about, about * 2])) if unknown else Length(about, about, about)
    )
    during = ()
    if rng.random() < 0.5:
        times = sorted(rng.sample(range(0, about, 15), k=rng.choice([1, 2])))
        points = tuple(TimePoint(at, min(at, rng.choice([0, 30])), rng.choice([0, 30, 60])) for at in times)
        during = (During((rng.choice("abc"),), points, if_reached=rng.random() < 0.3),)
    return Step(name, name, takes=takes, exercise=True, during=during)
