"""Offsets and saddles as hand benders' tables have them, corner by corner and mark by mark.

Source: an open electrician's handbook on hand bending (offsets: multiplier, shrink per inch of rise, two worked
offsets), the same tables that the tests of bend arithmetic use. Saddles are common practice, no source: a
saddle is two offsets back to back, so its figures are derived from the offset's.
"""

import math

import pytest

from tests.offsets import angles, marks, offset, over, saddle_of_four, saddle_of_three, shrink

HANDBOOK = {10: 6.0, 22.5: 2.6, 30: 2.0, 45: 1.4, 60: 1.2}  # degrees: marks apart per inch of rise
TENTH = {10: 0.25}  # the table rounds to a tenth, but 5.76 up to 6.0
SHRINK = {10: 1 / 16, 22.5: 3 / 16, 30: 1 / 4, 45: 3 / 8, 60: 1 / 2}  # degrees: inches lost per inch of rise


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
