"""The largest radius that would fit, and leads to named corners, by sums worked out by hand."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from tubing.centreline.between import Bending, PortAt, lead_corner, tube_between
from tubing.errors import GeometryError

BENDING = Bending(130.0, 10.0, 3.0, math.radians(2))
LONG_GRIP = Bending(2000.0, 60.0, 3.0, math.radians(2))
NOSE = PortAt("nose", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 39.0)


def gentle(start_mm: float, end_mm: float) -> tuple[PortAt, PortAt]:
    """Lines that meet after 150 mm, 202 mm before the end, at an angle whose half has the tangent 1/10.

    Its cosine is 99/101 and its sine 20/101, so the end lies 150 + 198 mm ahead and 40 mm aside.
    """
    start = PortAt("near", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), start_mm)
    return start, PortAt("far", (348.0, 40.0, 0.0), (99 / 101, 20 / 101, 0.0), end_mm)


def test_the_largest_radius_with_one_bend():
    """Of 150 mm the port holds 65; the 85 left are the tangents of a radius of 85 / (1/10) = 850 mm.

    The former's grip is 60 mm, so two bends, which need it between them as well, fit up to less.
    """
    start, end = gentle(65.0, 20.0)
    with pytest.raises(GeometryError) as error:
        tube_between(start, end, LONG_GRIP)
    assert error.value.largest_radius_mm == pytest.approx(850.0)
    assert str(error.value) == (
        "tube near-far: its ports are 350.3 mm apart, and no straight, single or double bend of radius 2000 mm "
        "(as bent) joins them; the largest radius that would fit is 850 mm; move a box, turn its heading, or name "
        "corners for this tube"
    )
    assert len(tube_between(start, end, replace(LONG_GRIP, radius_mm=849.9)).line.bends) == 1


@pytest.mark.parametrize(("start_mm", "end_mm", "largest"), [(20.0, 150.0, 520.0), (5.0, 5.0, 900.0)])
def test_the_largest_radius_with_one_bend_keeps_what_each_end_holds(start_mm, end_mm, largest):
    """202 - 150 = 52 mm at the far end; ports that hold 5 mm leave the former its grip: 150 - 60 = 90."""
    with pytest.raises(GeometryError) as error:
        tube_between(*gentle(start_mm, end_mm), LONG_GRIP)
    assert error.value.largest_radius_mm == pytest.approx(largest)


def test_the_largest_radius_of_a_lead():
    """From the end of the 39 mm that the nose holds, the corner lies 100 mm ahead and 50 mm aside.

    The circle that leaves (39, 0) along x has its middle at (39, R). It goes through the corner when
    100 squared + (R - 50) squared = R squared: R = 12500 / 100 = 125 mm.
    """
    with pytest.raises(GeometryError) as error:
        lead_corner(NOSE, (139.0, 50.0, 0.0), BENDING, "tube nose-near")
    assert error.value.largest_radius_mm == pytest.approx(125.0)
    assert str(error.value) == (
        "tube nose-near: no bend of radius 130 mm (as bent) leads from nose's heading to the corner at (139.0, 50.0, "
        "0.0) mm; "
        "the largest radius that would fit is 125 mm; move the corner"
    )
    assert lead_corner(NOSE, (139.0, 50.0, 0.0), replace(BENDING, radius_mm=124.9), "tube nose-near")


def test_leads_at_both_ends_by_a_triangle_of_3_4_5():
    """A turn whose half has the tangent 1/2 goes on in the direction (0.6, 0.8).

    Radius 100: its tangents are 50 mm, so behind the 39 mm of the nose the lead corner lies at x = 89. From there
    300 mm on: (89 + 180, 240). The far end is the same, mirrored: its lead corner lies 89 mm before it.
    """
    bending = replace(BENDING, radius_mm=100.0)
    first, second = (269.0, 240.0, 0.0), (769.0, 240.0, 0.0)
    end = PortAt("near", (1038.0, 0.0, 0.0), (1.0, 0.0, 0.0), 39.0)
    laid = tube_between(NOSE, end, bending, (first, second))
    corners = [NOSE.datum_mm, (89.0, 0.0, 0.0), first, second, (949.0, 0.0, 0.0), end.datum_mm]
    for found, wanted in zip(laid.line.points_mm, corners, strict=True):
        assert found == pytest.approx(wanted)
    turn = 2 * math.degrees(math.atan(0.5))
    assert [math.degrees(bend.angle_rad) for bend in laid.line.bends] == pytest.approx([turn] * 4)
    assert laid.line.straights_mm == pytest.approx((39.0, 200.0, 400.0, 200.0, 39.0))


def test_a_corner_on_the_ports_line_needs_no_lead():
    """2.9 mm aside at 200 mm is within a fit-up of 3 mm and 2 degrees; 3.1 mm is not, nor 2.9 mm at 60 mm."""
    assert lead_corner(NOSE, (200.0, 2.9, 0.0), BENDING, "tube nose-near") == ()
    assert lead_corner(NOSE, (200.0, 3.1, 0.0), BENDING, "tube nose-near") != ()
    assert lead_corner(NOSE, (60.0, 2.9, 0.0), replace(BENDING, radius_mm=30.0), "tube nose-near") != ()


def test_a_straight_tube_holds_both_its_ends():
    """39 and 20 mm are 59: a gap of 59 mm is enough, 58.9 mm is not."""

    def end_at(x_mm):
        return PortAt("near", (x_mm, 0.0, 0.0), (1.0, 0.0, 0.0), 20.0)

    assert tube_between(NOSE, end_at(59.0), BENDING).line.length_mm == pytest.approx(59.0)
    with pytest.raises(GeometryError) as error:
        tube_between(NOSE, end_at(58.9), BENDING)
    assert str(error.value) == (
        "tube nose-near: its only leg is 58.9 mm; it must hold 59.0 mm for the flares, nut and boxes at its ends; move "
        "the boxes apart"
    )


@pytest.mark.parametrize(("aside_mm", "bends"), [(2.9, 0), (3.1, 2)])
def test_ports_out_of_line_within_fit_up_are_pulled_into_place(aside_mm, bends):
    """At 800 mm, 2.9 mm aside are 0.2 degrees: straight. 3.1 mm are more than a fit-up of 3 mm."""
    end = PortAt("near", (800.0, aside_mm, 0.0), (1.0, 0.0, 0.0), 20.0)
    laid = tube_between(NOSE, end, BENDING)
    assert len(laid.line.bends) == bends
    if not bends:
        assert laid.pull_in.distance_mm == pytest.approx(2.9)
        assert laid.pull_in.angle_rad == pytest.approx(math.atan(2.9 / 800))
        assert laid.pull_in.noticed
