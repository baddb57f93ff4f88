"""The screen as it is drawn: outline, zones, and what each blade wipes, as arcs. Imports shapely, as the glass does."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from tubing.geometry.vectors import Point2
from tubing.plan import Plan

if TYPE_CHECKING:
    from tubing.glass.blade import Blade

ARC_RAD = math.radians(3)  # an arc is drawn with chords of this much of its turn


class BladeShape(Struct, frozen=True):
    """One blade: its pivot, where it parks, where it turns back, and what it wipes."""

    box: str
    pivot_mm: Point2
    arm_mm: Point2  # the arm's tip at park
    parked_mm: tuple[Point2, Point2]  # inner and outer tip
    far_arm_mm: Point2
    far_mm: tuple[Point2, Point2]
    wiped_mm: tuple[tuple[Point2, ...], ...]  # closed rings
    clearance_mm: float  # to the edge of the glass


class ScreenShape(Struct, frozen=True):
    """The glass from the driver's seat, x to the right, y up the glass."""

    outline_mm: tuple[Point2, ...]
    zones_mm: tuple[tuple[str, tuple[Point2, ...]], ...]
    blades: tuple[BladeShape, ...]


def screen_shape(plan: Plan) -> ScreenShape:
    """The screen with its blades at the job's own sweep."""
    from tubing.glass.arms import signed_crank_rad
    from tubing.glass.blade import Blade

    found = plan.on_glass
    screen = found.glass.screen
    wipers = {wiper.name: wiper for wiper in found.glass.wipers}
    cranks = {arm.on: arm.crank for arm in plan.job.arms}
    blades = []
    for one in found.sweep.fitted:
        wiper = wipers[one.name]
        crank_rad = signed_crank_rad(cranks[one.name], wiper.turning) if one.name in cranks else 0.0
        blade = Blade(
            name=one.name,
            pivot_mm=wiper.pivot_mm,
            arm_mm=one.arm_mm,
            blade_mm=one.blade_mm,
            crank_rad=crank_rad,
            parked_rad=math.radians(one.parked_deg),
            sweep_rad=math.radians(one.sweep_deg),
            turning=wiper.turning,
        )
        blades.append(
            BladeShape(
                box=one.name,
                pivot_mm=wiper.pivot_mm,
                arm_mm=blade.point_mm(0.0, 0.0),
                parked_mm=blade.ends_mm(0.0),
                far_arm_mm=blade.point_mm(0.0, 1.0),
                far_mm=blade.ends_mm(1.0),
                wiped_mm=tuple(_ring(blade, a, b) for a, b in _parts_mm(blade)),
                clearance_mm=one.clearance_mm,
            )
        )
    return ScreenShape(screen.outline_mm, tuple(screen.zones_mm.items()), tuple(blades))


def _parts_mm(blade: Blade) -> Sequence[tuple[float, float]]:
    """Cut the blade where it is nearest to the pivot, so that the distance only grows along each part."""
    half = blade.blade_mm / 2
    nearest = -blade.arm_mm * math.cos(blade.crank_rad)
    return ((nearest, half), (nearest, -half)) if -half < nearest < half else ((-half, half),)


def _ring(blade: Blade, inner_mm: float, outer_mm: float) -> tuple[Point2, ...]:
    chords = max(2, math.ceil(blade.sweep_rad / ARC_RAD))
    outer = [blade.point_mm(outer_mm, k / chords) for k in range(chords + 1)]
    inner = [blade.point_mm(inner_mm, k / chords) for k in range(chords + 1)]
    return tuple(outer + inner[::-1])
