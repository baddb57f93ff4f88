"""The run as it lies on the vehicle, ready to be drawn: by the page as three views, by the DXF file in space.

Straight, arc: what a tube's centre line is made of, exactly.
Solid:         a box, a cylinder or a sphere as corners (for its outline) and edges (for the DXF file).
Pull-in:       a tube is drawn as it is laid; what is pulled into place by hand is not drawn.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from msgspec import Struct

from tubing.centreline.between import Laid
from tubing.centreline.develop import Centreline
from tubing.geometry.bends import tangent_mm
from tubing.geometry.vectors import Vector, across, add, cross, scale, sub, turned, unit
from tubing.inputs.records import Box, Cylinder, Obstacle, Sphere
from tubing.plan import Plan
from tubing.run.placing import PlacedBox
from tubing.run.records import RunTube
from tubing.units import mm

CHORD_RAD = math.radians(4)  # an arc is drawn with chords of this much of its turn
ROUND_STEPS = 36  # corners of a drawn circle
STEM_SHOWN = 1.0  # how much of the stem beyond the panel's hole is drawn as the spindle


class Straight(Struct, frozen=True):
    """A straight part of a centre line."""

    start_mm: Vector
    end_mm: Vector


class Arc(Struct, frozen=True):
    """A bend of a centre line: from ``start_mm`` about ``normal`` by the right-hand rule."""

    start_mm: Vector
    end_mm: Vector
    centre_mm: Vector
    normal: Vector
    radius_mm: float
    angle_rad: float

    @property
    def middle_mm(self) -> Vector:
        """The point half way round."""
        return self.at_mm(self.angle_rad / 2)

    def at_mm(self, by_rad: float) -> Vector:
        """The point so far round."""
        return add(self.centre_mm, turned(sub(self.start_mm, self.centre_mm), self.normal, by_rad))


class TubeShape(Struct, frozen=True):
    """One tube's centre line; a measured tube, whose way is not known, is one straight from port to port."""

    piece: str
    known: bool
    ways: tuple[Straight | Arc, ...]

    @property
    def bends(self) -> tuple[Arc, ...]:
        """Its bends in order."""
        return tuple(way for way in self.ways if isinstance(way, Arc))

    @property
    def points_mm(self) -> list[Vector]:
        """The centre line as chords."""
        points = [self.ways[0].start_mm]
        for way in self.ways:
            if isinstance(way, Arc):
                chords = max(1, math.ceil(way.angle_rad / CHORD_RAD))
                points += [way.at_mm(way.angle_rad * k / chords) for k in range(1, chords)]
            points.append(way.end_mm)
        return points


class BoxShape(Struct, frozen=True):
    """A wheelbox: its body, its pitch circle and its spindle."""

    name: str
    hole_mm: Vector
    tip_mm: Vector  # where the stem ends
    rack_centre_mm: Vector
    pitch_circle_mm: tuple[Vector, ...]
    body: Solid


class Solid(Struct, frozen=True):
    """Something with an outline."""

    name: str
    corners_mm: tuple[Vector, ...]  # its outline in any view is their hull
    edges_mm: tuple[tuple[Vector, ...], ...]  # lines to draw in space


class RunShape(Struct, frozen=True):
    """All that is drawn of the run."""

    tubes: tuple[TubeShape, ...]
    diameter_mm: float  # of the tube
    nose_mm: Vector
    nose_heading: Vector
    end_mm: Vector  # of the tail tube
    end_heading: Vector
    boxes: tuple[BoxShape, ...]
    in_the_way: tuple[Solid, ...]
    clips_mm: tuple[Vector, ...]


def run_shape(plan: Plan) -> RunShape:
    """The run of a plan in the vehicle's frame."""
    first, last = plan.run.tubes[0], plan.run.tubes[-1]
    shapes = tuple(_tube(tube) for tube in plan.run.tubes)
    return RunShape(
        tubes=shapes,
        diameter_mm=mm(plan.job.tube.diameter),
        nose_mm=first.start.datum_mm,
        nose_heading=first.start.heading,
        end_mm=last.end.datum_mm,
        end_heading=last.end.heading,
        boxes=tuple(_box(box) for box in plan.run.boxes),
        in_the_way=tuple(obstacle_shape(one) for one in plan.job.in_the_way),
        clips_mm=tuple(clip.position_mm for clip in plan.clips if clip.position_mm is not None),
    )


def _tube(tube: RunTube) -> TubeShape:
    if not isinstance(tube.shape, Laid):
        return TubeShape(tube.id, False, (Straight(tube.start.datum_mm, tube.end.datum_mm),))
    return TubeShape(tube.id, True, tuple(ways(tube.shape.line)))


def ways(line: Centreline) -> list[Straight | Arc]:
    """A centre line as straights and arcs, in order; a straight without length is left out.

    >>> from tubing.centreline.develop import develop
    >>> parts = ways(develop([(0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (100.0, 100.0, 0.0)], 40.0))
    >>> [type(part).__name__ for part in parts], [round(c, 9) for c in parts[1].centre_mm]
    (['Straight', 'Arc', 'Straight'], [60.0, 40.0, 0.0])
    """
    found: list[Straight | Arc] = []
    here, directions = line.points_mm[0], line.directions
    for bend, corner, (before, after) in zip(
        line.bends, line.points_mm[1:-1], itertools.pairwise(directions), strict=True
    ):
        reach = tangent_mm(bend.radius_mm, bend.angle_rad)
        start, end = add(corner, before, -reach), add(corner, after, reach)
        centre = add(start, unit(across(after, before)), bend.radius_mm)
        if sub(start, here) != (0.0, 0.0, 0.0):
            found.append(Straight(here, start))
        found.append(Arc(start, end, centre, unit(cross(before, after)), bend.radius_mm, bend.angle_rad))
        here = end
    found.append(Straight(here, line.points_mm[-1]))
    return found


def _box(box: PlacedBox) -> BoxShape:
    mounting, model = box.mounting, box.mounting.model
    centre = mounting.seat.rack_centre_mm
    out = cross(box.heading, mounting.spindle)
    if model.body is not None:
        along, wide, deep = (mm(size) for size in model.body)
    else:
        along, wide, deep = 2 * mm(model.mouth_offset), 3 * mm(model.pitch_radius), mm(model.rack_depth)
    seat = add(centre, mounting.spindle, mm(model.rack_depth))
    middle = add(seat, mounting.spindle, -deep / 2)
    stem_mm = STEM_SHOWN * mm(model.stem)
    return BoxShape(
        name=box.name,
        hole_mm=mounting.hole_mm,
        tip_mm=add(seat, mounting.spindle, stem_mm),
        rack_centre_mm=centre,
        pitch_circle_mm=_circle(centre, mounting.spindle, mm(model.pitch_radius)),
        body=_block(box.name, middle, (box.heading, out, mounting.spindle), (along, wide, deep)),
    )


def obstacle_shape(one: Obstacle) -> Solid:
    """A thing in the way."""
    shape = one.shape
    match shape:
        case Box():
            axes = []
            for axis in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)):
                for about, by_rad in zip(
                    ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), shape.turned_rad, strict=True
                ):
                    axis = turned(axis, about, by_rad)
                axes.append(axis)
            return _block(one.name, shape.centre_mm, (axes[0], axes[1], axes[2]), shape.size_mm)
        case Cylinder():
            axis = unit(sub(shape.end_mm, shape.start_mm))
            ends = [_circle(point, axis, shape.radius_mm) for point in (shape.start_mm, shape.end_mm)]
            sides = [(ends[0][k], ends[1][k]) for k in range(0, ROUND_STEPS, ROUND_STEPS // 4)]
            return Solid(one.name, (*ends[0], *ends[1]), (*ends, *sides))
        case Sphere():
            normals = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
            rings = tuple(_circle(shape.centre_mm, normal, shape.radius_mm) for normal in normals)
            return Solid(one.name, tuple(point for ring in rings for point in ring), rings)


def _block(name: str, centre: Vector, axes: tuple[Vector, Vector, Vector], size: Vector) -> Solid:
    """A box about its centre, along its own three axes."""
    corner = {}
    for signs in itertools.product((-1, 1), repeat=3):
        place = centre
        for sign, axis, length in zip(signs, axes, size, strict=True):
            place = add(place, axis, sign * length / 2)
        corner[signs] = place
    edges = [
        (a, b) for a, b in itertools.combinations(corner, 2) if sum(i != j for i, j in zip(a, b, strict=True)) == 1
    ]
    return Solid(name, tuple(corner.values()), tuple((corner[a], corner[b]) for a, b in edges))


def _circle(centre: Vector, normal: Vector, radius_mm: float) -> tuple[Vector, ...]:
    """A circle as a closed line: its first point again at its end."""
    least = min(range(3), key=lambda k: abs(normal[k]))
    helper = tuple(1.0 if k == least else 0.0 for k in range(3))
    first = scale(unit(across((helper[0], helper[1], helper[2]), normal)), radius_mm)
    steps = (2 * math.pi * (k % ROUND_STEPS) / ROUND_STEPS for k in range(ROUND_STEPS + 1))
    return tuple(add(centre, turned(first, normal, by)) for by in steps)


def extent(points: Sequence[Vector], axis: int) -> tuple[float, float]:
    """Least and greatest of one coordinate, [mm].

    >>> extent([(1.0, 2.0, 3.0), (-1.0, 5.0, 0.0)], 0)
    (-1.0, 1.0)
    """
    values = [point[axis] for point in points]
    return min(values), max(values)
