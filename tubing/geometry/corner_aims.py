"""Free corners beside solids, and the bends that lead to them from the ports.

Aim:  a free corner beside a solid, from which the way passes it.
Lead: the first or last bend of a tube, which turns towards the next corner as soon as its least straight allows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from msgspec import Struct

from tubing.geometry.bends import longest_way_mm
from tubing.geometry.solids import Solid, reach_mm, sideways
from tubing.geometry.two_reaches import SHARPEST_RAD
from tubing.geometry.vectors import Vector, add, dot, norm, sub, unit

CUTS_RAD = tuple(math.radians(a) for a in (8, 20, 35, 50, 70, 95, 120))  # bends whose cut an aim stands off by


class Ends(Struct, frozen=True):
    """Two ports and what every tube between them must keep."""

    start_mm: Vector
    leave: Vector
    end_mm: Vector
    arrive: Vector
    least_mm: tuple[float, float, float]  # straights at the start, between bends, at the end
    radius_mm: float


def leads_mm(way: Any, away: Any, least_mm: float, radius_mm: float) -> Any:
    """Tangent length of the bend that turns, right after the least straight, towards points (n, 3); nan: none does."""
    along = way @ away - least_mm
    aside = np.linalg.norm(way - (way @ away)[:, None] * away, axis=-1) - radius_mm
    with np.errstate(invalid="ignore"):
        leg = np.sqrt(along**2 + aside**2 - radius_mm**2)
        turn = np.arctan2(aside, along) + np.arctan2(radius_mm, leg)
        return np.where((turn > -1e-9) & (turn < SHARPEST_RAD), radius_mm * np.tan(np.maximum(turn, 0.0) / 2), np.nan)


def aims_round(solid: Solid, needed_mm: float, ends: Ends) -> list[Vector]:
    """Free corners round a solid: round the clock, before, beside and behind it, and at several distances off.

    A bend cuts its corner by R (1 / cos(theta / 2) - 1), so the corner stands off by that much more.
    """
    way = unit(sub(ends.end_mm, ends.start_mm))
    along_mm = reach_mm(solid, way) + needed_mm
    aims = []
    for aside in sideways(solid, way, ends.start_mm, ends.leave):
        off_mm = reach_mm(solid, aside) + needed_mm
        for cut in CUTS_RAD:
            beside = add(solid.centre_mm, aside, off_mm + ends.radius_mm * (1 / math.cos(cut / 2) - 1))
            aims += [add(beside, way, share * along_mm) for share in (-1.0, -0.5, 0.0, 0.5, 1.0)]
    return aims


def in_reach(aims: Sequence[Vector], ends: Ends) -> list[Vector]:
    """The aims that do not lie far behind either port, nor so far aside that no fitter would go there."""
    way = sub(ends.end_mm, ends.start_mm)
    size = norm(way)
    most_mm = longest_way_mm(size, ends.radius_mm)
    return [
        a
        for a in aims
        if -size <= dot(sub(a, ends.start_mm), way) / (size or 1.0) <= 2 * size
        and norm(sub(a, ends.start_mm)) + norm(sub(ends.end_mm, a)) <= most_mm
    ]
