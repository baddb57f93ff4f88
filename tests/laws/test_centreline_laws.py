"""Laws of centre lines: what must not change a length, and what must come back."""

import itertools
import math
from random import Random

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from tubing.centreline.between import Bending, PortAt, tube_between
from tubing.centreline.develop import develop, walk
from tubing.errors import GeometryError
from tubing.geometry.two_bends import largest_radius_mm, shortest
from tubing.geometry.two_reaches import Reaches, TwoPorts, corners_mm, fits
from tubing.geometry.vectors import add, angle_rad, cross, distance_mm, dot, norm, scale, sub, turned, unit

coordinate = st.floats(-800, 800, allow_nan=False)
points = st.tuples(coordinate, coordinate, coordinate)
directions = points.filter(lambda p: norm(p) > 50).map(unit)
chains = st.lists(points, min_size=3, max_size=7)
BENDING = Bending(radius_mm=60.0, grip_mm=10.0, fit_up_mm=0.0, fit_up_rad=0.0)


def bendable(chain):
    """Points far enough apart and no leg doubling back, so that a centre line exists."""
    legs = [sub(b, a) for a, b in itertools.pairwise(chain)]
    return min(norm(leg) for leg in legs) > 1 and all(1e-3 < angle_rad(a, b) < 2.9 for a, b in itertools.pairwise(legs))


@given(chains, directions, st.floats(-6, 6), points)
def test_moving_and_turning_changes_no_length(chain, axis, by_rad, shift):
    """Tube is cut by length alone, so where the run lies cannot matter."""
    assume(bendable(chain))
    moved = [add(turned(p, axis, by_rad), shift) for p in chain]
    a, b = develop(chain, 20.0), develop(moved, 20.0)
    assert b.length_mm == pytest.approx(a.length_mm, abs=1e-6)
    assert b.straights_mm == pytest.approx(a.straights_mm, abs=1e-6)
    assert [r.rotation_rad for r in b.bends] == pytest.approx([r.rotation_rad for r in a.bends], abs=1e-6)


@given(chains)
def test_reversing_changes_no_length_and_no_rotation_but_its_order(chain):
    """Seen from the other end a tube has the same bends, and a right-hand twist stays a right-hand twist."""
    assume(bendable(chain))
    there, back = develop(chain, 20.0), develop(chain[::-1], 20.0)
    assert back.length_mm == pytest.approx(there.length_mm, abs=1e-9)
    assert back.straights_mm[::-1] == pytest.approx(there.straights_mm, abs=1e-9)
    rotations = [b.rotation_rad for b in there.bends[1:]]
    assert [abs(b.rotation_rad) for b in back.bends[1:]][::-1] == pytest.approx([abs(r) for r in rotations], abs=1e-6)


@given(chains)
def test_a_mirror_turns_every_rotation_round(chain):
    """The mirror image has the same lengths and the opposite rotations: bending it would spoil a tube."""
    assume(bendable(chain))
    mirrored = [(-x, y, z) for x, y, z in chain]
    a, b = develop(chain, 20.0), develop(mirrored, 20.0)
    assert b.length_mm == pytest.approx(a.length_mm, abs=1e-9)
    for one, other in zip(a.bends, b.bends, strict=True):
        total = one.rotation_rad + other.rotation_rad
        assert min(abs(total), abs(abs(total) - 2 * math.pi)) < 1e-6


@given(chains)
def test_corners_to_schedule_and_back(chain):
    """Walking the schedule from the first port returns the corners."""
    assume(bendable(chain))
    line = develop(chain, 20.0)
    walked = walk(line.points_mm[0], line.directions[0], line.first_turn, line.straights_mm, line.bends)
    for here, there in zip(line.points_mm, walked.points_mm, strict=True):
        assert distance_mm(here, there) < 1e-5


@given(chains, st.floats(0.05, 0.95))
def test_splitting_a_leg_changes_nothing(chain, part):
    """A corner without a change of direction is no corner."""
    assume(bendable(chain))
    between = add(scale(chain[0], 1 - part), chain[1], part)
    whole, split = develop(chain, 20.0), develop([chain[0], between, *chain[1:]], 20.0)
    assert split.length_mm == pytest.approx(whole.length_mm, abs=1e-6)


def ports(gap, leave, arrive, straights):
    """Two ports for the search."""
    return TwoPorts(gap, leave, arrive, *straights)


straights = st.tuples(st.floats(1, 60), st.floats(1, 30), st.floats(1, 60))


@pytest.mark.long
@settings(max_examples=40, deadline=None)
@example((0.0, 161.0, 410.0), unit((0.0, 2.0, -227.0)), unit((112.0, 8.0, 541.0)), (4.0, 1.0, 1.0), 0)
@given(points, directions, directions, straights, st.integers(0, 10**6))
def test_no_tube_of_two_bends_is_shorter_than_the_one_found(gap, leave, arrive, least, seed):
    """Brute force: of many other tubes that fit, none is shorter; and where one fits, one is found."""
    assume(norm(gap) > 50)
    where = ports(gap, leave, arrive, least)
    found = shortest(where, 100.0)
    random = Random(seed)
    tries = [
        Reaches(least[0] + 5 * math.expm1(random.uniform(0, 6)), least[2] + 5 * math.expm1(random.uniform(0, 6)))
        for _ in range(1500)
    ]
    fitting = [r for r in tries if fits(where, r, 100.0)]
    if found is None:
        assert not fitting
        return
    assert fits(where, found, 100.0)
    best = tube_length(where, found)
    assert all(tube_length(where, r) >= best - 1e-6 * (1 + best) for r in fitting)


def tube_length(where, reaches):
    """Length over the corners, bends of 100 mm."""
    first, second = corners_mm(where, reaches)
    return develop([(0.0, 0.0, 0.0), first, second, where.gap_mm], 100.0).length_mm


@pytest.mark.long
@settings(max_examples=15, deadline=None)
@example(10.0, 1e-12, 0.0, unit((0.0, 28.0, 42.0)), (1.0, 1.0, 9.0))
@given(st.floats(-300, 300), st.floats(-300, 300), st.floats(0, 0.3), directions, straights)
def test_the_largest_radius_is_where_tubes_stop_fitting(ahead, aside, apart_rad, leave, least):
    """Between nearly parallel headings that are not far apart: just below it a tube is found, just above it none."""
    across = unit(cross(leave, (0.123, 0.456, 0.789)))
    gap = add(scale(leave, ahead), across, aside)
    assume(norm(gap) > 10)
    where = ports(gap, leave, turned(leave, across, apart_rad), least)
    assume(shortest(where, 300.0) is None)
    largest = largest_radius_mm(where, 300.0)
    assert largest < 300.0
    assert shortest(where, largest * 1.01 + 0.01) is None
    if largest > 1:
        assert shortest(where, largest * 0.999) is not None


@pytest.mark.long
@settings(max_examples=30, deadline=None)
@given(points, directions, directions, directions, st.floats(-3, 3), points)
def test_a_tube_between_ports_keeps_its_length_wherever_the_vehicle_stands(gap, leave, arrive, axis, by_rad, shift):
    """Moving, turning, reversing and mirroring a pair of ports changes no length."""
    assume(norm(gap) > 150)
    start, end = PortAt("a", (0.0, 0.0, 0.0), leave, 30.0), PortAt("b", gap, arrive, 20.0)

    def length(one, other):
        try:
            return tube_between(one, other, BENDING).line.length_mm
        except GeometryError:
            return None

    here = length(start, end)

    def moved(port):
        return PortAt(
            port.name, add(turned(port.datum_mm, axis, by_rad), shift), turned(port.heading, axis, by_rad), port.hold_mm
        )

    def mirrored(port):
        flip = lambda v: (-v[0], v[1], v[2])  # noqa: E731
        return PortAt(port.name, flip(port.datum_mm), flip(port.heading), port.hold_mm)

    def backward(port):
        return PortAt(port.name, port.datum_mm, scale(port.heading, -1.0), port.hold_mm)

    for there in (
        length(moved(start), moved(end)),
        length(mirrored(start), mirrored(end)),
        length(backward(end), backward(start)),
    ):
        assert (here is None) == (there is None)
        if here is not None:
            assert there == pytest.approx(here, abs=1e-3)


@given(
    st.floats(150, 600), st.floats(150, 600), st.floats(0.2, 1.4), st.floats(0, 2.9), st.floats(0, 6.28), st.booleans()
)
def test_a_tube_of_one_bend_is_off_by_no_more_than_its_pull_in(first_mm, second_mm, turn_rad, gap_mm, about_rad, back):
    """Bent by its schedule and seated at one port, it misses the other by at most how far the ports' lines are apart.

    Each leg may leave its port's line by the angle stated, so the headings may differ by twice that.
    """
    u = (1.0, 0.0, 0.0)
    v = turned((math.cos(turn_rad), math.sin(turn_rad), 0.0), u, about_rad)
    apart = scale(unit(cross(u, v)), gap_mm)
    begin = PortAt("a", scale(u, -first_mm), u, 10.0)
    finish = PortAt("b", add(scale(v, second_mm), apart), v, 10.0)
    if back:
        begin, finish = (
            PortAt("a", finish.datum_mm, scale(v, -1.0), 10.0),
            PortAt("b", begin.datum_mm, scale(u, -1.0), 10.0),
        )
    laid = tube_between(begin, finish, Bending(60.0, 10.0, 3.0, math.radians(2)))
    assert len(laid.line.bends) == 1
    assert laid.pull_in.distance_mm == pytest.approx(gap_mm, abs=1e-9)
    inside = unit(sub(laid.line.first_turn, scale(begin.heading, dot(laid.line.first_turn, begin.heading))))
    walked = walk(begin.datum_mm, begin.heading, inside, laid.line.straights_mm, laid.line.bends)
    assert distance_mm(walked.points_mm[-1], finish.datum_mm) <= gap_mm + 1e-6
    assert angle_rad(walked.directions[-1], finish.heading) <= 2 * laid.pull_in.angle_rad + 1e-9
