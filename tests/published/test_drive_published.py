"""The drive's formulas against published figures.

Sources: an engineering mechanics exercise on belt friction; a remembered value of the same; a design and technology
examination answer (2003) on rack and pinion; a worked example of a slider-crank; Euler, Introductio, on the section
of a leaning cylinder; a drives engineering guide's table of friction; 49 CFR 571.104; automotive handbooks on wiper
rubber (from memory).
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest

from tubing.drive.hole import slot_length
from tubing.drive.motion import LEAST_FAST_RATE, motion, travel_from_pulled_in
from tubing.drive.pull import pull_ratio
from tubing.drive.rack import stroke
from tubing.units import mm, quantity

SHOP = tomllib.loads((Path(__file__).parents[2] / "data" / "shop.toml").read_text(encoding="utf-8"))


def test_capstan_holds_100_kg():
    """Mechanics exercise: 100 kg held by friction 0.2 over 3 pi / 2 of rope: 382.26 N."""
    turn = quantity(3 * math.pi / 2, "rad")
    assert 100 * 9.81 / pull_ratio(0.2, turn) == pytest.approx(382.26, abs=0.005)


def test_capstan_of_one_turn():
    """Value from memory: friction 0.3, one whole turn: ratio about 6.6, e to the power of 0.6 pi."""
    assert pull_ratio(0.3, quantity(360, "deg")) == pytest.approx(6.6, abs=0.05)


def test_rack_travel_by_its_teeth():
    """Examination answer (2003): 13 teeth x 80 turns x 4 mm = 4160 mm; the pitch circle is 13 x 4 mm round."""
    pitch_radius = quantity(13 * 4 / (2 * math.pi), "mm")
    travel = stroke(quantity(80 * 360, "deg"), pitch_radius)
    assert mm(travel) == pytest.approx(4160, abs=0.5)


def test_slider_crank_worked_example():
    """Worked example: crank 50, rod 200, crank at 60 degrees: the slider is 220.26 from the crank's centre."""
    crank, rod = 50, 200
    out = mm(travel_from_pulled_in(quantity(crank, "mm"), crank / rod, quantity(60, "deg")))
    assert (rod - crank) + out == pytest.approx(220.26, abs=0.005)


@pytest.mark.parametrize("lean_deg", [0, 15, 30, 45, 60])
def test_a_leaning_cylinder_cuts_a_plane_in_an_ellipse(lean_deg):
    """Euler, Introductio: axes d and d / cos(lean); through a sheet without thickness the slot is that ellipse."""
    lean = math.radians(lean_deg)
    along = (math.sin(lean), 0.0, math.cos(lean))  # the cylinder's axis; the plane is z = 0
    across = (math.cos(lean), 0.0, -math.sin(lean))
    met = []
    for turn in range(3600):  # each line of the cylinder's side meets the plane in one point of the ellipse
        angle = math.radians(turn / 10)
        x, z = 8 * math.cos(angle) * across[0], 8 * math.cos(angle) * across[2]
        met.append((x - z / along[2] * along[0], 8 * math.sin(angle)))
    long, wide = (max(p[k] for p in met) - min(p[k] for p in met) for k in (0, 1))
    assert mm(slot_length(quantity(16, "mm"), quantity(lean_deg, "deg"), quantity(0, "mm"))) == pytest.approx(long)
    assert wide == pytest.approx(16)


def test_the_shops_friction_is_that_of_greased_steel():
    """Drives engineering guide, table of friction: greased steel on steel, sliding, 0.04 to 0.25."""
    assert 0.04 <= SHOP["drive"]["friction"] <= 0.25


def test_the_shops_rubber_and_load_are_usual():
    """Automotive handbooks, values from memory: 15 to 20 N/m; rubber on glass 0.1 to 0.6 wet, 0.8 to 1.2 dry."""
    drive = SHOP["drive"]
    load, unit = drive["blade_load"].split()
    assert (15 <= float(load) <= 20, unit) == (True, "N/m")
    assert 0.1 <= drive["rubber_wet"] <= 0.6
    assert 0.8 <= drive["rubber_dry"] <= 1.2


def test_the_speed_taken_when_none_is_given():
    """49 CFR 571.104 S4.1.1: one speed of at least 45 cycles a minute."""
    assert quantity(45, "cycle/min") == LEAST_FAST_RATE
    assert motion(quantity(15, "mm"), None, quantity(20, "mm"), None).rate_per_min == 45
