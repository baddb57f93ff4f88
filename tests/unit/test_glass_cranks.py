"""The crank that lays a parked blade along the screen's edge, against plain triangles."""

import math

import pytest
from msgspec.structs import replace

from tests.glass_facts import arm, glass, wiper
from tubing.glass import at_sweep, crank_sizes
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Screen
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.sheet.content import job_sheet
from tubing.sheet.glazing import glass_data
from tubing.units import quantity

SHOP = read_shop(None)


def sizes(subject):
    """The cranks at 110 degrees."""
    return crank_sizes(subject, at_sweep(subject, quantity(110, "deg")))


@pytest.mark.parametrize(("turning", "hand", "level"), [(-1, "left", 180), (1, "right", 0)])
@pytest.mark.parametrize(("below", "length", "clearance"), [(30, 300, 5), (60, 300, 10), (10, 250, 0)])
def test_over_a_level_edge_by_the_right_triangle(below, length, clearance, turning, hand, level):
    """Pivot so far below the edge: the arm's tip rises by that and the clearance, asin of which over the arm."""
    subject = glass(
        [wiper(at=(0.0, -float(below)), turning=turning)], [arm(length=length, blade=240)], clearance=clearance
    )
    (one,) = sizes(subject)
    by_hand = math.degrees(math.asin((below + clearance) / length))
    assert one.crank_deg == pytest.approx(by_hand, abs=1e-6)
    assert one.hand == hand
    assert one.parked_deg == pytest.approx((level + turning * by_hand) % 360, abs=1e-6)
    assert one.clearance_mm == pytest.approx(clearance, abs=1e-6)


@pytest.mark.parametrize("slope", [0.1, -0.15])
def test_over_a_sloping_edge_by_the_pivots_distance_from_it(slope):
    """The triangle stands on the edge: its height is the pivot's distance from the edge's line, not the plumb one."""
    screen = Screen(((-640.0, 640.0 * -slope), (640.0, 640.0 * slope), (600.0, 700.0), (-600.0, 700.0)))
    (one,) = sizes(glass([wiper(turning=1, at=(0.0, -40.0))], [arm(blade=200)], screen=screen))
    away = 40 * math.cos(math.atan(slope))
    assert one.crank_deg == pytest.approx(math.degrees(math.asin((away + 5) / 300)), abs=1e-6)
    direction = math.radians(one.parked_deg) - math.radians(one.crank_deg)
    assert direction == pytest.approx(math.atan(slope), abs=1e-8)


def test_a_pivot_on_the_glass_takes_the_other_hand():
    """60 mm above a level edge the blade lies below the arm's pivot: asin(55/300) the other way."""
    (one,) = sizes(glass([wiper(at=(100.0, 60.0))], [arm(blade=200)]))
    assert (one.crank_deg, one.hand) == (pytest.approx(math.degrees(math.asin(55 / 300)), abs=1e-6), "right")


def test_where_the_job_says_how_the_arm_parks_only_the_blade_is_laid():
    """An arm 12 degrees up, 30 mm below a level edge: cranked by just that, 300 sin 12 - 30 above the edge."""
    (one,) = sizes(glass(arms=[arm(parked=12, crank=8)]))
    assert (one.crank_deg, one.hand, one.parked_deg) == (pytest.approx(12), "left", pytest.approx(168))
    assert one.clearance_mm == pytest.approx(300 * math.sin(math.radians(12)) - 30)
    assert one.fitted_off_deg == pytest.approx(4)


def test_a_crank_of_the_wrong_hand_counts_fully():
    """12 degrees wanted, 8 the other way: 20 off."""
    assert sizes(glass(arms=[arm(parked=12, crank=-8)]))[0].fitted_off_deg == pytest.approx(20)


def test_a_crank_that_fits_is_not_off():
    """The arm rises by its crank; the blade lies along the edge."""
    (one,) = sizes(glass(arms=[arm(crank=math.degrees(math.asin(35 / 300)))]))
    assert one.fitted_off_deg == pytest.approx(0.0, abs=1e-6)


def test_too_short_an_arm_has_no_such_crank():
    """An arm of 130 with its pivot 200 mm below the glass does not even reach it."""
    (one,) = sizes(glass([wiper(at=(0.0, -200.0))], [arm(length=130, blade=120, parked=80)]))
    assert (one.crank_deg, one.hand, one.clearance_mm) == (None, None, None)


def demo():
    """The demo with a screen: both pivots 30 mm below a level edge, arms of 250 mm cranked 5 degrees."""
    return read_job(data_folder() / "jobs" / "lined-up-twin.toml", SHOP)


def test_the_sheet_tells_size_and_hand():
    """asin(35/250) = 8.05 degrees; with 5 the arm stands at 11, so the blade is 6 off."""
    after = job_sheet(plan(demo(), SHOP), with_glass=True).glass.after
    assert (
        "near: an arm cranked 8.0 deg to the left and parked at 172.0 deg lays its blade along the lower edge, 5.0 mm "
        "clear of it; with the 5.0 deg to the left that it has, the parked blade stands 6.0 deg off the edge's "
        "direction." in after
    )


def test_the_sheet_tells_where_no_crank_does_it():
    """Parked at 80 and cranked 5 back, the blade stands at 75 over a level edge."""
    short = replace(demo().arms[0], length=quantity(130, "mm"), blade=quantity(120, "mm"), parked=quantity(80, "deg"))
    after = job_sheet(plan(replace(demo(), arms=(short, demo().arms[1])), SHOP), with_glass=True).glass.after
    assert (
        "near: no crank lays the parked blade along the lower edge of the glass; with the 5.0 deg to the left that it "
        "has, the parked blade stands 75.0 deg off the edge's direction." in after
    )


def test_holes_off_the_plane_of_the_glass_are_told():
    """The plane 12 mm in front of both holes: they lie 12 mm from it, outwards or towards the driver by its sign."""
    job = demo()
    plane = ((-800.0, -12.0, 10.0), (0.0, -12.0, 10.0), (-800.0, -12.0, 400.0))
    outline = ((0.0, 0.0), (1500.0, 0.0), (1500.0, 420.0), (0.0, 420.0))
    for shift, side in ((0.0, "outwards"), (24.0, "towards the driver")):
        moved = tuple((x, y + shift, z) for x, y, z in plane)
        screen = Screen(outline, {}, None, moved)
        after = job_sheet(plan(replace(job, screen=screen), SHOP), with_glass=True).glass.after
        assert f"near: its hole lies 12.0 mm off the plane of the glass, {side}." in after


def test_a_bent_glass_is_told_by_how_far_it_leaves_its_plane():
    """A fourth point of the glass 8 mm out of the plane of three that make a rectangle with it: 2 mm off each."""
    job = demo()
    plane = ((-800.0, -12.0, 10.0), (100.0, -12.0, 10.0), (-800.0, -12.0, 610.0), (100.0, -4.0, 610.0))
    outline = ((0.0, 0.0), (1500.0, 0.0), (1500.0, 420.0), (0.0, 420.0))
    made = plan(replace(job, screen=Screen(outline, {}, None, plane)), SHOP)
    said = "The glass as measured lies up to 2.0 mm off its best plane, in which all this is worked out."
    assert said in job_sheet(made, with_glass=True).glass.after
    assert glass_data(made)["plane_misfit_mm"] == pytest.approx(2.0, abs=0.001)
