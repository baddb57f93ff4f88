"""The shortest tube of two bends between two ports.

Two reaches decide the whole tube, so nothing has to be solved, only searched: over the two reaches, for the shortest
tube whose three straights are long enough. Along a branch of tubes the length falls as the outer straights shrink (its
slope is 1 - cos of the bend's angle), so the shortest tube has its least straights, or the shortest middle one allowed.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from tubing.geometry.reach_field import Field
from tubing.geometry.two_reaches import (
    FARTHEST,
    SHARPEST_RAD,
    Reaches,
    TwoPorts,
    corners_mm,
    fits,
    half_turn,
    margins_mm,
)
from tubing.geometry.vectors import angle_rad, sub

ALONG = 1500  # reaches looked at along one port's line


def shortest(ports: TwoPorts, radius_mm: float, most_rad: float = SHARPEST_RAD) -> Reaches | None:
    """The reaches of the shortest tube of two bends that leaves every straight its least; None: there is none.

    No bend is over ``most_rad``, a right angle at least, 170 degrees at most.
    Source of the shape: L. E. Dubins, American Journal of Mathematics 79 (1957); the search is our own.
    """
    quick = _by_fixed_point(ports, radius_mm)
    if quick is not None or most_rad <= math.pi / 2:
        return quick
    field = Field(ports, radius_mm, most_rad)
    found = [*_with_least_straights(ports, radius_mm, field.size_mm), *field.shortest()]
    return min((r for r in found if fits(ports, r, radius_mm, most_rad)), key=field.length_mm, default=None)


def largest_radius_mm(ports: TwoPorts, too_large_mm: float) -> float:
    """The largest radius with which a tube of two bends fits, [mm]; 0: none does.

    ``too_large_mm``: a radius for which :func:`shortest` found no tube.
    """
    return max((radius for radius, _ in Field(ports, too_large_mm).roomiest()), default=0.0)


def _by_fixed_point(ports: TwoPorts, radius_mm: float) -> Reaches | None:
    """Least outer straights, tangents found by iteration from no bend at all; None where that says nothing.

    Accepted only where both bends are under a right angle: no other tube can then be shorter.
    """
    reaches = Reaches(ports.start_mm, ports.end_mm)
    for _ in range(60):
        first, second = corners_mm(ports, reaches)
        way = sub(second, first)
        angles = angle_rad(ports.leave, way), angle_rad(ports.arrive, way)
        if max(angles) > math.pi / 2:
            return None
        following = Reaches(
            ports.start_mm + radius_mm * math.tan(angles[0] / 2),
            ports.end_mm + radius_mm * math.tan(angles[1] / 2),
        )
        moved = abs(following.first_mm - reaches.first_mm) + abs(following.second_mm - reaches.second_mm)
        reaches = following
        if moved < 1e-12 * (radius_mm + 1):
            middle = margins_mm(ports, reaches, radius_mm)[1]
            return reaches if middle >= 0 else None
    return None


def _with_least_straights(ports: TwoPorts, radius_mm: float, size_mm: float) -> list[Reaches]:
    """Every tube whose outer straights are the least and whose middle one is long enough.

    The first corner decides the second: from it, the tube runs on the tangent to the circle that leads into the second
    port. What is left is one equation in the first reach.
    """
    steps = np.concatenate([[0.0], np.geomspace(1e-5, FARTHEST, ALONG)]) * size_mm
    first = ports.start_mm + steps
    left = _left_over(ports, radius_mm, first)[0]
    with np.errstate(invalid="ignore"):
        changes = np.nonzero(np.signbit(left[:-1]) != np.signbit(left[1:]))[0]
    found = []
    for k in changes:
        low, high = float(first[k]), float(first[k + 1])
        at_low = float(left[k])
        if not (math.isfinite(at_low) and math.isfinite(float(left[k + 1]))):
            continue
        for _ in range(80):
            middle = (low + high) / 2
            here = float(_left_over(ports, radius_mm, np.array(middle))[0])
            low, high = (middle, high) if (here < 0) == (at_low < 0) else (low, middle)
        place = Reaches(low, float(_left_over(ports, radius_mm, np.array(low))[1]))
        if fits(ports, place, radius_mm):
            found.append(place)
    return found


def _left_over(ports: TwoPorts, radius_mm: float, first_mm: Any) -> tuple[Any, Any]:
    """First straight beyond its least, and the second reach, for first reaches of any shape; nan: no tangent."""
    gap, leave, arrive = (np.array(v) for v in (ports.gap_mm, ports.leave, ports.arrive))
    corner = first_mm[..., None] * leave
    back = corner - (gap - ports.end_mm * arrive)  # from where the second bend has to end
    along = -(back @ arrive)
    aside = np.linalg.norm(back + along[..., None] * arrive, axis=-1) - radius_mm
    with np.errstate(invalid="ignore"):
        straight = np.sqrt(along**2 + aside**2 - radius_mm**2)
        turn = (np.arctan2(aside, along) + np.arctan2(radius_mm, straight)) % (2 * math.pi)
        turn = np.where(turn < math.pi, turn, np.nan)
        second = ports.end_mm + radius_mm * np.tan(turn / 2)
        way = gap - second[..., None] * arrive - corner
        half = half_turn(leave, way, np.sqrt((way * way).sum(-1)))
        return first_mm - ports.start_mm - radius_mm * half, second
