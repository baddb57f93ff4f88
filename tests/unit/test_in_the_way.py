"""What is in the way: tubes keep clear of it, or the error names it; distances measured again by plain sampling."""

import math
from pathlib import Path

import pytest
from msgspec.structs import replace

from tubing.centreline.develop import point_at
from tubing.errors import ClearanceError
from tubing.geometry.vectors import add
from tubing.job import data_folder, read_job, read_shop
from tubing.job.records import Box, Cylinder, Obstacle, Sphere
from tubing.plan import plan
from tubing.units import mm, quantity

SHOP = read_shop(None)


def job():
    """The demo with a heater in the straight way."""
    return read_job(Path(data_folder()) / "jobs" / "behind-the-heater.toml", SHOP)


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


def test_every_tube_keeps_its_clearance():
    """Points every millimetre along each tube keep tube radius and clearance from everything in the way."""
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
    assert str(error.value).startswith("nose: the 39 mm of tube that must be straight there run into 'wall': ")


def test_no_way_names_what_stands_in_it():
    """A wall right across between two boxes: the error names the tube, the thing and the clearance that is missing."""
    wall = Obstacle("bulkhead", Box((200.0, 0.0, 0.0), (20.0, 6000.0, 6000.0)), quantity(5, "mm"))
    with pytest.raises(ClearanceError) as error:
        plan(replace(job(), in_the_way=(wall,)), SHOP)
    assert str(error.value).startswith("tube near-far: 'bulkhead' is in its way, and ")
    assert error.value.missing_mm > 0
    assert error.value.exit_status == 3
