"""Mazes built round a known tube: solids that keep clear of it by some millimetres, the first on the direct way."""

from __future__ import annotations

import math
from random import Random

from msgspec import Struct

from tubing.centreline.between import Bending, PortAt, tube_between
from tubing.centreline.develop import Centreline, develop
from tubing.errors import GeometryError
from tubing.geometry.centre_lines import Ways, least_distances_mm
from tubing.geometry.solids import Ball, Keepout, Rod, Solid, TurnedBox
from tubing.geometry.vectors import Vector, add, cross, norm, turned, unit
from tubing.run.hazards import Around, Hazard

RADIUS_MM, HOLD_MM, TUBE_MM, CLEAR_MM, SPARE_MM, PORT_MM = 150.0, 25.0, 4.0, 5.0, 6.5, 40.0
BENDING = Bending(RADIUS_MM, 10.0, 3.0, math.radians(2))
ON_THE_DIRECT_WAY = 4  # of the solids


class Maze(Struct, frozen=True):
    """Two ports, the tube that is known to join them, and what it is wrapped in."""

    start: PortAt
    end: PortAt
    known: Centreline
    around: Around


def maze(seed: int, solids: int = 30, aside_mm: float = 120.0) -> Maze | None:
    """A maze whose solids have their middles so far from the tube at most; None: its ports have no direct tube."""
    random = Random(seed)
    known = _known(random)
    start = PortAt("a", known.points_mm[0], known.directions[0], HOLD_MM)
    end = PortAt("b", known.points_mm[-1], known.directions[-1], HOLD_MM)
    try:
        direct = tube_between(start, end, BENDING).line
    except GeometryError:
        return None
    ways = [Ways([line.points_mm], RADIUS_MM).evenly_mm(20.0)[0].tolist() for line in (direct, known)]
    found: list[Solid] = []
    for _ in range(4000):
        if len(found) == solids:
            break
        blocking = len(found) < ON_THE_DIRECT_WAY
        least_mm = 0.0 if blocking else 15.0
        middle = add(random.choice(ways[not blocking]), _direction(random), random.uniform(least_mm, aside_mm))
        solid = _solid(random, middle)
        from_ports = Keepout([solid], [PORT_MM]).slacks_mm([start.datum_mm, end.datum_mm]).min()
        if (
            least_distances_mm(known.points_mm, RADIUS_MM, [solid])[0] >= TUBE_MM + CLEAR_MM + SPARE_MM
            and from_ports > 0
        ):
            found.append(solid)
    hazards = tuple(Hazard(f"solid {k}", solid, CLEAR_MM) for k, solid in enumerate(found))
    return Maze(start, end, known, Around(hazards, TUBE_MM, Keepout(found, [CLEAR_MM + TUBE_MM] * len(found))))


def _known(random: Random) -> Centreline:
    """A tube of two to four bends whose straights are long enough."""
    while True:
        points, along = [(0.0, 0.0, 0.0)], (1.0, 0.0, 0.0)
        for _ in range(random.choice((2, 3, 3, 4)) + 1):
            points.append(add(points[-1], along, random.uniform(220, 420)))
            along = turned(along, unit(cross(along, _direction(random))), random.uniform(0.3, 1.2))
        try:
            line = develop(points, RADIUS_MM)
        except ValueError:
            continue
        if min(line.straights_mm) >= HOLD_MM:
            return line


def _solid(random: Random, middle: Vector) -> Solid:
    kind = random.random()
    if kind < 0.4:
        return Ball(middle, random.uniform(15, 80))
    if kind < 0.7:
        return Rod(middle, _direction(random), random.uniform(30, 300), random.uniform(8, 50))
    first = _direction(random)
    second = unit(cross(first, _direction(random)))
    half = random.uniform(10, 120), random.uniform(10, 120), random.uniform(10, 120)
    return TurnedBox(middle, (first, second, cross(first, second)), half)


def _direction(random: Random) -> Vector:
    while True:
        v = (random.gauss(0, 1), random.gauss(0, 1), random.gauss(0, 1))
        if norm(v) > 0.1:
            return unit(v)
