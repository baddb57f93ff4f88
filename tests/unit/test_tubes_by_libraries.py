"""Lengths and clearances of tubes done again by general-purpose libraries: scipy integrates, shapely measures.

Bends are drawn here as rational Bezier curves over their corner, an exact arc that knows neither its radius nor its
centre, so nothing of the program's own arithmetic is used.
"""

import itertools
import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from msgspec.structs import replace
from scipy.integrate import quad
from scipy.spatial.transform import Rotation

from tubing.centreline.develop import develop, point_at
from tubing.geometry.centre_lines import entered
from tubing.geometry.solids import Keepout, distances_mm
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Box, Cylinder, Obstacle, Sphere
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import plan
from tubing.run.hazards import solid_of
from tubing.run.records import Measured
from tubing.units import mm, quantity

JOBS = Path(data_folder()) / "jobs"
NAMES = sorted(path.stem for path in JOBS.glob("*.toml"))
SHOP = read_shop(None)
EVERYWHERE_MM = 3000.0  # half length of a shape whose ends are out of reach


@cache
def planned(name):
    """A demo job's plan."""
    return plan(read_job(JOBS / f"{name}.toml", SHOP), SHOP)


def arcs(points, radius_mm):
    """Each bend as its three control points: tangent point, corner, tangent point."""
    points = np.array(points)
    for before, corner, after in zip(points, points[1:], points[2:], strict=False):
        into, out = corner - before, after - corner
        into, out = into / np.linalg.norm(into), out / np.linalg.norm(out)
        setback_mm = radius_mm * math.tan(math.acos(np.clip(into @ out, -1, 1)) / 2)
        yield corner - setback_mm * into, corner, corner + setback_mm * out


def bezier(control, t):
    """Point of a bend, 0 <= t <= 1: a rational quadratic Bezier curve whose middle weight makes it an arc."""
    first, corner, last = control
    weight = (corner - first) @ (last - first) / np.linalg.norm(corner - first) / np.linalg.norm(last - first)
    shares = np.array([(1 - t) ** 2, 2 * weight * t * (1 - t), t**2])
    return shares @ np.array([first, corner, last]) / shares.sum()


def speed(control, t):
    """Size of the derivative of :func:`bezier`, by the quotient's rule."""
    first, corner, last = control
    weight = (corner - first) @ (last - first) / np.linalg.norm(corner - first) / np.linalg.norm(last - first)
    shares, slopes = (
        np.array([(1 - t) ** 2, 2 * weight * t * (1 - t), t**2]),
        np.array([2 * t - 2, 2 * weight * (1 - 2 * t), 2 * t]),
    )
    place = bezier(control, t)
    return np.linalg.norm((slopes @ np.array([first, corner, last]) - slopes.sum() * place) / shares.sum())


def integrated_mm(points, radius_mm):
    """Length along the centre line over corners: straights by their ends, bends by integrating their speed."""
    bends = list(arcs(points, radius_mm))
    stations = [np.array(points[0]), *itertools.chain.from_iterable((a, b) for a, _, b in bends), np.array(points[-1])]
    straights = [np.linalg.norm(b - a) for a, b in zip(stations[0::2], stations[1::2], strict=True)]
    return sum(straights) + sum(quad(lambda t, c=c: speed(c, t), 0, 1, epsabs=1e-10)[0] for c in bends)


def laid_tubes(name):
    """The tubes of a demo job whose shape is known: corners, radius, length."""
    for piece in planned(name).pieces:
        if not isinstance(piece.tube.shape, Measured):
            line = piece.tube.shape.line
            yield piece, line, (line.bends[0].radius_mm if line.bends else 1.0)


@pytest.mark.long
@pytest.mark.parametrize("name", NAMES)
def test_lengths_of_a_run_by_integration(name):
    """Each tube's centre line, integrated: within a millionth, and a finished length is that and its two seats."""
    for piece, line, radius_mm in laid_tubes(name):
        by_scipy_mm = integrated_mm(line.points_mm, radius_mm)
        assert piece.tube.length_mm == pytest.approx(by_scipy_mm, rel=1e-6)
        seats_mm = sum(end.seat_mm for end in piece.ends)
        assert piece.finished_mm == pytest.approx(by_scipy_mm + seats_mm, rel=1e-6)


def pace(along_mm, line, low_mm, high_mm):
    """Speed of the point at a distance along a tube, by its way to either side within one straight or bend."""
    before, after = max(low_mm, along_mm - 1e-3), min(high_mm, along_mm + 1e-3)
    return math.dist(point_at(line, before), point_at(line, after)) / (after - before)


@pytest.mark.long
@pytest.mark.parametrize("name", NAMES)
def test_a_way_along_a_tube_is_as_long_as_it_says(name):
    """Speed of the point that goes along the tube, by differences, integrated straight by straight and bend by bend."""
    for _, line, _ in laid_tubes(name):
        parts = itertools.chain.from_iterable(
            itertools.zip_longest(line.straights_mm, (b.radius_mm * b.angle_rad for b in line.bends), fillvalue=0.0)
        )
        ends = np.cumsum([0.0, *parts])
        gone_mm = sum(
            quad(pace, low, high, args=(line, low, high), epsrel=1e-9)[0]
            for low, high in itertools.pairwise(ends)
            if high > low
        )
        assert gone_mm == pytest.approx(line.length_mm, rel=1e-6)
        assert point_at(line, line.length_mm) == pytest.approx(line.points_mm[-1], abs=1e-6)


def random_corners(random):
    """A centre line of up to five bends with room for each."""
    points = [np.zeros(3)]
    heading = random.normal(size=3)
    for _ in range(random.integers(2, 7)):
        heading = heading / np.linalg.norm(heading)
        points.append(points[-1] + heading * random.uniform(250, 500))
        heading = heading + random.normal(size=3) * 0.5
    return [tuple(float(c) for c in p) for p in points]


@pytest.mark.parametrize("seed", range(25))
def test_lengths_of_any_tube_by_integration(seed):
    """Random corners in space: the developed length, integrated, within a millionth."""
    points = random_corners(np.random.default_rng(seed))
    line = develop(points, 60.0)
    assert line.length_mm == pytest.approx(integrated_mm(points, 60.0), rel=1e-6)


def plane_line(random):
    """A random centre line in the plane z = 0 and its drawing, chords within 1e-5 mm of the arcs."""
    points, heading = [np.zeros(2)], random.uniform(0, math.tau)
    for _ in range(3):
        points.append(points[-1] + random.uniform(260, 420) * np.array([math.cos(heading), math.sin(heading)]))
        heading += random.uniform(-1.2, 1.2)
    drawn = [points[0]]
    for control in arcs(points, 120.0):
        drawn += [bezier(control, t) for t in np.linspace(0, 1, 1200)]
    return points, shapely.LineString([*drawn, points[-1]])


def stood(turn, point, z_mm=0.0):
    """A point of the plane, the plane standing anyhow in space."""
    return tuple(float(c) for c in turn.apply([*point, z_mm]))


def sections(random, turn):
    """A shape in the way of each kind that is cut by the plane through its middle, and that section for shapely."""
    at = random.uniform(-300, 700, 2)
    long, wide = random.uniform(60, 300, 2)
    aslant_rad = random.uniform(0, math.tau)
    along = np.array([math.cos(aslant_rad), math.sin(aslant_rad)])
    rectangle = shapely.affinity.translate(
        shapely.affinity.rotate(shapely.box(-long / 2, -wide / 2, long / 2, wide / 2), aslant_rad, use_radians=True),
        *at,
    )
    as_turned = (turn * Rotation.from_euler("z", aslant_rad)).as_euler("xyz")
    yield Box(stood(turn, at), (long, wide, 2 * EVERYWHERE_MM), tuple(as_turned.tolist())), rectangle
    ends = at - long / 2 * along, at + long / 2 * along
    yield Cylinder(stood(turn, ends[0]), stood(turn, ends[1]), wide / 2), rectangle
    disc = shapely.Point(at).buffer(wide / 2, quad_segs=4096)
    yield Cylinder(stood(turn, at, -EVERYWHERE_MM), stood(turn, at, EVERYWHERE_MM), wide / 2), disc
    yield Sphere(stood(turn, at), wide / 2), disc


@pytest.mark.long
@pytest.mark.parametrize("seed", range(20))
def test_distances_to_what_is_in_the_way_by_shapely(seed):
    """A tube in a plane that cuts a turned box, cylinders along and across it, and a sphere through their middles.

    What a tube lacks of a clearance of 2 m is 2 m less its least distance, to the 0.01 mm that the search is sure to. A
    box is turned about x, then y, then z of the vehicle: scipy's Euler angles about the fixed axes.
    """
    random = np.random.default_rng(seed)
    turn = Rotation.from_quat(random.normal(size=4))
    points, drawn = plane_line(random)
    for shape, section in sections(random, turn):
        apart_mm = shapely.distance(drawn, section)
        found = entered([stood(turn, p) for p in points], 120.0, Keepout([solid_of(shape)], [2000.0]))
        if apart_mm > 0:
            assert 2000.0 - found[0][1] == pytest.approx(apart_mm, abs=0.0105)
        else:
            assert found[0][1] >= 2000.0 - 0.0105


@pytest.mark.long
@pytest.mark.parametrize("seed", range(8))
def test_distances_of_single_points_by_shapely(seed):
    """Points of the plane outside and inside the same shapes: distance to the section, below 0 inside."""
    random = np.random.default_rng(seed)
    turn = Rotation.from_quat(random.normal(size=4))
    places = random.uniform(-500, 900, (60, 2))
    for shape, section in sections(random, turn):
        centre = np.array(section.centroid.coords[0])
        near = np.concatenate([places, centre + random.uniform(-80, 80, (40, 2))])
        by_shapely = [
            shapely.distance(p, section) or -shapely.distance(p, section.exterior) for p in map(shapely.Point, near)
        ]
        found = distances_mm(solid_of(shape), [stood(turn, p) for p in near])
        assert found == pytest.approx(by_shapely, abs=1e-3)
        assert min(found) < 0 < max(found)


def drawn_from_above(line, radius_mm):
    """A laid tube's centre line seen along z, chords within 1e-4 mm."""
    drawn = [line.points_mm[0]]
    for control in arcs(line.points_mm, radius_mm):
        drawn += [bezier(control, t) for t in np.linspace(0, 1, 600)]
    return shapely.LineString([p[:2] for p in (*drawn, line.points_mm[-1])])


POSTS = (
    Box((250.0, -60.0, 0.0), (60.0, 60.0, 2 * EVERYWHERE_MM), (0.0, 0.0, math.radians(30))),
    Box((150.0, -45.0, 0.0), (120.0, 40.0, 2 * EVERYWHERE_MM), (0.0, 0.0, math.radians(-20))),
    Cylinder((240.0, -40.0, -EVERYWHERE_MM), (240.0, -40.0, EVERYWHERE_MM), 25.0),
    Cylinder((320.0, -10.0, -EVERYWHERE_MM), (320.0, -10.0, EVERYWHERE_MM), 30.0),
)


@pytest.mark.long
@pytest.mark.parametrize("post", POSTS, ids=["box", "long box", "rod", "rod ahead"])
def test_a_planned_tube_goes_round_a_post_by_shapely(post):
    """Posts without ends, seen along their length: the tube's outside, drawn by shapely, keeps the clearance."""
    job = replace(
        read_job(JOBS / "behind-the-heater.toml", SHOP), in_the_way=(Obstacle("post", post, quantity(5, "mm")),)
    )
    if isinstance(post, Box):
        (x, y, _), (long, wide, _) = post.centre_mm, post.size_mm
        section = shapely.box(-long / 2, -wide / 2, long / 2, wide / 2)
        section = shapely.affinity.translate(
            shapely.affinity.rotate(section, post.turned_rad[2], use_radians=True), x, y
        )
    else:
        section = shapely.Point(post.start_mm[:2]).buffer(post.radius_mm, quad_segs=4096)
    around = plan(job, SHOP)
    free = plan(replace(job, in_the_way=()), SHOP)
    radius_mm, outside_mm = mm(job.former.radius), mm(job.tube.diameter) / 2
    apart = [
        [shapely.distance(drawn_from_above(p.tube.shape.line, radius_mm), section) - outside_mm for p in of.pieces]
        for of in (around, free)
    ]
    assert min(apart[0]) >= 5.0 - 0.02
    assert min(apart[1]) < 5.0  # else nothing was in the way
