"""Tubes keep off themselves, off each other and off the wheelboxes that they join; the last check looks for itself."""

import math

import pytest
from msgspec.structs import replace

from tests.free_vehicles import SHOP, free_vehicle, with_headings
from tubing.centreline.between import Laid, PortAt, PullIn
from tubing.centreline.develop import develop
from tubing.errors import CheckError, ClearanceError
from tubing.plan import plan
from tubing.run import laying
from tubing.run.crowding import crowded, crowded_error
from tubing.run.records import RunTube

RADIUS_MM, CLEAR_MM = 4.0, 5.0


def tube(points, start="a", end="b"):
    """A tube over corners, bends of 60 mm."""
    line = develop(points, 60.0)
    ports = PortAt(start, points[0], line.directions[0], 0.0), PortAt(end, points[-1], line.directions[-1], 0.0)
    return RunTube(*ports, ("single", "single"), Laid(line, PullIn(0.0, 0.0)))


def loop(over_mm):
    """A tube that crosses its own first leg, so far above it."""
    return tube([(0, 0, 0), (400, 0, 0), (400, 300, over_mm), (150, 300, over_mm), (150, -200, over_mm)])


@pytest.mark.parametrize("over_mm", [0.0, 5.0, 7.9])
def test_a_tube_that_crosses_itself_is_found_and_by_how_much(over_mm):
    """By hand: the legs cross at right angles, the upper one so far above the lower."""
    found = crowded([loop(over_mm)], [], RADIUS_MM, CLEAR_MM)
    assert found.tube == 0
    assert found.thing == "itself"
    assert found.left_mm == pytest.approx(
        over_mm - 8.0, abs=0.3
    )  # where it touches itself, places half a millimetre apart tell no better


@pytest.mark.parametrize("over_mm", [8.1, 20.0, 300.0])
def test_a_tube_that_passes_over_itself_is_clear(over_mm):
    """It may lie against itself, but not cross."""
    assert crowded([loop(over_mm)], [], RADIUS_MM, CLEAR_MM) is None


def test_a_hairpin_does_not_crowd_itself():
    """Legs that lie two radii apart, and a long straight tube, are clear of themselves."""
    hairpin = tube([(0, 0, 0), (500, 0, 0), (500, 120.1, 0), (0, 120.1, 0)])
    assert crowded([hairpin, tube([(0, 0, 500), (900, 0, 500)])][:1], [], RADIUS_MM, CLEAR_MM) is None


def test_the_error_says_what_and_what_to_do():
    """Whole sentences, for a tube that touches and for one that is only too near."""
    found = crowded([loop(5.0)], [], RADIUS_MM, CLEAR_MM)
    assert str(crowded_error("near-far", found)) == (
        "tube near-far: it runs into itself; it must not touch itself; turn the heading at one of its ends, name "
        "corners for it, or move a box"
    )
    assert "comes within 2.0 mm of tube x; its outside must keep 5 mm clear of it" in str(
        crowded_error("y", type(found)(0, "tube x", 2.0, 5.0))
    )


@pytest.mark.long
@pytest.mark.parametrize(("seed", "thing"), [(127, "the wheelbox"), (157, "piece b2-b3"), (165, "the wheelbox")])
def test_the_last_check_finds_what_the_search_was_not_asked(seed, thing, monkeypatch):
    """Three vehicles with headings by chance whose loops come too near, and a search that does not look for it."""
    job = replace(with_headings(free_vehicle(seed, (2, 3, 4)), seed), measuring_error=None)
    monkeypatch.setattr(laying, "crowded", lambda *facts: None)
    with pytest.raises(CheckError, match=f"too near to {thing}"):
        plan(job, SHOP)


@pytest.mark.long
def test_a_run_that_crowds_itself_is_refused():
    """The fitter is told which tube, and that a heading is to be turned."""
    job = replace(with_headings(free_vehicle(165, (2, 3, 4)), 165), measuring_error=None)
    with pytest.raises(ClearanceError, match="turn the heading"):
        plan(job, SHOP)


def test_the_crossing_is_found_wherever_the_vehicle_stands():
    """Turned and moved, the same tube crosses itself by as much."""
    angle = 0.7
    cos, sin = math.cos(angle), math.sin(angle)
    points = [(0, 0, 0), (400, 0, 0), (400, 300, 5), (150, 300, 5), (150, -200, 5)]
    moved = [(cos * x - sin * y + 1000, sin * x + cos * y - 300, z + 77) for x, y, z in points]
    one, other = (crowded([tube(p)], [], RADIUS_MM, CLEAR_MM) for p in (points, moved))
    assert one.left_mm == pytest.approx(other.left_mm, abs=0.02)
