"""Bend arithmetic against printed tables and worked examples.

Sources: FAA AC 43.13-1B (1998), Table 4-7 (K chart); City & Guilds Plumbing Book 1 (2019), p. 95; R. Newton, Offset
bending (2006); an open electrician's handbook on hand bending (offset multipliers and shrink).
"""

import math

import pytest

from tubing.centreline.develop import develop
from tubing.geometry.bends import arc_mm, gain_mm, tangent_mm

INCH = 25.4


@pytest.mark.parametrize(
    ("degrees", "printed", "last_digit"),
    [
        (10, 0.0874, 1e-4),
        (20, 0.1763, 1e-4),
        (30, 0.2679, 1e-4),
        (45, 0.4142, 1e-4),
        (60, 0.5773, 1e-4),
        (75, 0.7673, 1e-4),
        (90, 1.000, 1e-3),
        (100, 1.191, 1e-3),
        (120, 1.732, 1e-3),
        (135, 2.414, 1e-3),
        (150, 3.732, 1e-3),
    ],
)
def test_k_chart(degrees, printed, last_digit):
    """FAA AC 43.13-1B, Table 4-7: K = tan(angle / 2), truncated, so up to one last digit above the print."""
    k = tangent_mm(radius_mm=1.0, angle_rad=math.radians(degrees))
    assert printed - 1e-9 <= k < printed + last_digit


def test_quarter_bend_of_60_mm_radius():
    """City & Guilds Plumbing Book 1, p. 95: a 90 degree bend of 60 mm radius takes 94.2 mm."""
    assert arc_mm(60.0, math.pi / 2) == pytest.approx(94.2, abs=0.05)


def test_quarter_bend_of_40_inch_radius():
    """Conduit handbook: 90 degrees at 40 in by the 0.01745 rule prints 62.82 in; the rule's own rounding is 0.01."""
    assert arc_mm(40.0, math.pi / 2) == pytest.approx(62.82, abs=0.015)


def test_gain_of_a_quarter_bend():
    """Newton, Offset bending: gain of 90 degrees at 20 in radius is 8 9/16 in, to the nearest 1/16."""
    assert gain_mm(20.0, math.pi / 2) == pytest.approx(8 + 9 / 16, abs=1 / 32)


def test_marks_of_a_square_offset():
    """Newton, Offset bending: two 90 degree bends, 60 in offset, 20 in radius: marks 51 7/16 in apart, to 1/16."""
    line = develop([(0, 0, 0), (100, 0, 0), (100, 60, 0), (200, 60, 0)], 20.0)
    apart = line.straights_mm[1] + arc_mm(20.0, math.pi / 2)
    assert apart == pytest.approx(51 + 7 / 16, abs=1 / 32)


@pytest.mark.parametrize(("degrees", "printed"), [(22.5, 2.6), (30, 2.0), (45, 1.4)])
def test_offset_multiplier(degrees, printed):
    """Electrician's handbook: the sloping leg of an offset is its rise times 1 / sin(angle)."""
    angle = math.radians(degrees)
    line = develop([(0, 0, 0), (1, 0, 0), (1 + 1 / math.tan(angle), 1, 0), (9, 1, 0)], 1e-9)
    assert line.straights_mm[1] == pytest.approx(printed, abs=0.05)


@pytest.mark.parametrize(("degrees", "rule", "exact"), [(10, 6.0, 5.76), (60, 1.2, 1.155)])
def test_offset_multiplier_that_is_a_rule_of_thumb(degrees, rule, exact):
    """Electrician's handbook: 6.0 at 10 and 1.2 at 60 degrees are rounded up for use; the gap is under a quarter."""
    angle = math.radians(degrees)
    line = develop([(0, 0, 0), (1, 0, 0), (1 + 1 / math.tan(angle), 1, 0), (20, 1, 0)], 1e-9)
    assert line.straights_mm[1] == pytest.approx(exact, abs=0.005)
    assert 0 < rule - line.straights_mm[1] < 0.25


@pytest.mark.parametrize(("degrees", "sixteenths"), [(10, 1), (15, 2), (22.5, 3), (30, 4)])
def test_shrink_per_inch_of_rise(degrees, sixteenths):
    """Electrician's handbook: how much each inch of rise shortens the run, to a fraction the tape shows."""
    angle = math.radians(degrees)
    line = develop([(0, 0, 0), (5, 0, 0), (5 + 1 / math.tan(angle), 1, 0), (20, 1, 0)], 1e-9)
    shrink = line.length_mm - 20
    assert shrink == pytest.approx(math.tan(angle / 2), abs=1e-6)
    assert shrink == pytest.approx(sixteenths / 16, abs=1 / 32)


@pytest.mark.parametrize(("degrees", "rule"), [(45, 0.375), (60, 0.5)])
def test_shrink_rule_of_thumb_at_steep_angles(degrees, rule):
    """Same table: 3/8 in at 45 (exact 0.414) and 1/2 in at 60 degrees (exact 0.577) are short by under 0.08 in."""
    angle = math.radians(degrees)
    line = develop([(0, 0, 0), (5, 0, 0), (5 + 1 / math.tan(angle), 1, 0), (20, 1, 0)], 1e-9)
    assert 0 < (line.length_mm - 20) - rule < 0.08


def test_offset_of_four_inches_at_thirty_degrees():
    """Same handbook: 30 degrees, 4 in rise: 8 in between the bends, shortening 1 in (exact 1.07)."""
    angle = math.radians(30)
    line = develop([(0, 0, 0), (10, 0, 0), (10 + 4 / math.tan(angle), 4, 0), (40, 4, 0)], 1e-9)
    assert line.straights_mm[1] == pytest.approx(8.0, abs=0.05)
    assert line.length_mm - 40 == pytest.approx(1.0, abs=0.125)


def test_plumbers_rule_for_a_machine_bend_is_rough():
    """City & Guilds p. 95: legs 150 + 250 mm less 1.5 diameters of 22 mm is 367 mm; by geometry, R = 4 D, 362.23."""
    line = develop([(0, 0, 0), (150, 0, 0), (150, 250, 0)], 4 * 22.0)
    assert line.length_mm == pytest.approx(362.23, abs=0.005)
    assert 0 < 367 - line.length_mm < 5
