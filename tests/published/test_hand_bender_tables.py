"""Offsets and saddles as hand benders' tables have them, corner by corner and mark by mark.

Source: an open electrician's handbook on hand bending (offsets: multiplier, shrink per inch of rise, two worked
offsets), the same tables that the tests of bend arithmetic use. Saddles are common practice, no source: a
saddle is two offsets back to back, so its figures are derived from the offset's. Derived closed forms say so.
"""

import itertools
import math

import pytest

from tubing.centreline.between import Bending, PortAt, tube_between
from tubing.centreline.develop import develop
from tubing.geometry.bends import gain_mm

HANDBOOK = {10: 6.0, 22.5: 2.6, 30: 2.0, 45: 1.4, 60: 1.2}  # degrees: marks apart per inch of rise
TENTH = {10: 0.25}  # the table rounds to a tenth, but 5.76 up to 6.0
SHRINK = {10: 1 / 16, 22.5: 3 / 16, 30: 1 / 4, 45: 3 / 8, 60: 1 / 2}  # degrees: inches lost per inch of rise


def over(corners, radius):
    """The centre line over corners of one plane, with straights of 200 before and after."""
    points = [(0.0, 0.0), *((200.0 + x, y) for x, y in corners), (400.0 + corners[-1][0], corners[-1][1])]
    return develop([(float(x), float(y), 0.0) for x, y in points], radius)


def offset(rise, degrees):
    """Corners of an offset."""
    return [(0.0, 0.0), (rise / math.tan(math.radians(degrees)), rise)]


def saddle_of_four(rise, degrees, level):
    """Corners of a saddle of four bends: an offset up, a level part, an offset down."""
    along = rise / math.tan(math.radians(degrees))
    return [(0.0, 0.0), (along, rise), (along + level, rise), (2 * along + level, 0.0)]


def saddle_of_three(rise, degrees):
    """Corners of a saddle of three bends: the middle one twice the outer ones' angle."""
    along = rise / math.tan(math.radians(degrees))
    return [(0.0, 0.0), (along, rise), (2 * along, 0.0)]


def marks(line):
    """Where each bend starts along the blank."""
    at, found = 0.0, []
    for straight, bend in zip(line.straights_mm, line.bends, strict=False):
        found.append(at + straight)
        at += straight + bend.radius_mm * bend.angle_rad
    return found


def angles(line):
    """Bends and rotations in degrees."""
    return [(round(math.degrees(b.angle_rad), 6), round(math.degrees(b.rotation_rad), 6)) for b in line.bends]


def shrink(line):
    """How much longer the tube is than its run from end to end along the wall."""
    return line.length_mm - (line.points_mm[-1][0] - line.points_mm[0][0])


def test_offset_of_six_inches_at_forty_five_degrees():
    """Handbook, worked offset: 6 in rise at 45 degrees, marks 8-1/2 in apart; it allows 2-1/4 in, exactly 2.485."""
    line = over(offset(6, 45), 1e-9)
    first, second = marks(line)
    assert second - first == pytest.approx(8.5, abs=1 / 16)
    assert shrink(line) == pytest.approx(2.485, abs=0.0005)
    assert 0 < shrink(line) - 2.25 < 0.25  # a rule of thumb: 3/8 in for each inch


@pytest.mark.parametrize(("degrees", "rule"), HANDBOOK.items())
def test_marks_of_a_bent_offset_stay_near_the_rule(degrees, rule):
    """Handbook, multipliers: with a former's radius too, marks from bend to bend are the rise times the multiplier.

    Derived: they lie rise / sin - R (2 tan(a/2) - a) apart, so the rule errs by a bend's gain, on top of its rounding.
    """
    rise, radius, angle = 10.0, 4.0, math.radians(degrees)
    line = over(offset(rise, degrees), radius)
    first, second = marks(line)
    exact = rise / math.sin(angle)
    assert exact - (second - first) == pytest.approx(radius * (2 * math.tan(angle / 2) - angle), abs=1e-9)
    assert exact == pytest.approx(rule * rise, abs=TENTH.get(degrees, 0.05) * rise)
    assert angles(line) == [(degrees, 0.0), (degrees, 180.0)]


@pytest.mark.parametrize("degrees", [10, 22.5, 30, 45, 60])
def test_a_saddle_of_four_bends_is_two_offsets(degrees):
    """Handbook's tables twice: both pairs of marks by the multiplier, twice the shrink; the level part stays level."""
    rise, level = 3.0, 12.0
    line = over(saddle_of_four(rise, degrees, level), 1e-9)
    at = marks(line)
    assert at[1] - at[0] == pytest.approx(HANDBOOK[degrees] * rise, abs=TENTH.get(degrees, 0.05) * rise)
    assert at[3] - at[2] == pytest.approx(at[1] - at[0], abs=1e-9)
    assert at[2] - at[1] == pytest.approx(level, abs=1e-9)
    assert shrink(line) == pytest.approx(2 * shrink(over(offset(rise, degrees), 1e-9)), abs=1e-9)
    assert shrink(line) == pytest.approx(2 * SHRINK[degrees] * rise, abs=2 * 0.08 * rise)
    assert angles(line) == [(degrees, 0.0), (degrees, 180.0), (degrees, 0.0), (degrees, 180.0)]


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


@pytest.mark.parametrize(("degrees", "rule", "inches"), [(22.5, 2.5, 3 / 16), (30, 2.0, 1 / 4)])
def test_a_saddle_of_three_bends_by_the_rule(degrees, rule, inches):
    """Values from memory: 45 degrees in the middle, outer marks 2.5 times the height away, 3/16 in of shrink an inch.

    With 60 degrees in the middle 2 times and 1/4 in. Each side is half an offset: rise / sin and rise tan(a/2); the 2.5
    is 4 % less than 1 / sin 22.5, a rule of thumb.
    """
    rise = 2.0
    line = over(saddle_of_three(rise, degrees), 1e-9)
    at = marks(line)
    assert at[1] - at[0] == pytest.approx(at[2] - at[1], abs=1e-9)
    assert 0 <= (at[1] - at[0]) / (rule * rise) - 1 + 1e-9 < 0.05
    assert shrink(line) / 2 == pytest.approx(inches * rise, abs=1 / 32 * rise)
    assert angles(line) == [(degrees, 0.0), (2 * degrees, 180.0), (degrees, 180.0)]


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


@pytest.mark.parametrize(("rise", "roll"), [(3.0, 4.0), (12.0, 5.0), (7.0, 24.0)])
@pytest.mark.parametrize("degrees", [22.5, 30, 45, 60])
def test_a_rolling_offset_is_an_offset_of_its_true_rise(rise, roll, degrees):
    """Common practice, no source: true offset = root of rise squared and roll squared; then as a plain offset."""
    true = math.hypot(rise, roll)
    along = true / math.tan(math.radians(degrees))
    line = develop([(0, 0, 0), (50, 0, 0), (50 + along, rise, roll), (120 + along, rise, roll)], 2.0)
    plain = over(offset(true, degrees), 2.0)
    assert line.straights_mm[1] == pytest.approx(plain.straights_mm[1], abs=1e-9)
    assert angles(line) == angles(plain)


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
