"""Offsets, saddles and corners in closed form: derived here, no published source; the derivation stands with each."""

import itertools
import math

import pytest

from tests.offsets import angles, marks, offset, over, saddle_of_four, saddle_of_three
from tubing.centreline.between import Bending, PortAt, tube_between
from tubing.centreline.develop import develop
from tubing.geometry.bends import gain_mm


@pytest.mark.parametrize(
    ("rise", "degrees", "level", "radius"), [(40, 30, 150, 60), (25, 22.5, 60, 100), (90, 45, 300, 80)]
)
def test_a_saddle_of_four_bends_with_a_radius(rise, degrees, level, radius):
    """Derived from the offset's closed form twice: run + 2 H tan(a/2) - 4 R (2 tan(a/2) - a)."""
    angle = math.radians(degrees)
    line = over(saddle_of_four(rise, degrees, level), radius)
    run = 400 + 2 * rise / math.tan(angle) + level
    half = math.tan(angle / 2)
    assert line.length_mm == pytest.approx(run + 2 * rise * half - 4 * radius * (2 * half - angle), abs=1e-9)
    assert line.straights_mm[2] == pytest.approx(level - 2 * radius * half, abs=1e-9)


@pytest.mark.parametrize(("rise", "degrees", "radius"), [(50, 22.5, 80), (120, 30, 100), (40, 15, 60)])
def test_a_saddle_of_three_bends_with_a_radius(rise, degrees, radius):
    """Derived: run + 2 H tan(a/2) less the gains of two outer bends and of the middle one of twice the angle."""
    angle = math.radians(degrees)
    line = over(saddle_of_three(rise, degrees), radius)
    run = 400 + 2 * rise / math.tan(angle)
    gains = 2 * (2 * math.tan(angle / 2) - angle) + 2 * math.tan(angle) - 2 * angle
    assert line.length_mm == pytest.approx(run + 2 * rise * math.tan(angle / 2) - radius * gains, abs=1e-9)
    straight = rise / math.sin(angle) - radius * (math.tan(angle / 2) + math.tan(angle))
    assert line.straights_mm[1:3] == pytest.approx([straight, straight], abs=1e-9)


@pytest.mark.parametrize("degrees", [10, 22.5, 30, 45, 60])
def test_parallel_offsets_start_later_by_the_half_angle(degrees):
    """Common practice, no source: the marks of a tube beside move by their distance times tan(a/2), exact."""
    apart, rise, half = 1.5, 6.0, math.tan(math.radians(degrees) / 2)
    inner = over(offset(rise, degrees), 1e-9)
    moved = [(x - apart * half, y + apart) for x, y in offset(rise, degrees)]
    points = [(0.0, apart), *((200.0 + x, y) for x, y in moved), (400.0 + moved[-1][0], moved[-1][1])]
    outer = develop([(x, y, 0.0) for x, y in points], 1e-9)
    assert [b - a for a, b in zip(marks(outer), marks(inner), strict=True)] == pytest.approx(
        [apart * half] * 2, abs=1e-9
    )
    legs = zip(inner.points_mm[1:3], outer.points_mm[1:3], strict=True)
    along = (math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))
    for a, b in legs:  # the sloping legs too lie so far apart
        assert abs((b[0] - a[0]) * along[1] - (b[1] - a[1]) * along[0]) == pytest.approx(apart, abs=1e-9)


@pytest.mark.parametrize(("run", "rise", "radius"), [(400, 60, 230), (500, 25, 230), (300, 100, 150), (900, 300, 230)])
def test_the_offset_that_the_program_makes_between_level_ports(run, rise, radius):
    """Derived: between the leads, straight = root(L^2 + H^2 - 4 R H), and both bends equal.

    From H = 2 R (1 - cos a) + p sin a and L = 2 R sin a + p cos a, squared and added; two bends of opposite hands.
    """
    lead = 30.0
    start = PortAt("a", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), lead)
    end = PortAt("b", (2 * lead + run, float(rise), 0.0), (1.0, 0.0, 0.0), lead)
    line = tube_between(start, end, Bending(float(radius), 10.0, 0.1, 1e-3)).line
    straight = math.sqrt(run**2 + rise**2 - 4 * radius * rise)
    assert line.straights_mm == pytest.approx([lead, straight, lead], abs=1e-6)
    angle = line.bends[0].angle_rad
    assert 2 * radius * (1 - math.cos(angle)) + straight * math.sin(angle) == pytest.approx(rise, abs=1e-6)
    assert 2 * radius * math.sin(angle) + straight * math.cos(angle) == pytest.approx(run, abs=1e-6)
    assert [b.rotation_rad for b in line.bends] == pytest.approx([0.0, math.pi])


def test_gains_by_degree_grow_with_the_cube():
    """Derived: gain = R (2 tan(a/2) - a) = R a^3 / 12 and more, so halving a bend's angle saves seven eighths of it."""
    for a, b in itertools.pairwise((80, 40, 20, 10, 5)):
        ratio = gain_mm(100.0, math.radians(a)) / gain_mm(100.0, math.radians(b))
        assert 8.0 < ratio < 10.0
    assert gain_mm(100.0, math.radians(5)) == pytest.approx(100 * math.radians(5) ** 3 / 12, rel=1e-3)


@pytest.mark.parametrize(
    ("points", "radius", "straights", "bends", "rotations", "length"),
    [
        ([(0, 0, 0), (100, 0, 0), (100, 100, 0), (100, 100, 100)], 30, [70, 40, 70], [90, 90], [0, 90], 274.2478),
        (
            [(0, 0, 0), (300, 0, 0), (500, 200, 0), (700, 200, 200), (900, 200, 200)],
            229,
            [205.1451, 55.7746, 55.7746, 105.1451],
            [45, 60, 45],
            [0, 125.2644, 125.2644],
            1021.3600,
        ),
        (
            [(0, 0, 0), (200, 0, 0), (300, 100, 0), (500, 100, 0)],
            100,
            [158.5786, 58.5786, 158.5786],
            [45, 45],
            [0, 180],
            532.8156,
        ),
    ],
)
def test_derived_corner_cases(points, radius, straights, bends, rotations, length):
    """Derived exactly from tangent and arc, no published source; the rotation's size, its sign by our convention."""
    line = develop([tuple(float(c) for c in p) for p in points], float(radius))
    assert line.straights_mm == pytest.approx(straights, abs=0.00005)
    assert [math.degrees(b.angle_rad) for b in line.bends] == pytest.approx(bends, abs=1e-9)
    assert [abs(math.degrees(b.rotation_rad)) for b in line.bends] == pytest.approx(rotations, abs=0.00005)
    assert line.length_mm == pytest.approx(length, abs=0.00005)


@pytest.mark.parametrize(
    ("run", "rise", "degrees", "radius"), [(400, 120, 30, 60), (500, 60, 22.5, 100), (700, 300, 45, 80)]
)
def test_offset_with_a_radius_in_closed_form(run, rise, degrees, radius):
    """Derived exactly: cut = run + H tan(a/2) - 2R(2 tan(a/2) - a); straight between = H/sin a - 2R tan(a/2)."""
    a = math.radians(degrees)
    line = develop([(0, 0, 0), (150, 0, 0), (150 + rise / math.tan(a), rise, 0), (run, rise, 0)], radius)
    assert line.length_mm == pytest.approx(
        run + rise * math.tan(a / 2) - 2 * radius * (2 * math.tan(a / 2) - a), abs=1e-9
    )
    assert line.straights_mm[1] == pytest.approx(rise / math.sin(a) - 2 * radius * math.tan(a / 2), abs=1e-9)


@pytest.mark.parametrize("degrees", [22.5, 30, 45, 60])
def test_a_rolling_offset_is_bent_in_the_plane_of_its_true_rise(degrees):
    """Rise 3 and roll 4 make a true rise of 5, by Pythagoras: the leg between the corners is 5 / sin(angle).

    With a radius of 2 each bend takes R tan(a/2) of it; the second bend lies back in the plane of the first.
    """
    angle = math.radians(degrees)
    along = 5 / math.tan(angle)
    line = develop([(0.0, 0.0, 0.0), (50.0, 0.0, 0.0), (50 + along, 3.0, 4.0), (120 + along, 3.0, 4.0)], 2.0)
    assert line.straights_mm[1] == pytest.approx(5 / math.sin(angle) - 2 * 2 * math.tan(angle / 2), abs=1e-9)
    assert angles(line) == [(degrees, 0.0), (degrees, 180.0)]
