"""Placing wheelboxes and choosing headings, sides and order, against the geometry done again by other means."""

import itertools
import math
from pathlib import Path

import pytest
from msgspec.structs import replace

from tubing.errors import GeometryError, JobError
from tubing.geometry.vectors import add, angle_rad, cross, dot, norm, off_line_mm, sub, turned, unit
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.run import routing
from tubing.run.headings import candidates
from tubing.run.laying import Layer
from tubing.run.placing import Aim, heading_past, sides_to_try, with_heading
from tubing.run.routing import route
from tubing.units import mm, quantity

SHOP = read_shop(None)


def demo(name):
    """A demo job."""
    return read_job(Path(data_folder()) / "jobs" / f"{name}.toml", SHOP)


def near(job):
    """Any wheelbox of a job."""
    return next(iter(job.mountings.values()))


def route_of(job, layout=None):
    """The run with a tail of 120 mm."""
    return route(job, SHOP, layout or job.layout, lambda first, last: 120.0)


@pytest.mark.parametrize("side", [1, -1])
def test_pitch_point_by_the_tape(side):
    """From the hole down the spindle by the depth, then across by the pitch radius; grooves along the rack."""
    mounting = replace(near(demo("lined-up-twin")), spindle=(0.0, 0.6, 0.8), panel=(0.0, 0.0, 1.0))
    box = with_heading(mounting, (1.0, 0.0, 0.0), side)
    depth_mm = mm(mounting.model.rack_depth) + mm(mounting.spacer) + mm(mounting.panel_thickness) / 0.8
    foot = sub(mounting.hole_mm, (0.0, 0.6 * depth_mm, 0.8 * depth_mm))
    assert math.degrees(mounting.lean_rad) == pytest.approx(36.8699, abs=1e-4)
    assert norm(sub(box.pitch_point_mm, foot)) == pytest.approx(mm(mounting.model.pitch_radius))
    # Facing the panel along minus the spindle, heading right across the picture: the right of the way is below it.
    assert dot(sub(box.pitch_point_mm, foot), cross((1.0, 0.0, 0.0), mounting.spindle)) * side > 0
    assert sub(box.groove_out_mm, box.groove_in_mm)[0] == pytest.approx(2 * mm(mounting.model.groove_offset))


def test_pushing_the_rack_out_turns_the_spindle_counter_clockwise_on_the_right_side():
    """§5 Side: with s = +1 the rack's travel at the pitch point is that of a counter-clockwise turn from outside."""
    mounting = near(demo("lined-up-twin"))
    box = with_heading(mounting, (1.0, 0.0, 0.0), 1)
    arm = sub(box.pitch_point_mm, mounting.seat.rack_centre_mm)
    pushed = sub(turned(arm, mounting.spindle, 1e-6), arm)  # the right hand's thumb points out: counter-clockwise
    assert angle_rad(pushed, box.heading) < 1e-3


def test_a_heading_within_five_degrees_of_perpendicular_is_projected():
    """4.9 degrees off is made perpendicular and said; 5.1 degrees is refused."""
    mounting = near(demo("lined-up-twin"))
    axis = unit(cross(mounting.spindle, (1.0, 0.0, 0.0)))
    box = with_heading(mounting, turned((1.0, 0.0, 0.0), axis, math.radians(4.9)), 1)
    assert dot(box.heading, mounting.spindle) == pytest.approx(0.0, abs=1e-12)
    assert math.degrees(box.off_rad) == pytest.approx(4.9)
    with pytest.raises(JobError) as error:
        with_heading(mounting, turned((1.0, 0.0, 0.0), axis, math.radians(5.1)), 1)
    assert str(error.value) == (
        f"wheelbox {mounting.name!r}, heading: it is 5.1 degrees from perpendicular to the spindle; the rack passes a "
        "wheelbox at a right angle to its spindle, within 5 degrees; measure the heading or the spindle again"
    )


def test_sides_follow_the_motion():
    """§5 Side: one side in tandem, in turn in opposed motion; what the job gives is kept."""
    a, b = list(demo("curved-scuttle").mountings.values())[:2]
    assert sides_to_try([a, b], "tandem") == [(1, 1), (-1, -1)]
    assert sides_to_try([a, b], "opposed") == [(1, -1), (-1, 1)]
    assert sides_to_try([replace(a, side=-1), b], "opposed") == [(-1, 1)]
    with pytest.raises(JobError) as error:
        sides_to_try([replace(a, name="near", side=1), replace(b, name="far", side=-1)], "tandem")
    assert str(error.value) == (
        "side: the job says near right, far left; in tandem motion all boxes have the rack on one side; change a side, "
        "or drive.motion, or leave sides out"
    )


@pytest.mark.parametrize(("side", "ahead"), list(itertools.product((1, -1), (True, False))))
def test_a_heading_past_a_point_passes_it(side, ahead):
    """The rack line of the heading goes through the point, which lies ahead of the box or behind it."""
    mounting = replace(near(demo("curved-scuttle")), heading=None)
    point = add(mounting.seat.rack_centre_mm, cross(mounting.spindle, (0.3, 0.5, -0.8)), 300.0)
    box = with_heading(mounting, heading_past(mounting, side, Aim(point), ahead), side)
    assert off_line_mm(point, box.pitch_point_mm, box.heading) < 1e-9
    assert (dot(sub(point, box.pitch_point_mm), box.heading) > 0) == ahead


def test_parallel_spindles_in_one_plane_need_no_bend_between_boxes():
    """The tangent to both pitch circles is a candidate, so tubes between level boxes come out straight and true."""
    run = route_of(demo("works-truck"), "twin")
    assert [len(tube.bend_angles_rad) for tube in run.tubes[1:]] == [0, 0]
    assert run.tubes[1].cost.turn_rad == pytest.approx(0.0, abs=1e-6)


def two_cheapest(job, layout):
    """The two least costs of all runs: every tube of every pair of candidates laid out, and the best two ways kept."""
    layer = Layer(job, SHOP, job.layouts[layout], lambda first, last: 120.0)
    order = [job.mountings[n] for n in job.layouts[layout]]
    found = []
    for sides in sides_to_try(order, job.motion):
        boxes = candidates(layer.nose(order[0].name), order, sides)
        reached = [(None, [(0, 0.0, 0.0)])]
        for here in boxes:
            reached = [
                (box, sorted(plus(c, layer.tube(before, box)) for before, costs in reached for c in costs)[:2])
                for box in here
            ]
        found += [plus(c, layer.tail(boxes[0][0], box)) for box, costs in reached for c in costs]
    return sorted(found)[:2]


def plus(cost, tube):
    """A cost with one more tube; too much where it cannot be laid."""
    if isinstance(tube, GeometryError):
        return (99, 0.0, 0.0)
    return (cost[0] + tube.cost.bends, cost[1] + tube.cost.turn_rad, cost[2] + tube.cost.length_mm)


@pytest.mark.long
@pytest.mark.parametrize(("name", "layout"), [("curved-scuttle", "twin"), ("works-truck", "twin")])
def test_brute_force_over_all_candidates_agrees_on_the_best_and_the_next_best(name, layout, monkeypatch):
    """Every choice of sides and headings laid out in full is what the graph finds; refined, it is no dearer."""
    refined = route_of(demo(name), layout)
    monkeypatch.setattr(routing, "polished", lambda runs, layer: list(runs))
    monkeypatch.setattr(routing, "GRIDS", 0)
    run = route_of(demo(name), layout)
    assert refined.cost.weight <= run.cost.weight
    for cost, (bends, turn_rad, length_mm) in zip(
        (run.cost, run.next_best), two_cheapest(demo(name), layout), strict=True
    ):
        assert cost.bends == bends
        assert cost.turn_rad == pytest.approx(turn_rad, abs=1e-6)
        assert cost.length_mm == pytest.approx(length_mm, abs=0.01)
    assert run.cost.bends == sum(len(tube.bend_angles_rad) for tube in run.tubes)


@pytest.mark.long
def test_a_free_order_is_the_cheapest_of_all_orders_written_out():
    """§7, §9: it costs what the cheapest of six orders costs, of those that do without bends over 90 degrees."""
    job = three_boxes()
    free = route_of(replace(job, order="free"))
    written = {}
    for order in itertools.permutations("abc"):
        try:
            run = route_of(replace(job, layouts={"bow": order}))
        except GeometryError:
            continue
        if all(angle <= math.pi / 2 for tube in run.tubes for angle in tube.bend_angles_rad):
            written[order] = run.cost.weight
    assert free.cost.weight == min(written.values())
    assert written[tuple(box.name for box in free.boxes)] == free.cost.weight
    assert [box.name for box in free.boxes] == ["a", "b", "c"]
    assert len(written) < 6


def three_boxes():
    """The curved demo with three boxes on a bow, written out of order."""
    job = demo("curved-scuttle")
    boxes = {
        name: replace(
            near(job),
            name=name,
            panel=None,
            hole_mm=(x, -60.0 * (x / 540) ** 2, 0.0),
            spindle=unit((x / 9000, 0.6, 0.8)),
        )
        for name, x in (("a", -360.0), ("b", 0.0), ("c", 360.0))
    }
    nose = replace(job.nose, position_mm=(-800.0, -165.0, -75.0))
    return replace(job, mountings=boxes, layout="bow", layouts={"bow": ("c", "a", "b")}, nose=nose)


def boxes_apart(by, **changes):
    """The straight demo with its far box so far from the near one, headings and sides free."""
    job = demo("lined-up-twin")
    first = replace(job.mountings["near"], heading=None, side=None)
    second = replace(job.mountings["far"], heading=None, side=None, hole_mm=add(first.hole_mm, by))
    return replace(job, mountings={"near": first, "far": second}, layouts={"twin": ("near", "far")}, **changes)


@pytest.mark.long
@pytest.mark.parametrize("order", ["written", "free"])
def test_boxes_too_near_for_any_tube_are_both_named(order):
    """60 mm apart; grooves 25 mm from each spindle and 25 mm held from each groove: a straight tube needs 100 mm."""
    with pytest.raises(GeometryError) as error:
        plan(boxes_apart((60.0, 0.0, 0.0), order=order), SHOP)
    assert str(error.value) == (
        "wheelboxes 'near' and 'far': they stand 60.0 mm apart, spindle to spindle, and no tube of radius 236.9 mm "
        "(as bent) joins them; a straight tube between them needs 100.0 mm; move them apart, or plan a layout without "
        "one of them"
    )


def test_boxes_as_far_apart_as_a_straight_tube_needs_are_joined():
    """The sentence's figure is the limit: at 100.1 mm a straight tube joins them."""
    assert plan(boxes_apart((100.1, 0.0, 0.0)), SHOP).pieces[1].tube.length_mm == pytest.approx(50.1)


def test_free_order_finds_the_order_along_the_scuttle():
    """§9 Order: written against the run, the boxes come out in the order in which they lie."""
    job = replace(demo("lined-up-twin"), order="free")
    layouts = {name: tuple(reversed(boxes)) for name, boxes in job.layouts.items()}
    run = route_of(replace(job, layouts=layouts))
    assert [box.name for box in run.boxes] == list(job.layouts[job.layout])
    assert run.free[0] == "order"


def test_no_tube_fits_names_the_tube_and_the_largest_radius():
    """Where nothing joins two ports the error says so, and with which radius something would."""
    job = demo("lined-up-twin")
    far = job.mountings["far"]
    moved = replace(far, hole_mm=add(job.mountings["near"].hole_mm, (160.0, 0.0, 0.0), 1.0))
    shifted = replace(moved, hole_mm=add(moved.hole_mm, (0.0, 90.0, 0.0)))
    shifted_job = replace(job, mountings={**job.mountings, "far": shifted})
    with pytest.raises(GeometryError) as error:
        plan(shifted_job, SHOP)
    assert str(error.value).startswith(
        "tube near-far: its ports are 142.1 mm apart, and no straight, single or double bend"
    )
    assert "the largest radius that would fit is " in str(error.value)
    largest = error.value.largest_radius_mm
    for radius, fits in ((largest * 0.999, True), (largest * 1.01, False)):
        other = replace(shifted_job, former=replace(job.former, radius=quantity(radius, "mm"), radius_is="as bent"))
        if fits:
            assert len(route_of(other).tubes) == 3
        else:
            with pytest.raises(GeometryError):
                route_of(other)


def test_a_former_below_the_least_radius_is_refused():
    """The rack lies in the bend as it stays: 200 mm, opened by 3 %."""
    job = demo("round-the-corner")
    with pytest.raises(GeometryError) as error:
        plan(replace(job, former=replace(job.former, radius=quantity(200, "mm"))), SHOP)
    assert str(error.value) == (
        "tube nose-near: a bend on the former stays at a radius of 206 mm; the rack bends no tighter than 229 mm; "
        "choose a larger former"
    )


def test_a_nose_that_stands_in_a_wheelbox_is_refused():
    """10 mm from where the rack passes near's spindle: no motor stands there, and no tube could be laid to it."""
    job = demo("lined-up-twin")
    near = job.mountings["near"]
    inside = replace(job.nose, position_mm=add(near.seat.rack_centre_mm, (10.0, 0.0, 0.0)))
    with pytest.raises(GeometryError) as error:
        plan(replace(job, nose=inside), SHOP)
    face = mm(near.model.mouth_offset)
    assert str(error.value) == (
        "motor nose and wheelbox 'near': the nose lies 10.0 mm from where the rack passes the spindle; the box's end "
        f"face is {face:g} mm from there, so the nose would stand in the box; measure the nose and the hole again"
    )
