"""Corners and a radius to straights and bends, and back."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from msgspec import Struct

from tubing.geometry.bends import arc_mm, tangent_mm
from tubing.geometry.vectors import (
    Vector,
    across,
    add,
    angle_rad,
    cross,
    distance_mm,
    dot,
    norm,
    scale,
    sub,
    turned,
    unit,
)

NO_BEND_RAD = 1e-9  # two legs that differ by less are one
ROUND_RAD = 1e-9  # a rotation this near to half a turn is half a turn, and positive


class Bend(Struct, frozen=True):
    """One bend, as a fitter meets it going along the tube."""

    angle_rad: float  # change of direction, 0 < angle < pi
    radius_mm: float  # of the centre line
    rotation_rad: float  # from the plane of the bend before, clockwise seen along the tube; 0 for the first


class Centreline(Struct, frozen=True):
    """A tube's centre line: n bends between n + 1 straights."""

    points_mm: tuple[Vector, ...]  # start, corners, end
    straights_mm: tuple[float, ...]  # negative where the bends of a leg overlap
    bends: tuple[Bend, ...]
    first_turn: Vector | None  # from the tube towards the inside of its first bend

    @property
    def length_mm(self) -> float:
        """Along the centre line from datum to datum."""
        return math.fsum([*self.straights_mm, *(arc_mm(b.radius_mm, b.angle_rad) for b in self.bends)])

    @property
    def turn_rad(self) -> float:
        """All bends' angles added."""
        return math.fsum(b.angle_rad for b in self.bends)

    @property
    def directions(self) -> tuple[Vector, ...]:
        """Direction of each leg."""
        return tuple(unit(sub(b, a)) for a, b in zip(self.points_mm, self.points_mm[1:], strict=False))


def develop(points_mm: Sequence[Vector], radius_mm: float) -> Centreline:
    """The centre line over the corners, every bend of one radius.

    ``points_mm``: start, corners, end, no two neighbours alike and no leg straight back along the one before; a corner
    without a change of direction is dropped. Raises ValueError for points that make no centre line.

    >>> line = develop([(0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (100.0, 100.0, 0.0), (100.0, 100.0, 100.0)], 30.0)
    >>> line.straights_mm, round(line.length_mm, 4), round(math.degrees(line.bends[1].rotation_rad), 6)
    ((70.0, 40.0, 70.0), 274.2478, 90.0)
    """
    points = _without_idle_corners(points_mm)
    legs = [sub(b, a) for a, b in itertools.pairwise(points)]
    angles = [angle_rad(a, b) for a, b in itertools.pairwise(legs)]
    if any(a > math.pi - NO_BEND_RAD for a in angles):
        raise ValueError("a leg runs straight back along the one before")
    tangents = [0.0, *(tangent_mm(radius_mm, a) for a in angles), 0.0]
    straights = tuple(
        norm(leg) - before - after for leg, before, after in zip(legs, tangents, tangents[1:], strict=False)
    )
    insides = [unit(across(b, unit(a))) for a, b in itertools.pairwise(legs)]
    bends = tuple(
        Bend(angle, radius_mm, _rotation_rad(legs, insides, k) if k else 0.0) for k, angle in enumerate(angles)
    )
    return Centreline(tuple(points), straights, bends, insides[0] if insides else None)


def _without_idle_corners(points_mm: Sequence[Vector]) -> list[Vector]:
    if any(distance_mm(a, b) == 0.0 for a, b in itertools.pairwise(points_mm)):
        raise ValueError("two neighbouring points are the same")
    kept = list(points_mm[:1])
    for here, following in itertools.pairwise(points_mm[1:]):
        if angle_rad(sub(here, kept[-1]), sub(following, here)) > NO_BEND_RAD:
            kept.append(here)
    return [*kept, points_mm[-1]]


def _rotation_rad(legs: Sequence[Vector], insides: Sequence[Vector], k: int) -> float:
    """From the plane of bend k - 1 to that of bend k, about the leg between them, right-hand rule, (-pi, pi]."""
    along = unit(legs[k])
    before = _inside_after(legs[k - 1], legs[k])
    rotation = math.atan2(dot(cross(before, insides[k]), along), dot(before, insides[k]))
    return math.pi if rotation <= -math.pi + ROUND_RAD else rotation


def _inside_after(leg: Vector, following: Vector) -> Vector:
    """Towards the inside of the bend between two legs, seen from the second leg."""
    return unit(scale(across(leg, unit(following)), -1.0))


def walk(
    start_mm: Vector,
    heading: Vector,
    first_turn: Vector | None,
    straights_mm: Sequence[float],
    bends: Sequence[Bend],
) -> Centreline:
    """The centre line that a schedule makes: the inverse of :func:`develop`.

    Starts at ``start_mm`` along ``heading``; ``first_turn`` points towards the inside of the first bend.

    >>> bends = (Bend(math.pi / 2, 30.0, 0.0), Bend(math.pi / 2, 30.0, math.pi / 2))
    >>> line = walk((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (70.0, 40.0, 70.0), bends)
    >>> tuple(round(c, 9) + 0.0 for c in line.points_mm[-1])
    (100.0, 100.0, 100.0)
    """
    points, along, inside = [start_mm], heading, first_turn
    reach = 0.0
    for straight_mm, bend in zip(straights_mm, bends, strict=False):
        if inside is None:
            raise ValueError("a schedule with bends needs the side of its first turn")
        setback = tangent_mm(bend.radius_mm, bend.angle_rad)
        points.append(add(points[-1], along, reach + straight_mm + setback))
        inside = turned(inside, along, bend.rotation_rad)
        cos, sin = math.cos(bend.angle_rad), math.sin(bend.angle_rad)
        along, inside = add(scale(along, cos), inside, sin), add(scale(inside, cos), along, -sin)
        reach = setback
    points.append(add(points[-1], along, reach + straights_mm[-1]))
    return Centreline(tuple(points), tuple(straights_mm), tuple(bends), first_turn)


def point_at(line: Centreline, along_mm: float) -> Vector:
    """The point of a centre line that lies ``along_mm`` from its start, [mm]; 0 <= along_mm <= length.

    >>> line = develop([(0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (100.0, 100.0, 0.0)], 50.0)
    >>> tuple(round(c, 9) for c in point_at(line, 50.0 + 50.0 * math.pi / 4))
    (85.355339059, 14.644660941, 0.0)
    """
    place, along, inside = line.points_mm[0], line.directions[0], line.first_turn
    left_mm = along_mm
    for straight_mm, bend in zip(line.straights_mm, line.bends, strict=False):
        if left_mm <= straight_mm or inside is None:
            break
        place, left_mm = add(place, along, straight_mm), left_mm - straight_mm
        inside = turned(inside, along, bend.rotation_rad)
        angle_rad_here = min(left_mm / bend.radius_mm, bend.angle_rad)
        cos, sin = math.cos(angle_rad_here), math.sin(angle_rad_here)
        place = add(add(place, along, bend.radius_mm * sin), inside, bend.radius_mm * (1 - cos))
        along, inside = add(scale(along, cos), inside, sin), add(scale(inside, cos), along, -sin)
        left_mm -= bend.radius_mm * angle_rad_here
        if angle_rad_here < bend.angle_rad:
            return place
    return add(place, along, left_mm)
