"""The screen's outline, its zones, its plane, and the pivots on it."""

import math

import numpy as np
import pytest

from tests.glass_facts import SCREEN
from tubing.errors import JobError
from tubing.glass import pivots
from tubing.glass.plane import plane_through
from tubing.glass.surface import surface
from tubing.inputs.records import Screen


@pytest.mark.parametrize(
    ("outline", "sentence"),
    [
        (
            ((0.0, 0.0), (100.0, 100.0), (100.0, 0.0), (0.0, 100.0)),
            "screen, outline: its edges cross at (50.0, 50.0) mm; no edge may cross another; "
            "give its corners in order round the edge",
        ),
        (
            ((0.0, 0.0), (100.0, 100.0), (0.0, 0.0)),
            "screen, outline: it has 2 different points; it must have 3 or more; "
            "give its corners in order round the edge",
        ),
        (
            ((0.0, 0.0), (100.0, 0.0), (50.0, 0.001)),
            "screen, outline: its area is 0.05 mm2; it must have an area; measure its corners again",
        ),
    ],
)
def test_an_outline_that_is_none(outline, sentence):
    """Crossing itself, too few points, no area."""
    with pytest.raises(JobError) as error:
        surface(Screen(outline))
    assert error.value.exit_status == 2
    assert str(error.value) == sentence


def test_an_outline_may_be_closed_by_its_first_point():
    """As a drawing program gives it."""
    closed = (*SCREEN.outline_mm, SCREEN.outline_mm[0])
    assert surface(Screen(closed)).outline.area == surface(SCREEN).outline.area == 500 * 1200


def test_a_zone_off_the_glass():
    """A zone's corner outside, and a zone whose corners are on the glass but whose middle bridges a bay."""
    with pytest.raises(JobError) as error:
        surface(Screen(SCREEN.outline_mm, {"B": ((0.0, 100.0), (100.0, 100.0), (50.0, 512.0))}))
    assert str(error.value) == (
        "screen, zone 'B': it reaches 12 mm outside the outline; a zone must lie on the glass; "
        "measure the zone and the outline from one origin"
    )
    bay = ((0.0, 0.0), (100.0, 0.0), (200.0, 200.0), (300.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0))
    with pytest.raises(JobError) as error:
        surface(Screen(bay, {"A": ((50.0, 10.0), (350.0, 10.0), (350.0, 250.0), (50.0, 250.0))}))
    assert "it bridges a bay in the outline" in str(error.value)


HOLES = {"near": (-300.0, 10.0, -20.0), "far": (300.0, 10.0, -20.0)}
PLANE = ((0.0, 0.0, 0.0), (500.0, 0.0, 0.0), (100.0, 300.0, 300.0))  # rises at 45 degrees, forward and up


def test_holes_come_into_the_plane_of_the_glass_with_their_misfit():
    """At 45 degrees (y, z) = (10, -20) is -10 / sqrt 2 up the glass and 30 / sqrt 2 off it, away from the driver."""
    placed = pivots(Screen(SCREEN.outline_mm, plane_mm=PLANE), HOLES)
    assert placed.points_mm["near"] == pytest.approx((-300, -10 / math.sqrt(2)))
    assert placed.points_mm["far"] == pytest.approx((300, -10 / math.sqrt(2)))
    assert placed.misfits_mm == pytest.approx(dict.fromkeys(("near", "far"), -30 / math.sqrt(2)))


def test_pivots_in_the_plane_are_taken_as_they_are():
    """Those of the layout only, and no misfit."""
    placed = pivots(Screen(SCREEN.outline_mm, pivots_mm={"near": (1.0, 2.0), "other": (3.0, 4.0)}), {"near": (9, 9, 9)})
    assert placed.points_mm == {"near": (1.0, 2.0)}
    assert placed.misfits_mm == {}


@pytest.mark.parametrize(
    ("screen", "sentence"),
    [
        (
            Screen(SCREEN.outline_mm, pivots_mm={"far": (0.0, 0.0)}),
            "screen, pivots: there is none for the wheelbox 'near'; each wheelbox of the layout needs one; "
            "add 'near = [point]', or give 'plane' and leave 'pivots' out",
        ),
        (
            Screen(SCREEN.outline_mm),
            "screen: neither 'pivots' nor 'plane' is given; the blades must turn about something; "
            "give the pivots in the plane of the glass, or three points of that plane",
        ),
        (
            Screen(SCREEN.outline_mm, pivots_mm={"near": (0.0, -301.0)}),
            "screen, pivot 'near': it lies 301 mm outside the outline; a pivot must lie within 300 mm of the glass; "
            "measure it from the outline's origin, x to the driver's right, y up the glass",
        ),
        (
            Screen(SCREEN.outline_mm, plane_mm=((0.0, 350.0, 0.0), (500.0, 350.0, 0.0), (0.0, 350.0, 300.0))),
            "screen, pivot 'near': its hole lies 340 mm off the plane of the glass; a pivot must lie within 300 mm of "
            "the glass; measure it from the outline's origin, x to the driver's right, y up the glass",
        ),
        (
            Screen(SCREEN.outline_mm, plane_mm=((0.0, -350.0, 0.0), (500.0, -350.0, 0.0), (0.0, -350.0, 300.0))),
            "screen, pivot 'near': its hole lies 360 mm off the plane of the glass; a pivot must lie within 300 mm of "
            "the glass; measure it from the outline's origin, x to the driver's right, y up the glass",
        ),
        (
            Screen(SCREEN.outline_mm, plane_mm=((0.0, 0.0, 0.0), (5.0, 5.0, 0.0), (10.0, 10.0, 0.0))),
            "screen, plane: its first three points lie in one line; the first must be the outline's origin, the second "
            "to the driver's right, the third up the glass; measure three points of the glass in that order",
        ),
        (
            Screen(SCREEN.outline_mm, plane_mm=(PLANE[1], PLANE[0], PLANE[2])),
            "screen, plane: its second point lies to the left of its first; the first must be the outline's origin, "
            "the second to the driver's right, the third up the glass; measure three points of the glass in that order",
        ),
        (
            Screen(SCREEN.outline_mm, plane_mm=(PLANE[0], PLANE[1], (0.0, -300.0, -300.0))),
            "screen, plane: its third point lies below the line through the first two; the first must be the outline's "
            "origin, the second to the driver's right, the third up the glass; measure three points of the glass in "
            "that order",
        ),
    ],
)
def test_pivots_that_cannot_be(screen, sentence):
    """None, far away, or a plane that is none."""
    with pytest.raises(JobError) as error:
        pivots(screen, {"near": (0.0, 10.0, -20.0)})
    assert error.value.exit_status == 2
    assert str(error.value) == sentence


def points_of_a_bent_glass(seed, bow_mm):
    """A frame anywhere in space with its first axis to the right and its second up, and points near its plane."""
    random = np.random.default_rng(seed)
    x, up = np.array([1.0, *random.uniform(-0.4, 0.4, 2)]), np.array([*random.uniform(-0.4, 0.4, 2), 1.0])
    x /= np.linalg.norm(x)
    up -= (up @ x) * x
    up /= np.linalg.norm(up)
    flat = np.array([(0, 0), (1100, 0), (30, 420), *random.uniform(0, 1, (6, 2)) * (1200, 450)])
    heights = random.uniform(-bow_mm, bow_mm, len(flat))
    origin = random.uniform(-500, 500, 3)
    return origin + flat[:, :1] * x + flat[:, 1:] * up + heights[:, None] * np.cross(x, up)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("bow_mm", [0.0, 4.0, 40.0])
def test_the_best_plane_is_that_of_the_least_squares(seed, bow_mm):
    """Of many points the plane by singular values: the direction of least spread, through their middle."""
    points = points_of_a_bent_glass(seed, bow_mm)
    plane = plane_through([tuple(map(float, p)) for p in points])
    middle = points.mean(0)
    normal = np.linalg.svd(points - middle)[2][2]
    assert abs(normal @ plane.inwards) == pytest.approx(1.0, abs=1e-12)
    assert plane.misfit_mm == pytest.approx(np.abs((points - middle) @ normal).max(), abs=1e-6)
    assert (np.array(plane.origin_mm) - middle) @ normal == pytest.approx(0.0, abs=1e-6)
    (x, y), off = plane.on_glass_mm(tuple(map(float, points[1])))
    assert (x > 0, y) == (True, pytest.approx(0.0, abs=1e-9))
    assert abs(off) <= plane.misfit_mm + 1e-9


def test_three_points_of_the_glass_lie_on_it():
    """And a fourth off it tilts the plane, by hand: (0,0) (900,0) (0,600) (900,600) in a square, one corner up by 8."""
    corners = [(0.0, 0.0, 0.0), (900.0, 0.0, 0.0), (0.0, 0.0, 600.0)]
    assert plane_through(corners).misfit_mm == 0.0
    assert plane_through([*corners, (900.0, 8.0, 600.0)]).misfit_mm == pytest.approx(2.0, abs=0.001)
