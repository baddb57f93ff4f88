"""Flares against published figures.

Sources: SAE J533 (2024), flare diameters and walls for 45 degree flares, as quoted in a text on it; general
air-conditioning installation practice for flared copper tube; the single flare's consumption is derived,
with a published rule of thumb beside it.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from tubing.errors import FlareError
from tubing.flares import consumed_mm, end_flare, height_mm, learned
from tubing.inputs.catalogue import FlareRow, Tube
from tubing.inputs.records import TrialFlare
from tubing.units import quantity

ALPHA = math.pi / 4
J533 = [  # tube, single, double (least, most), greatest wall single, double; mm
    ("4.76", "6.1", "6.3", "6.7", "7.1", "0.89", "0.71"),
    ("6.35", "8.0", "8.3", "8.7", "9.1", "1.24", "0.83"),
    ("7.94", "9.9", "10.3", "10.4", "10.8", "1.24", "0.89"),
    ("3.18", "4.4", "4.6", "5.0", "5.4", "0.89", "0.63"),
]


def length(text: str):
    return quantity(Fraction(text), "mm")


def rows() -> list[FlareRow]:
    made = []
    for tube, s1, s2, d1, d2, wall_s, wall_d in J533:
        for kind, least, most, wall in (("single", s1, s2, wall_s), ("double", d1, d2, wall_d)):
            made.append(
                FlareRow(
                    length(tube),
                    kind,
                    quantity(45, "deg"),
                    length(least),
                    length(most),
                    length(wall),
                    "SAE J533",
                    "S",
                )
            )
    return made


def tube(diameter: str, wall: str) -> Tube:
    return Tube("t", length(diameter), length(wall), "steel", length("30"), None, None, "any", "published", "S")


@pytest.mark.parametrize("figures", J533, ids=lambda f: f[0])
@pytest.mark.parametrize("flare", ["single", "double"])
def test_flare_diameters_lie_in_the_published_range(figures, flare):
    """SAE J533 (2024), 45 degree flares: the diameter planned lies between the printed least and most."""
    least, most = (figures[1], figures[2]) if flare == "single" else (figures[3], figures[4])
    planned = end_flare(tube(figures[0], "0.5"), rows(), (), "groove", flare)
    assert float(least) < planned.diameter_mm < float(most)
    assert planned.diameter_mm - float(least) == pytest.approx(float(most) - planned.diameter_mm)


@pytest.mark.parametrize("figures", J533, ids=lambda f: f[0])
def test_greatest_walls_are_the_published_ones(figures):
    """SAE J533 (2024), greatest wall: planned at the printed wall, refused 0.01 mm above it."""
    for flare, wall in (("single", figures[5]), ("double", figures[6])):
        end_flare(tube(figures[0], wall), rows(), (), "groove", flare)
        thicker = str(Fraction(wall) + Fraction(1, 100))
        with pytest.raises(FlareError):
            end_flare(tube(figures[0], thicker), rows(), (), "groove", flare)


def test_single_flare_on_5_16_tube_consumes_what_the_derivation_says():
    """Derived: growth x tan(half-angle / 2), 0.447 mm for 7.94 mm tube flared to 10.1 mm at 45 degrees."""
    planned = end_flare(tube("7.94", "0.71"), rows(), (), "groove")
    assert planned.diameter_mm == pytest.approx(10.1)
    assert planned.consumed_mm == pytest.approx(0.447, abs=0.0005)


def test_the_rule_of_a_third_of_the_height_is_rough():
    """Published rule of thumb: about a third of the flare's height stands above the die; 0.41 is computed."""
    share = consumed_mm("single", 1.08, ALPHA) / height_mm(1.08, ALPHA)
    assert share == pytest.approx(math.sqrt(2) - 1)
    assert abs(share - 1 / 3) < 0.1


@pytest.mark.parametrize(
    ("took", "mean", "sd", "low", "high"),
    [
        # J. N. Miller and J. C. Miller, Statistics for Analytical Chemistry, 3rd ed., p. 54, as quoted in a library's
        # worked example; its interval derived.
        (("38.9", "37.4", "37.1"), 37.8, 0.964365, 35.404, 40.196),
        # NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.2, as quoted in a text; its interval derived.
        (("50", "48", "44", "56", "61", "52", "53", "55", "67", "51"), 53.7, 6.567, 49.002, 58.398),
    ],
)
def test_mean_deviation_and_interval_of_small_samples(took, mean, sd, low, high):
    """The statistics of trial flares on published samples; their figures are no flares."""
    trials = [TrialFlare("any", "single", length("100"), length(str(100 - Fraction(each)))) for each in took]
    found = learned(tube("7.94", "0.71"), "single", trials)
    assert (found.mean_mm, found.trials) == (pytest.approx(mean), len(took))
    assert found.sd_mm == pytest.approx(sd, abs=5e-4 if sd > 1 else 5e-7)
    assert (found.mean_mm - found.sure_mm, found.mean_mm + found.sure_mm) == pytest.approx((low, high), abs=1e-3)
