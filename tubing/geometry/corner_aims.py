"""Free corners beside solids, and the legs that lead to them from the ports.

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
from tubing.geometry.centre_lines import GRAZE_MM, STEP_MM, Ways, worst_mm
from tubing.geometry.solids import Keepout, Solid, reach_mm, sideways
from tubing.geometry.two_reaches import SHARPEST_RAD
from tubing.geometry.vectors import Vector, add, dot, norm, scale, sub, unit

CUTS_RAD = tuple(math.radians(a) for a in (8, 20, 35, 50, 70, 95, 120))  # bends whose cut an aim stands off by


class Ends(Struct, frozen=True):
    """Two ports and what every tube between them must keep."""

    start_mm: Vector
    leave: Vector
    end_mm: Vector
    arrive: Vector
    least_mm: tuple[float, float, float]  # straights at the start, between bends, at the end
    radius_mm: float


class LeadLeg(Struct, frozen=True):
    """The way between a port and an aim: least straight, lead bend, leg."""

    along: Vector  # direction of the leg, as the tube goes
    straight_mm: float  # of the leg, beside the lead bend
    turn_rad: float
    length_mm: float


def lead_legs(ends: Ends, aims: Sequence[Vector], at_start: bool) -> list[LeadLeg | None]:
    """For each aim the way that leads to it from the first port, or from it to the second; None: no bend does."""
    if not aims:
        return []
    datum, away = (ends.start_mm, ends.leave) if at_start else (ends.end_mm, scale(ends.arrive, -1.0))
    least_mm = ends.least_mm[0 if at_start else 2]
    tangents = leads_mm(np.array(aims) - np.array(datum), np.array(away), least_mm, ends.radius_mm)
    found: list[LeadLeg | None] = []
    for aim, tangent in zip(aims, tangents.tolist(), strict=True):
        leg = sub(aim, add(datum, away, least_mm + tangent))
        if not math.isfinite(tangent) or norm(leg) <= tangent:
            found.append(None)
            continue
        turn, straight_mm = 2 * math.atan(tangent / ends.radius_mm), norm(leg) - tangent
        along = unit(leg if at_start else scale(leg, -1.0))
        found.append(LeadLeg(along, straight_mm, turn, least_mm + ends.radius_mm * turn + straight_mm))
    return found


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


def aims_ahead(ends: Ends) -> list[Vector]:
    """Corners on the ports' own lines, ahead of the first and behind the second."""
    span = norm(sub(ends.end_mm, ends.start_mm))
    steps = [share * ends.radius_mm for share in (0.5, 1.0, 1.75, 2.75) if share * ends.radius_mm < span]
    return [
        *(add(ends.start_mm, ends.leave, ends.least_mm[0] + step) for step in steps),
        *(add(ends.end_mm, ends.arrive, -ends.least_mm[2] - step) for step in steps),
    ]


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


def clear_points(points_mm: Sequence[Vector], keepout: Keepout) -> list[bool]:
    """For each point whether it keeps clear."""
    if not points_mm or not keepout.count:
        return [True] * len(points_mm)
    found: list[bool] = (keepout.near(points_mm).slacks_mm(points_mm).min(-1, initial=np.inf) >= -GRAZE_MM).tolist()
    return found


def clear_legs(legs_mm: Sequence[tuple[Vector, Vector]], keepout: Keepout) -> list[bool]:
    """For each straight leg whether it keeps clear, at points a step apart."""
    if not legs_mm:
        return []
    found: list[bool] = (worst_mm(Ways(legs_mm, 1.0), keepout, STEP_MM)[0] >= -GRAZE_MM).tolist()
    return found
