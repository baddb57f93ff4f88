"""Laws of the wiped area and of the distance of blades."""

import math

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tubing.glass.blade import Blade
from tubing.glass.nearness import _Pair, least_distance_mm, segment_distance_mm
from tubing.glass.surface import surface, swept
from tubing.inputs.records import Screen

OUTLINE = ((-640.0, 0.0), (640.0, 0.0), (560.0, 500.0), (-560.0, 500.0))
LAW = settings(deadline=None, max_examples=60)  # no test here is about time
ZONE = ((-350.0, 80.0), (350.0, 80.0), (320.0, 380.0), (-320.0, 380.0))


@st.composite
def blades(draw, most_sweep_rad=6.2, most_lost_rad=0.0):
    """Any blade that its arm can carry, with its pivot near the screen."""
    arm_mm = draw(st.floats(50, 500))
    return Blade(
        "b",
        (draw(st.floats(-600, 600)), draw(st.floats(-100, 100))),
        arm_mm,
        draw(st.floats(0.2, 2)) * arm_mm,
        draw(st.floats(-1.04, 1.04)),
        draw(st.floats(-3.2, 3.2)),
        draw(st.floats(0.05, most_sweep_rad)),
        draw(st.sampled_from((-1, 1))),
        draw(st.floats(0, most_lost_rad)),
    )


def percents(outline, zone, subjects):
    """Wiped percent of the screen and of a zone."""
    on = surface(Screen(tuple(outline), {"A": tuple(zone)}))
    screen_percent, zones = on.percents(on.wiped(swept(blade) for blade in subjects))
    return [screen_percent, zones["A"]]


def turned(point, by_rad, shift):
    """A point turned about the origin, then moved."""
    cos, sin = math.cos(by_rad), math.sin(by_rad)
    return (cos * point[0] - sin * point[1] + shift[0], sin * point[0] + cos * point[1] + shift[1])


SHIFT = st.tuples(st.floats(-2000, 2000), st.floats(-2000, 2000))


@LAW
@given(st.lists(blades(), min_size=1, max_size=3), st.floats(-3, 3), SHIFT)
def test_moving_and_turning_screen_and_wipers_together_changes_no_percentage(subjects, by_rad, shift):
    """Where the origin of the outline is, and how the glass stands, is the fitter's choice."""
    moved = [replace(b, pivot_mm=turned(b.pivot_mm, by_rad, shift), parked_rad=b.parked_rad + by_rad) for b in subjects]
    outline, zone = ([turned(p, by_rad, shift) for p in points] for points in (OUTLINE, ZONE))
    assert percents(outline, zone, moved) == pytest.approx(percents(OUTLINE, ZONE, subjects), abs=1e-6)


@LAW
@given(st.lists(blades(), min_size=1, max_size=3))
def test_a_mirrored_car_wipes_the_same_percentage(subjects):
    """A left-hand and a right-hand drive twin."""
    mirrored = [
        replace(
            b,
            pivot_mm=(-b.pivot_mm[0], b.pivot_mm[1]),
            parked_rad=math.pi - b.parked_rad,
            crank_rad=-b.crank_rad,
            turning=-b.turning,
        )
        for b in subjects
    ]
    outline, zone = ([(-x, y) for x, y in points] for points in (OUTLINE, ZONE))
    assert percents(outline, zone, mirrored) == pytest.approx(percents(OUTLINE, ZONE, subjects), abs=1e-6)


@LAW
@given(st.lists(blades(), min_size=2, max_size=3))
def test_one_more_blade_never_wipes_less_and_never_more_than_its_own(subjects):
    """The union is at least each part and at most their sum; a percentage is between 0 and 100."""
    together = percents(OUTLINE, ZONE, subjects)
    alone = [percents(OUTLINE, ZONE, [blade]) for blade in subjects]
    for k in (0, 1):
        assert max(one[k] for one in alone) - 1e-6 <= together[k] <= sum(one[k] for one in alone) + 1e-6
        assert -1e-9 <= together[k] <= 100 + 1e-9


@LAW
@given(blades(most_sweep_rad=3.0), st.floats(0.01, 3))
def test_a_larger_sweep_never_wipes_less(blade, more_rad):
    """What the lesser sweep wipes, the larger wipes too, but for the chords of its arcs."""
    larger = replace(blade, sweep_rad=blade.sweep_rad + more_rad)
    chords_mm2 = 2 * 0.01 * larger.sweep_rad * larger.reach_mm
    assert swept(larger).area >= swept(blade).area - chords_mm2
    assert swept(blade).difference(swept(larger)).area <= chords_mm2


@LAW
@given(blades())
def test_a_swept_region_is_sound_and_holds_the_blade_all_the_way(blade):
    """No crossing edge; every position of the blade lies within, to what a sliver of 1e-5 mm leaves out."""
    region = swept(blade)
    assert region.is_valid
    around = region.buffer(0.2)
    assert all(around.covers(shapely.LineString(blade.ends_mm(k / 7))) for k in range(8))


@LAW
@given(blades())
def test_wiping_back_is_wiping_there(blade):
    """Parked at the other dead end and turning the other way, the blade passes over the same glass."""
    back = replace(blade, parked_rad=blade.parked_rad + blade.turning * blade.sweep_rad, turning=-blade.turning)
    assert swept(back).symmetric_difference(swept(blade)).area == pytest.approx(
        0, abs=1e-3 * blade.sweep_rad * blade.reach_mm
    )


@LAW
@given(blades(3.0, 0.04), blades(3.0, 0.04))
def test_the_distance_of_two_blades_is_the_same_both_ways(first, second):
    """To the 0.1 mm that the search leaves."""
    assert least_distance_mm(first, second) == pytest.approx(least_distance_mm(second, first), abs=0.1)


@LAW
@given(blades(3.0, 0.04), blades(3.0, 0.04), st.floats(0, 1))
def test_at_no_moment_are_two_blades_nearer_than_their_least_distance(first, second, fraction):
    """Together, and with one lagging by its lost motion in either stroke."""
    least_mm = least_distance_mm(first, second)
    for one, two in ((0, 0), (1, 0), (0, 1), (-1, 0), (0, -1)):
        at = [
            b.ends_mm(min(1.0, max(0.0, fraction - lag * b.lost_rad / b.sweep_rad)))
            for b, lag in ((first, one), (second, two))
        ]
        assert segment_distance_mm(*at) >= least_mm - 0.1


@LAW
@given(blades(3.0), blades(3.0), st.floats(0.001, 0.1))
def test_lost_motion_never_brings_blades_farther_apart(first, second, lost_rad):
    """More slack, no more room."""
    assume(first.sweep_rad > lost_rad)
    slack = replace(first, lost_rad=lost_rad)
    assert least_distance_mm(slack, second) <= least_distance_mm(first, second) + 0.1


@LAW
@given(
    blades(3.0, 0.2),
    blades(3.0, 0.2),
    st.floats(0, 1),
    st.floats(0.001, 0.2),
    st.floats(0, 0.2),
    st.lists(st.tuples(st.floats(-1, 1), st.floats(-1, 1)), min_size=20, max_size=20),
)
def test_no_position_in_a_cell_is_nearer_than_its_bound(first, second, mean, half, half_difference, places):
    """What the search leaves out on the strength of a bound holds nothing less."""
    cell = _Pair(first, second).cell(mean, 0.0, half, half_difference)
    for u, v in [*places, (1, 1), (1, -1), (-1, 1), (-1, -1)]:
        at, difference = mean + u * half, v * half_difference
        ends = first.ends_mm(at + difference / 2), second.ends_mm(at - difference / 2)
        assert segment_distance_mm(*ends) >= cell.low_mm - 1e-9
