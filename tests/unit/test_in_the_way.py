"""What is in the way: tubes keep clear of it, or the error names it; distances measured again by plain sampling."""

import math
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace
from scipy.spatial.transform import Rotation

from tubing.centreline.develop import point_at
from tubing.check import check_clear
from tubing.errors import CheckError, ClearanceError, GeometryError
from tubing.geometry.vectors import add, angle_rad, unit
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Box, Cylinder, Obstacle, Sphere, Tail, TubeBetween
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.run.detour import Detour
from tubing.run.port_graph import EACH_LED, EACH_SHIFTED
from tubing.units import mm, quantity

SHOP = read_shop(None)


def job():
    """The demo with a heater in the straight way."""
    return read_job(Path(data_folder()) / "jobs" / "behind-the-heater.toml", SHOP)


def thing(shape):
    """Something in the way, with 5 mm of clearance."""
    return Obstacle("thing", shape, quantity(5, "mm"))


def away_mm(point, shape):
    """Distance of a point from an upright box, a cylinder along y, or a sphere, by the textbook."""
    if isinstance(shape, Sphere):
        return math.dist(point, shape.centre_mm) - shape.radius_mm
    if isinstance(shape, Cylinder):
        (x, y, z), (a, b, c) = point, shape.start_mm
        beyond = max(b - y, y - shape.end_mm[1], 0.0)
        aside = math.hypot(x - a, z - c) - shape.radius_mm
        return math.hypot(max(aside, 0.0), beyond) if max(aside, beyond) > 0 else aside
    outside = [abs(p - c) - s / 2 for p, c, s in zip(point, shape.centre_mm, shape.size_mm, strict=True)]
    return math.hypot(*(max(o, 0.0) for o in outside)) if max(outside) > 0 else max(outside)


def test_the_room_left_is_told_of_each_thing():
    """Straight tubes 4 mm in radius along y = z = const: the distances to a sphere, a box and a cylinder by hand.

    A sphere of 30 mm, 60 mm above near-far's middle: 60 - 30 - 4 = 26. A box whose face is 25 mm before it: 25 - 4 =
    21. A cylinder of 10 mm along y, its axis 50 mm below: 50 - 10 - 4 = 36.
    """
    twin = read_job(Path(data_folder()) / "jobs" / "lined-up-twin.toml", SHOP)
    line = next(p for p in plan(twin, SHOP).pieces if p.id == "near-far").tube.shape.line
    x, y, z = point_at(line, line.length_mm / 2)
    shapes = (
        Sphere((x, y, z + 60), 30.0),
        Box((x, y + 45, z), (60.0, 40.0, 60.0), (0.0, 0.0, 0.0)),
        Cylinder((x, y - 80, z - 50), (x, y + 80, z - 50), 10.0),
    )
    crowded = replace(twin, in_the_way=tuple(map(thing, shapes)))
    found = plan(crowded, SHOP).clearances
    assert [(each.kind, each.asked_mm, each.piece) for each in found] == [
        ("sphere", 5.0, "near-far"),
        ("box", 5.0, "near-far"),
        ("cylinder", 5.0, "near-far"),
    ]
    assert [each.left_mm for each in found] == pytest.approx([26, 21, 36], abs=0.01)


def test_of_a_measured_tube_no_room_is_told():
    """Its way is not known; the other tubes' room is told all the same."""
    planned = plan(job(), SHOP)
    named = {each.name: each for each in planned.clearances}
    assert named["heater"].piece == "near-far"
    wire = TubeBetween("near", "far", measured=quantity(planned.pieces[1].tube.length_mm - 40, "mm"), bends=())
    laid_by_wire = plan(replace(job(), between=(wire,)), SHOP)
    assert {each.piece for each in laid_by_wire.clearances} <= {"nose-near", "far-end"}


def test_every_tube_keeps_its_clearance():
    """§10 In the way: points every millimetre along each tube keep its radius and the clearance from everything."""
    planned = plan(job(), SHOP)
    needed = mm(planned.job.tube.diameter) / 2 + mm(SHOP.bench.clearance)
    assert sum(len(p.bends) for p in planned.pieces) > 0
    for piece in planned.pieces:
        line = piece.tube.shape.line
        for k in range(int(line.length_mm)):
            point = point_at(line, float(k))
            assert all(away_mm(point, o.shape) >= needed - 0.02 for o in planned.job.in_the_way)


def test_the_direct_tube_is_kept_where_it_is_free():
    """Without the heater the way from near to far is straight."""
    free = replace(job(), in_the_way=tuple(o for o in job().in_the_way if o.name != "heater"))
    assert [len(p.bends) for p in plan(free, SHOP).pieces] == [0, 0, 0]


def test_an_obstacle_far_away_changes_nothing():
    """An unrelated thing, metres off, changes no blank."""
    far = Obstacle("crate", Box((5000.0, 5000.0, 0.0), (100.0, 100.0, 100.0)), quantity(5, "mm"))
    with_it = replace(job(), in_the_way=(*job().in_the_way, far))
    assert [p.blank_mm for p in plan(with_it, SHOP).pieces] == [p.blank_mm for p in plan(job(), SHOP).pieces]


def test_a_swallowed_nose_is_named():
    """A thing measured over the nose: the error says which port and which thing, before any way is sought."""
    ball = Obstacle("battery", Sphere(job().nose.position_mm, 60.0), quantity(5, "mm"))
    with pytest.raises(ClearanceError) as error:
        plan(replace(job(), in_the_way=(ball,)), SHOP)
    assert str(error.value) == (
        "nose: it lies in 'battery' or too near to it: 69.0 mm of clearance are missing; the tube's outside must keep "
        "5 mm clear of it; measure both again, or move what is in the way"
    )


def test_a_port_that_points_into_a_wall_is_named():
    """A wall across the way, close ahead of the nose."""
    ahead = add(job().nose.position_mm, (30.0, 0.0, 0.0))
    wall = Obstacle("wall", Box(ahead, (10.0, 400.0, 400.0)), quantity(5, "mm"))
    with pytest.raises(ClearanceError) as error:
        plan(replace(job(), in_the_way=(wall,)), SHOP)
    assert str(error.value) == (
        "nose: the 39 mm of tube that must be straight there run into 'wall': 14.0 mm of clearance are missing; the "
        "tube's outside must keep 5 mm clear of it; turn its heading, measure both again, or move what is in the way"
    )


@pytest.mark.parametrize(
    ("which", "called"),
    [
        ((0, 1), "wheelbox 'near', groove in"),
        ((1, 0), "wheelbox 'near', groove out"),
        ((2, 0), "wheelbox 'far', groove out"),
    ],
)
def test_a_swallowed_groove_is_named(which, called):
    """A ball of 30 mm about a groove: 30 mm, the tube's 4 and the clearance's 5 are missing there."""
    piece, end = which
    tube = plan(job(), SHOP).pieces[piece].tube
    ball = thing(Sphere((tube.start, tube.end)[end].datum_mm, 30.0))
    with pytest.raises(ClearanceError) as error:
        plan(replace(job(), in_the_way=(ball,)), SHOP)
    assert str(error.value) == (
        f"{called}: it lies in 'thing' or too near to it: 39.0 mm of clearance are missing; the tube's outside must "
        "keep 5 mm clear of it; measure both again, or move what is in the way"
    )


WALL = Box((200.0, 0.0, 0.0), (20.0, 60000.0, 60000.0))


def test_no_way_names_what_stands_in_it():
    """A wall right across between two boxes: the error names the tube, the thing and the clearance that is missing."""
    with pytest.raises(ClearanceError) as error:
        plan(replace(job(), in_the_way=(thing(WALL),)), SHOP)
    assert str(error.value) == (
        "tube near-far: 'thing' is in its way, and the best way found round it (14,400 corners were tried) lacks "
        "19.0 mm of clearance; the tube's outside must keep 5 mm clear of it; name corners for this tube, turn a "
        "heading, move a box, or move what is in the way"
    )
    # A tube right across must lack 10 + 4 + 5 mm at the wall's middle.
    assert error.value.missing_mm == pytest.approx(19.0, abs=0.05)
    assert error.value.exit_status == 3


@pytest.mark.long
def test_a_wall_between_boxes_whose_headings_are_free_is_named():
    """With all headings and sides to choose from, and with the order too, the error still is the wall's."""
    free = read_job(Path(data_folder()) / "jobs" / "curved-scuttle.toml", SHOP)
    for order in ("written", "free"):
        with pytest.raises(ClearanceError) as error:
            plan(replace(free, in_the_way=(thing(WALL),), order=order), SHOP)
        assert str(error.value).startswith("tube middle-far: 'thing' is in its way, and the best way found round it ")


def corners(*points):
    """The demo with corners named between its boxes, counted from the groove out of the first."""
    planned = plan(job(), SHOP)
    groove = planned.pieces[1].tube.start.datum_mm
    named = tuple(add(groove, point) for point in points)
    return replace(job(), between=(TubeBetween("near", "far", corners_mm=named),))


@pytest.mark.parametrize(
    ("points", "sentence"),
    [
        (
            [(0.0, 0.0, 0.0)],
            "tube near-far: corner 1 lies on near; each leg must lead on to a new point; measure the corner again, or "
            "leave it out",
        ),
        (
            [(950.0, 0.0, 0.0)],
            "tube near-far: corner 1 lies on far; each leg must lead on to a new point; measure the corner again, or "
            "leave it out",
        ),
        (
            [(400.0, 0.0, 0.0), (400.0, 0.0, 0.0)],
            "tube near-far: corner 2 lies on corner 1; each leg must lead on to a new point; measure the corner "
            "again, or leave it out",
        ),
        (
            [(300.0, 0.0, 0.0), (100.0, 0.0, 0.0)],
            "tube near-far: corner 1 sends it straight back: its leg from there to corner 2 runs back along the one "
            "before; one bend turns it by less than 179 degrees; move corner 1, or put a corner more between",
        ),
        (
            [(300.0, 0.0, 0.0), (330.0, 60.0, 0.0), (400.0, 0.0, 0.0)],
            # Bends of 63.4 and 104.0 degrees: 236.9 mm (tan 31.7 + tan 52.0) of a leg of 67.1 mm.
            "tube near-far, leg from corner 1 to corner 2: it is 67.1 mm long, of which the bends take 449.8 mm and "
            "leave -382.7 mm; 10.0 mm of it must stay straight; move the corners apart; the largest radius that would "
            "fit is 30 mm",
        ),
        (
            # Lead: 275 ahead, 200 - 236.9 aside, so 144.4 on the tangent, 51.0 degrees; then 129.0 at corner 1.
            [(300.0, 200.0, 0.0), (100.0, 200.0, 0.0)],
            "tube near-far, leg from the lead bend to corner 1: it is 257.4 mm long, of which the bends take 609.8 "
            "mm and leave -352.4 mm; 10.0 mm of it must stay straight; move the corners apart, or bend less sharply",
        ),
        (
            [(475.0, 10.0, 0.0)],
            "tube near-far: 'heater' is in its way, and its leg from the lead bend to corner 1 lacks 14.6 mm of "
            "clearance; the tube's outside must keep 5 mm clear of it; move a corner, or move what is in the way",
        ),
    ],
)
def test_corners_that_contradict_are_told_by_their_numbers(points, sentence):
    """A corner on a port or on another, one that sends the tube back, two too near, one whose leg runs into a thing."""
    with pytest.raises(GeometryError) as error:
        plan(corners(*points), SHOP)
    assert str(error.value) == sentence


def tail_end():
    """Where the demo's tail tube ends, straight on along x."""
    return plan(job(), SHOP).pieces[-1].tube.end.datum_mm


@pytest.mark.long
@pytest.mark.parametrize(
    "shape",
    [
        lambda end: Sphere(add(end, (-10.0, 12.0, 0.0)), 10.0),
        lambda end: Cylinder(add(end, (5.0, -300.0, -17.0)), add(end, (5.0, 300.0, -17.0)), 10.0),
        lambda end: Box(add(end, (0.0, 0.0, 22.0)), (40.0, 40.0, 30.0)),
    ],
)
def test_a_tail_tube_is_led_round_at_its_full_length(shape):
    """Beside its straight way the tail bends off, keeps clear by plain sampling, and is as long as the rack asks."""
    straight = plan(job(), SHOP).pieces[-1].tube.shape.line
    blocking = shape(tail_end())
    planned = plan(replace(job(), in_the_way=(*job().in_the_way, thing(blocking))), SHOP)
    line = planned.pieces[-1].tube.shape.line
    assert 1 <= len(line.bends) <= 2
    assert line.length_mm == pytest.approx(straight.length_mm, abs=1e-6)
    assert line.straights_mm[0] >= 25.0 - 1e-9
    assert min(line.straights_mm[1:]) >= 10.0 - 1e-9
    nearest = min(away_mm(point_at(line, line.length_mm * k / 1000), blocking) for k in range(1001))
    assert nearest >= 9.0 - 0.02
    assert nearest < 9.5  # no more turn than is needed
    assert angle_rad(line.directions[0], straight.directions[0]) < 1e-9


def test_a_tail_tube_that_cannot_be_led_round_says_what_to_give():
    """A ball on its end: 30 + 4 + 5 mm are missing; a tail of 101 mm cannot get so far aside at 230 mm radius."""
    ball = thing(Sphere(tail_end(), 30.0))
    with pytest.raises(ClearanceError) as error:
        plan(replace(job(), in_the_way=(ball,)), SHOP)
    assert str(error.value) == (
        "tail tube: 'thing' is in its way, and the tail tube straight on lacks 39.0 mm of clearance; the tube's "
        "outside must keep 5 mm clear of it; give [tail] corners or toward, turn the box's heading, or move "
        "what is in the way"
    )


def test_a_tail_tube_with_a_direction_keeps_it():
    """A longer first straight, or a second bend, leads it clear; it ends in the direction that the fitter gave."""
    toward = unit((1.0, 0.0, 0.2))
    longer = replace(SHOP, drive=replace(SHOP.drive, margin=quantity(120, "mm")))
    turned = plan(replace(job(), tail=Tail(toward=toward)), longer).pieces[-1].tube.shape.line
    ball = Sphere(add(point_at(turned, 90.0), (0.0, 3.0, 12.0)), 6.0)
    planned = plan(replace(job(), tail=Tail(toward=toward), in_the_way=(thing(ball),)), longer)
    line = planned.pieces[-1].tube.shape.line
    assert angle_rad(line.directions[-1], toward) < 1e-7
    assert line.length_mm == pytest.approx(turned.length_mm, abs=1e-6)
    assert min(away_mm(point_at(line, float(k) / 4), ball) for k in range(int(4 * line.length_mm))) >= 9.0 - 0.02
    assert min(away_mm(point_at(turned, float(k) / 4), ball) for k in range(int(4 * turned.length_mm))) < 9.0


def test_no_bend_is_smaller_than_a_fitter_can_set():
    """Lines that miss each other by a little more than fit-up, near things in the way: no bend under one degree."""
    planned = plan(job(), SHOP)
    groove = planned.pieces[1].tube.start.datum_mm
    balls = [Sphere(add(groove, (x, y, 3.0)), 14.0) for x, y in ((200.0, 14.0), (420.0, -13.0), (700.0, 15.0))]
    far = replace(job().mountings["far"], hole_mm=add(job().mountings["far"].hole_mm, (0.0, 4.0, 3.0)))
    skew = replace(job(), mountings={**job().mountings, "far": far})
    for things in ([], balls[:1], balls[:2], balls):
        pieces = plan(replace(skew, in_the_way=tuple(map(thing, things))), SHOP).pieces
        angles = [math.degrees(bend.angle_rad) for piece in pieces for bend in piece.bends]
        assert angles
        assert min(angles) >= 1.0 - 1e-9


SHAPES = (
    Box((0.0, 0.0, 0.0), (60.0, 90.0, 40.0), (0.4, -0.7, 1.1)),
    Cylinder((-40.0, 10.0, -20.0), (30.0, -25.0, 35.0), 25.0),
    Sphere((0.0, 0.0, 0.0), 35.0),
)


def inside_mm(points, shape):
    """The least distance of points from a shape, by the textbook: to the nearest point of it; 0 inside."""
    points = np.array(points)
    if isinstance(shape, Sphere):
        return float(np.linalg.norm(points - np.array(shape.centre_mm), axis=1).min()) - shape.radius_mm
    if isinstance(shape, Cylinder):
        along = np.array(shape.end_mm) - np.array(shape.start_mm)
        length = np.linalg.norm(along)
        way = points - np.array(shape.start_mm)
        up = way @ along / length
        aside = np.linalg.norm(way - up[:, None] * along / length, axis=1)
        return float(np.hypot(up - np.clip(up, 0, length), aside - np.minimum(aside, shape.radius_mm)).min())
    local = Rotation.from_euler("xyz", shape.turned_rad).inv().apply(points - np.array(shape.centre_mm))
    half = np.array(shape.size_mm) / 2
    return float(np.linalg.norm(local - np.clip(local, -half, half), axis=1).min())


@pytest.mark.parametrize("shape", SHAPES, ids=["box", "cylinder", "sphere"])
def test_the_last_check_finds_what_the_search_would_have_missed(shape):
    """A thing put beside a finished tube: the check refuses it just where plain sampling finds it too near."""
    planned = plan(job(), SHOP)
    line = planned.pieces[1].tube.shape.line
    points = [point_at(line, line.length_mm * k / 2000) for k in range(2001)]
    seen = set()
    for k in range(14):
        moved = carried(shape, add(point_at(line, 300.0), (0.0, -80.0 + 5.0 * k, -50.0 + 3.0 * k)))
        left_mm = inside_mm(points, moved) - 9.0
        if abs(left_mm) < 0.05:
            continue
        seen.add(left_mm > 0)
        only = replace(planned.job, in_the_way=(thing(moved),))
        if left_mm > 0:
            check_clear(planned.run, planned.pieces, only, SHOP)
            continue
        with pytest.raises(CheckError) as error:
            check_clear(planned.run, planned.pieces, only, SHOP)
        said = re.fullmatch(
            r"piece near-far: bent by its schedule it comes within (-?[0-9.]+) mm of 'thing'; it must keep 5 mm clear "
            r"of it; the plan's own check failed: please report this job; do not cut by it",
            str(error.value),
        )
        assert said is not None
        if left_mm > -8.9:
            assert float(said[1]) == pytest.approx(5.0 + left_mm, abs=0.02)
    assert seen == {True, False}


def carried(shape, centre):
    """A shape about the origin moved to a place."""
    if isinstance(shape, Cylinder):
        return replace(shape, start_mm=add(shape.start_mm, centre), end_mm=add(shape.end_mm, centre))
    return replace(shape, centre_mm=centre)


def test_the_last_check_finds_a_tube_in_a_wheelboxs_body():
    """A body grown until it reaches the next tube but one."""
    free = read_job(Path(data_folder()) / "jobs" / "curved-scuttle.toml", SHOP)
    planned = plan(free, SHOP)
    near = next(box for box in planned.run.boxes if box.name == "near")
    model = replace(near.mounting.model, body=tuple(quantity(side, "mm") for side in (1400, 600, 400)))
    huge = replace(near, mounting=replace(near.mounting, model=model))
    grown = tuple(huge if box is near else box for box in planned.run.boxes)
    check_clear(planned.run, planned.pieces, planned.job, SHOP)
    with pytest.raises(CheckError) as error:
        check_clear(replace(planned.run, boxes=grown), planned.pieces, planned.job, SHOP)
    assert str(error.value).startswith("piece middle-far: bent by its schedule it comes within -")
    assert "of the body of wheelbox 'near'; it must keep 5 mm clear of it" in str(error.value)


def test_the_last_check_walks_a_tube_as_it_lies_pulled_in():
    """2.5 mm out of line, pulled in: it clears a ball by a hair, and along its box's own heading it would not."""
    free = replace(job(), in_the_way=())
    far = replace(job().mountings["far"], hole_mm=add(job().mountings["far"].hole_mm, (0.0, 2.5, 0.0)))
    skew = replace(free, mountings={**free.mountings, "far": far})
    tube = plan(skew, SHOP).pieces[1].tube
    assert tube.shape.pull_in.distance_mm == pytest.approx(2.5, abs=0.01)
    place = point_at(tube.shape.line, 850.0)
    ball = Sphere(add(place, (0.0, -(20.0 + 9.05), 0.0)), 20.0)
    assert plan(replace(skew, in_the_way=(thing(ball),)), SHOP).pieces[1].tube == tube
    walked_off = add(tube.start.datum_mm, tube.start.heading, 850.0)
    assert math.dist(walked_off, ball.centre_mm) < 20.0 + 9.0 - 1.0


def test_what_a_search_may_spend_on_ways_round_is_counted(monkeypatch):
    """A wall between boxes, everything free: of each two ports twenty short searches and two long ones at most."""
    calls = Counter()

    def counted(name, search):
        def call(self):
            calls[name, self.start.name, self.end.name] += 1
            return search(self)

        return call

    for name in ("of_two_bends", "over_corners"):
        monkeypatch.setattr(Detour, name, counted(name, getattr(Detour, name)))
    free = read_job(Path(data_folder()) / "jobs" / "curved-scuttle.toml", SHOP)
    with pytest.raises(ClearanceError):
        plan(replace(free, in_the_way=(thing(WALL),), order="free"), SHOP)
    assert max(count for (name, _, _), count in calls.items() if name == "of_two_bends") <= EACH_SHIFTED == 20
    assert max(count for (name, _, _), count in calls.items() if name == "over_corners") <= EACH_LED == 2
