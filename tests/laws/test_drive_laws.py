"""The drive against the plain mechanics it stands for: brute force, numeric integration, rotations in space."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.drive_facts import SPINDLE, angle, arm, box, facts, length, path
from tests.drive_facts import settings as shop
from tubing.drive import BendOnWay, drive, hole, motion, pull, rack
from tubing.drive.park import park
from tubing.errors import UnitError
from tubing.geometry.vectors import Vector, add, cross, dot, norm, scale, unit
from tubing.units import RAD, mm, newton, quantity, rad

QUICK = settings(max_examples=40, deadline=None)


def floats(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


def length_of(number: float):
    return quantity(number, "mm")


def turned(v: Vector, axis: Vector, by: float) -> Vector:
    """The rotation matrix about a unit axis, written out, on its own: the code under test has another form of it."""
    x, y, z = axis
    c, s, t = math.cos(by), math.sin(by), 1 - math.cos(by)
    rows = (
        (t * x * x + c, t * x * y - s * z, t * x * z + s * y),
        (t * x * y + s * z, t * y * y + c, t * y * z - s * x),
        (t * x * z - s * y, t * y * z + s * x, t * z * z + c),
    )
    return (dot(rows[0], v), dot(rows[1], v), dot(rows[2], v))


# Rack


@given(floats(20, 180), floats(8, 40), floats(5, 60), floats(45, 200), floats(0, 30))
@QUICK
def test_the_rack_stays_in_the_gears_and_inside_the_tail_tube(sweep, radius, engagement, margin, clearance):
    """Lay the rack on the run at both dead ends and between: its ends are where they have to be."""
    model = box(pitch_radius=length_of(radius))
    task = facts(
        sweep=quantity(sweep, "deg"),
        motor=replace(facts().motor, fixed_end=length("150")),
        settings=shop(engagement=length_of(engagement), margin=length_of(margin), tip_clearance=length_of(clearance)),
        boxes=(path("near", model=model), path("far", model=model)),
        rod=None,
    )
    d = drive(task)
    last = mm(task.boxes[-1].centreline)
    tube_end = last + 25 + d.tail.length_mm
    for share in (0, 0.3, 1):
        fixed_at = -150 - d.stroke_mm / 2 + share * d.stroke_mm  # from the nose's seat, along the run
        tip = fixed_at + d.rack.length_mm
        assert fixed_at < 0
        assert tip - last >= engagement - 1e-9
        assert tube_end - tip >= clearance - 1e-9
    assert tip == pytest.approx(tube_end - clearance)
    assert d.rack.length_mm <= d.rack.teeth * 2.5 < d.rack.length_mm + 2.5
    cut_tip = fixed_at + d.rack.teeth * 2.5
    assert d.rack.past_tip_mm == pytest.approx(tube_end - cut_tip, abs=1e-6)
    assert d.rack.past_end_face_mm == pytest.approx(cut_tip - d.stroke_mm - last - 45, abs=1e-6)


@given(st.lists(floats(8, 40), min_size=2, max_size=4))
@QUICK
def test_all_gears_take_the_same_rack(radii):
    """Each box's sweep laid off on its own pitch circle is the one stroke."""
    travel = rack.stroke(angle("100"), length_of(radii[0]))
    for radius in radii:
        sweep = rack.sweep_of(travel, length_of(radius))
        assert rad(sweep) * radius == pytest.approx(mm(travel))


# Motion


def slider_by_bisection(crank: float, rod: float, at: float) -> float:
    """Where on the line the rod's far pin lies: the place ahead of the crank pin that is a rod's length away."""
    x, y = crank * math.cos(at), crank * math.sin(at)
    low, high = x, x + rod + crank
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if math.hypot(middle - x, y) < rod else (low, middle)
    return low


@given(floats(5, 60), floats(1.05, 8), floats(0, 360))
@QUICK
def test_slider_is_a_rods_length_from_the_crank_pin(crank, times, at):
    """The formula for the travel against the pin's place found by bisection."""
    rod = crank * times
    out = mm(motion.travel_from_pulled_in(length_of(crank), 1 / times, quantity(at, "deg")))
    assert out == pytest.approx(slider_by_bisection(crank, rod, math.radians(at)) - (rod - crank), abs=1e-6)


@given(floats(5, 60), floats(0, 0.95), floats(0, 360), floats(10, 80))
@QUICK
def test_speed_is_the_slope_of_the_travel(crank, ratio, at, rate):
    """Two places a moment apart, over that moment."""
    tiny_s = 1e-6
    step = rate / 60 * 360 * tiny_s
    before, after = (
        mm(motion.travel_from_pulled_in(length_of(crank), ratio, quantity(at + side * step / 2, "deg")))
        for side in (-1, 1)
    )
    speed = motion.rack_speed(length_of(crank), ratio, quantity(at, "deg"), quantity(rate, "cycle/min"))
    assert float(speed.to("mm/s").magnitude) == pytest.approx((after - before) / tiny_s, abs=1e-3, rel=1e-5)


@given(floats(5, 60), floats(1.02, 10))
@QUICK
def test_no_point_of_the_turn_is_faster_than_the_fastest(crank, times):
    """Against the speed at every degree of the crank, in plain floats."""
    moving = motion.motion(length_of(crank), length_of(crank * times), length("20"), quantity(60, "cycle/min"))
    fastest = moving.fastest.rack_mm_per_s

    def out(at: float) -> float:
        return slider_by_bisection(crank, crank * times, math.radians(at))

    sampled = [(out(at + 0.5) - out(at - 0.5)) * 360 for at in range(180, 360)]  # mm in 1/360 s
    assert fastest == pytest.approx(max(sampled), rel=2e-3)
    assert max(sampled) <= fastest * (1 + 1e-9)


# Pull


@given(floats(0, 0.6), floats(0, 12))
@QUICK
def test_capstan_is_what_small_steps_add_up_to(friction, turn):
    """dT = friction T d(turn), integrated by the midpoint rule."""
    steps, tension = 2000, 1.0
    for _ in range(steps):
        middle = tension * (1 + friction * turn / steps / 2)
        tension += friction * middle * turn / steps
    assert pull.pull_ratio(friction, quantity(turn, "rad")) == pytest.approx(tension, rel=1e-4)


@given(floats(0, 0.5), st.lists(floats(0, 1.5), min_size=1, max_size=5))
@QUICK
def test_ratios_of_bends_multiply(friction, turns):
    """One bend of the whole turn costs what its parts cost one after another."""
    one_by_one = math.prod(pull.pull_ratio(friction, quantity(turn, "rad")) for turn in turns)
    assert pull.pull_ratio(friction, quantity(sum(turns), "rad")) == pytest.approx(one_by_one)


@given(floats(10, 25), floats(100, 400), floats(0.1, 1.2), floats(210, 500), floats(10, 30))
@QUICK
def test_own_pull_is_the_torque_of_all_the_blades_bits(load, blade, rubber, reach, radius):
    """A blade in line with its arm: a thousand bits, each dragging at its own radius, over the pitch radius."""
    bits = 1000
    torque = sum(
        load / 1000 * blade / bits * rubber * (reach - blade / 2 + (n + 0.5) * blade / bits) for n in range(bits)
    )
    asked = pull.own_pull(quantity(load, "N/m"), length_of(blade), rubber, length_of(reach), length_of(radius))
    assert newton(asked) == pytest.approx(torque / radius)


def test_a_cranked_blade_asks_for_no_more_than_the_stated_hundredth():
    """A blade of 280 on an arm of 300, cranked by 30 degrees, bit by bit: 1 % more than the formula, as it says."""
    bits, half, crank = 1000, 140.0, math.radians(30)
    places = [(-half + (n + 0.5) * 2 * half / bits) for n in range(bits)]
    mean = sum(math.hypot(300 + u * math.cos(crank), u * math.sin(crank)) for u in places) / bits
    assert 300 < mean < 303


@given(st.lists(floats(0.05, 1.2), min_size=2, max_size=5), st.integers(0, 4))
@QUICK
def test_a_bends_cost_is_what_straightening_it_saves(turns, which):
    """Plan again with that bend gone: the pull falls by the share that was said."""
    which %= len(turns)
    bends = tuple(BendOnWay("nose-near", n + 1, quantity(turn, "rad")) for n, turn in enumerate(turns))

    def task(kept):
        near = tuple(bend for bend in kept if bend.number < len(turns))
        return facts(boxes=(path("near", bends=near), path("far", bends=kept)))

    whole = pull.pull(task(bends))
    without = pull.pull(task(tuple(bend for bend in bends if bend is not bends[which])))
    (cost,) = (cost for cost in whole.bends if cost.bend == bends[which])
    assert whole.dry_n * (1 - cost.share) == pytest.approx(without.dry_n)
    assert whole.wet_n * (1 - cost.share) == pytest.approx(without.wet_n)


def test_more_friction_or_turn_never_pulls_less():
    """The pull grows with both, and the shares always make one."""
    pulls = []
    for friction, extra in itertools.product((0.0, 0.1, 0.3), (0, 40)):
        bend = BendOnWay("near-far", 2, quantity(extra, "deg"))
        far = path("far", bends=(*path("far").bends, bend))
        found = pull.pull(facts(settings=shop(friction=friction), boxes=(path("near"), far)))
        assert sum(b.share for b in found.boxes) == pytest.approx(1)
        pulls.append((friction, extra, found.dry_n))
    assert [p for _, _, p in pulls] == sorted(p for _, _, p in pulls)
    assert pulls[0][2] == pytest.approx(pulls[1][2])  # without friction no bend costs anything


@given(floats(0.1, 2), st.lists(st.tuples(floats(100, 600), floats(0.1, 1.5)), min_size=1, max_size=4))
@QUICK
def test_lost_motion_is_the_difference_of_the_two_ways_through_the_bends(play, bends):
    """Chords along the inside and the outside of each bend, summed: their difference turns the spindle."""
    ways = []
    for side in (-1, 1):
        way = 0.0
        for radius, turn in bends:
            r, steps = radius + side * play / 2, 500
            points = [(r * math.cos(n * turn / steps), r * math.sin(n * turn / steps)) for n in range(steps + 1)]
            way += sum(math.dist(a, b) for a, b in itertools.pairwise(points))
        ways.append(way)
    total = quantity(sum(turn for _, turn in bends), "rad")
    lost = pull.lost_motion(length_of(5.6 + play), length("5.6"), total, length("20"))
    assert rad(lost) == pytest.approx((ways[1] - ways[0]) / 20, rel=1e-5)


# Hole


@given(floats(1, 70), floats(0.5, 12), floats(8, 25), floats(0, 360))
@QUICK
def test_the_slot_is_what_a_leaning_bush_sweeps_through_the_panel(lean, thickness, bush, around):
    """Points of the bush's skin between the panel's faces: their extent along and across the lean, and its middle."""
    theta, phi = math.radians(lean), math.radians(around)
    along = (math.cos(phi), math.sin(phi), 0.0)
    spindle = unit(add(scale(along, math.sin(theta)), (0.0, 0.0, math.cos(theta))))
    side = (-math.sin(phi), math.cos(phi), 0.0)
    third = cross(spindle, side)
    found = []
    for n in range(720):
        skin = add(scale(side, math.cos(n * math.pi / 360)), scale(third, math.sin(n * math.pi / 360)))
        start = scale(skin, bush / 2)
        for face in (0.0, -thickness):  # the axis leaves the outer face at the origin
            found.append(add(start, spindle, (face - start[2]) / spindle[2]))
    on = [dot(p, along) for p in found]
    across = [dot(p, side) for p in found]
    box_there = path(
        "near", spindle=spindle, panel=(0.0, 0.0, 1.0), panel_thickness=length_of(thickness),
        model=box(bush=length_of(bush), stem=length("90")),
    )  # fmt: skip
    made = hole.hole(box_there, angle("45"))
    assert math.degrees(made.lean_rad) == pytest.approx(lean)
    assert made.length_mm == pytest.approx(max(on) - min(on), rel=1e-4)
    assert made.width_mm == pytest.approx(max(across) - min(across), rel=1e-4)
    assert made.offset_toward is not None
    middle = scale(made.offset_toward, made.offset_mm)
    assert dot(middle, along) == pytest.approx((max(on) + min(on)) / 2, abs=1e-3)
    assert abs(dot(middle, side)) < 1e-6


# Park


@given(floats(-60, 60), floats(5, 80), floats(0, 360), st.sampled_from((1, -1)), st.sampled_from(("left", "right")))
@QUICK
def test_park_in_space(yaw, rise, heading_at, side, parks):
    """Push the rack about a spindle that points forward and up, with its arm up the glass, and see where the arm goes.

    The gear's pitch point must follow the rack; that turns the arm; the dead end said to park must be the one that
    carries the arm's tip to the driver's side asked for, turning as said seen from outside.
    """
    y, z = math.cos(math.radians(rise)), math.sin(math.radians(rise))
    spindle = (y * math.sin(math.radians(yaw)), y * math.cos(math.radians(yaw)), z)
    assume(y * math.cos(math.radians(yaw)) > 0.2)  # nearer to straight up, left and right are stated as in doubt
    level = unit(cross((0.0, 0.0, 1.0), spindle))
    heading = turned(level, spindle, math.radians(heading_at))
    pitch = scale(cross(heading, spindle), side * 20.0)  # design: c = ... + s r (d x a)
    up = unit(add((0.0, 0.0, 1.0), spindle, -spindle[2]))
    way = 0.01
    follows = {
        sense: norm(add(turned(pitch, spindle, sense * way), add(pitch, heading, 20.0 * way), -1.0))
        for sense in (1, -1)
    }
    sense = min(follows, key=lambda s: follows[s])  # of a push outwards; +1 right-hand rule: counter-clockwise outside
    assert follows[sense] < 0.01 < follows[-sense]
    to_right = add(turned(up, spindle, sense * way), up, -1.0)[0] > 0

    parked = park(parks, [path("near", spindle=spindle, side=side)])
    out_parks = to_right == (parks == "right")
    assert parked.at == ("out" if out_parks else "in")
    turning = sense if out_parks else -sense
    assert parked.arms[0].turns == ("counter-clockwise" if turning == 1 else "clockwise")
    assert parked.arms[0].parks == parks


def test_crank_hand_brings_the_blade_nearer_the_lower_edge():
    """An arm that stops 30 degrees above the lower edge on the driver's left, in the plane of the glass as he sees it.

    A left-hand crank turns the blade counter-clockwise as he sees it; of both hands that one lies along the edge.
    """
    parked = park("left", [path("near", spindle=SPINDLE)])
    stopped = 150.0  # the arm's direction, from his right, counter-clockwise
    above_edge = {hand: abs(180 - (stopped + (30 if hand == "left" else -30))) for hand in ("left", "right")}
    assert parked.arms[0].crank_hand == min(above_edge, key=lambda hand: above_edge[hand])


# Dimensions


MM, ANGLE, LOAD, RATE = length("3"), angle("30"), quantity(17, "N/m"), quantity(1, "cycle/s")
FORMULAS = [
    (rack.stroke, {"sweep": ANGLE, "pitch_radius": MM}),
    (rack.sweep_of, {"travel": MM, "pitch_radius": MM}),
    (rack.crank_radius, {"travel": MM}),
    (rack.tail_pulled_in, {"engagement": MM, "margin": MM}),
    (rack.tail_by_practice, {"engagement": MM, "travel": MM, "mouth_offset": MM}),
    (rack.tail_pushed_out, {"pulled_in": MM, "travel": MM}),
    (rack.tail_tube_length, {"pushed_out": MM, "groove_offset": MM, "tip_clearance": MM}),
    (rack.rack_length, {"fixed_end": MM, "travel": MM, "centreline": MM, "pulled_in": MM}),
    (rack.teeth_in_mesh, {"before": MM, "beyond": MM, "engagement": MM, "tooth_pitch": MM}),
    (motion.travel_from_pulled_in, {"crank": MM, "crank_per_rod": 0.2, "angle": ANGLE}),
    (motion.rack_speed, {"crank": MM, "crank_per_rod": 0.2, "angle": ANGLE, "rate": RATE}),
    (motion.arm_speed, {"speed": quantity(3, "mm/s"), "pitch_radius": MM}),
    (pull.pull_ratio, {"friction": 0.2, "turn": ANGLE}),
    (pull.own_pull, {"blade_load": LOAD, "blade": MM, "rubber": 0.4, "reach": MM, "pitch_radius": MM}),
    (pull.lost_motion, {"bore": 2 * MM, "rack": MM, "turn": ANGLE, "pitch_radius": MM}),
    (pull.tip_movement, {"angle": ANGLE, "reach": MM}),
    (hole.slot_length, {"bush": MM, "lean": ANGLE, "thickness": MM}),
    (hole.slot_offset, {"lean": ANGLE, "thickness": MM}),
    (hole.through_panel, {"thickness": MM, "lean": ANGLE}),
    (hole.wedge_takes, {"bush": MM, "lean": ANGLE}),
    (hole.nut_takes, {"nut": MM, "washer": MM}),
]


@pytest.mark.parametrize(
    ("formula", "name"), [(f, name) for f, given in FORMULAS for name in given], ids=lambda x: getattr(x, "__name__", x)
)
def test_a_wrong_dimension_cannot_pass(formula, name):
    """Every argument of every formula, one at a time, given as a length times an angle, and as a force."""
    arguments = dict(FORMULAS)[formula]
    formula(**arguments)
    for wrong in (MM * RAD, quantity(3, "N")):
        with pytest.raises(UnitError) as error:
            formula(**arguments | {name: wrong})
        assert error.value.thing == f"{formula.__name__}, {name}"


def test_every_formula_is_in_the_list_above():
    """A public function that takes or gives quantities by formula is checked; so is this list."""
    checked = {
        function
        for module in (rack, motion, pull, hole)
        for function in vars(module).values()
        if hasattr(function, "__wrapped__") and function.__module__ == module.__name__
    }
    assert checked == {formula for formula, _ in FORMULAS}


def test_inches_and_millimetres_give_one_drive():
    """The same parts measured in inches: nothing changes but the last digits."""
    inch = facts(
        bore=quantity(6.4 / 25.4, "in"),
        boxes=(
            path("near", centreline=quantity(400 / 25.4, "in")),
            path("far", centreline=quantity(1000 / 25.4, "in")),
        ),
        arms=(arm("near", length=quantity(300 / 25.4, "in")), arm("far", blade=quantity(250 / 25.4, "in"))),
    )
    metric, imperial = drive(facts()), drive(inch)
    assert imperial.rack.length_mm == pytest.approx(metric.rack.length_mm)
    assert imperial.pull.needed_n == pytest.approx(metric.pull.needed_n)
    assert imperial.boxes[1].lost_motion_rad == pytest.approx(metric.boxes[1].lost_motion_rad)
