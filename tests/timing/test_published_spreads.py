"""The spread that the simulator takes from the shipped protocols, against two published studies.

Therkorn 2021, Sci Rep (read): 130 healthy adults, CV in a session 2.3 to 2.8 % (FVC), 3.1 to 3.7 % (FEV1).
Enright 2004, Am J Respir Crit Care Med 169:235-238 (read): of 18 000 adults 90 % had their two largest FVC
within 0.150 L, and their two largest FEV1 within 0.120 L. An adult's FVC is taken as 4.0 L, FEV1 as 3.3 L
(common practice, no source).
"""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from planner.protocol.read import read_protocol
from planner.timing.efforts import Spread, draw_ends, spread_of

SHIPPED = Path(__file__).parents[2] / "protocols"
FVC_L, FEV1_L = 4.0, 3.3


@cache
def spreads():
    """Each (reading, SD in litres) that the simulator draws with for some shipped protocol."""
    found = set()
    for file in sorted(SHIPPED.glob("*.yaml")):
        protocol = read_protocol(file)
        for manoeuvre in protocol.manoeuvres.values():
            for name, reading in manoeuvre.readings.items():
                if name in ("FVC", "FEV1") and reading.spread is not None:
                    found.add((name, spread_of(manoeuvre, reading, protocol.name, None).sd))
    return sorted(found)


def agree_in_four(manoeuvre_of, within, sd):
    """The simulated share whose two largest of four efforts lie so close."""
    manoeuvre = manoeuvre_of(("R", "largest", 2, [f"{within} L"]), at_least=4, at_most=4)
    generator = np.random.Generator(np.random.PCG64(1))
    return float(draw_ends(manoeuvre, 100_000, generator, {"R": Spread(4.0, sd)}).agreed.mean())


def test_some_shipped_protocols_measure_spirometry():
    assert {name for name, _ in spreads()} == {"FVC", "FEV1"}


@pytest.mark.parametrize(("name", "sd"), spreads())
def test_two_largest_agree_as_often_as_published(manoeuvre_of, name, sd):
    """Enright: 90 % of adults, who blow three to eight times; of four efforts the simulator has 90 % too."""
    within = {"FVC": 0.150, "FEV1": 0.120}[name]
    assert agree_in_four(manoeuvre_of, within, sd) == pytest.approx(0.90, abs=0.02)


@pytest.mark.parametrize(("name", "sd"), [one for one in spreads() if one[0] == "FVC"])
def test_fvc_varies_as_published(name, sd):
    """Therkorn: 2.3 to 2.8 %."""
    assert 2.3 <= 100 * sd / FVC_L <= 2.8, name


def test_two_studies_of_fev1_do_not_agree(manoeuvre_of):
    """With Therkorn's least CV of FEV1, fewer than Enright's 90 % agree; the protocols keep to Enright."""
    assert agree_in_four(manoeuvre_of, 0.120, 0.031 * FEV1_L) < 0.85
