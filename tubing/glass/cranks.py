"""How far an arm has to be cranked so that its parked blade lies along the screen's lower edge.

Crank: the angle from the arm to the blade. Its hand is the side to which the blade's outer end leans with the arm up
the glass, as the driver sits.
"""

from __future__ import annotations

import math
from typing import Literal

import shapely
from msgspec import Struct

from tubing.glass.arms import Wiper, parked_rad
from tubing.glass.blade import MOST_CRANK_DEG, Segment
from tubing.glass.surface import Surface, surface
from tubing.glass.sweeps import Fitted, Glass, Sweep
from tubing.units import Quantity

MOST_LOOKS = 12  # times that the edge is looked up again under the blade as it comes to lie
HALVINGS = 40  # of a step: to a millionth of a millionth
FARTHEST_DEG, STEP_DEG = 60, 2  # how far below and above the level an arm is looked for, and how closely


class CrankSize(Struct, frozen=True):
    """The crank of one arm for its parked blade to lie along the screen's lower edge."""

    name: str  # of the wheelbox
    crank_deg: float | None  # 0 or more; None: there is none up to MOST_CRANK_DEG
    hand: Literal["left", "right"] | None
    parked_deg: float | None  # the arm's direction then, anticlockwise from the x axis
    clearance_mm: float | None  # of the blade to the edge as it then lies; negative: over it
    fitted_off_deg: float | None  # how far the blade as fitted lies off the edge's direction; None: no edge under it


def crank_sizes(glass: Glass, sweep: Sweep) -> tuple[CrankSize, ...]:
    """The crank that suits each arm of a sweep, its lengths as they are there.

    Where the job gives the arm's angle at park, the arm stands so and the blade is laid along the edge beneath it;
    where not, the arm stands as low as lets the blade along the edge keep the clearance asked for. For a straight edge
    at d from the pivot that is asin((d + clearance) / arm): exact, the arm and the crank rise by one angle.
    """
    on = surface(glass.screen)
    wipers = {wiper.name: wiper for wiper in glass.wipers}
    given = {arm.on: arm for arm in glass.arms}
    return tuple(
        _size(on, wipers[one.name], one, given[one.name].parked if one.name in given else None, glass.clearance_mm)
        for one in sweep.fitted
    )


def _size(on: Surface, wiper: Wiper, one: Fitted, parked: Quantity | None, asked_mm: float) -> CrankSize:
    off_deg = _off_deg(on, one)
    arm_rad = _lowest_rad(on, wiper, one, asked_mm) if parked is None else parked_rad(parked, wiper.turning)
    blade = None if arm_rad is None else _along_edge(on, wiper, one, arm_rad)
    if arm_rad is None or blade is None:
        return CrankSize(one.name, None, None, None, None, off_deg)
    crank_deg = math.degrees(_between_rad(arm_rad, _direction_rad(blade)))
    if abs(crank_deg) > MOST_CRANK_DEG:
        return CrankSize(one.name, None, None, None, None, off_deg)
    return CrankSize(
        one.name,
        abs(crank_deg),
        "left" if crank_deg >= 0 else "right",
        math.degrees(arm_rad) % 360,
        on.clearance_mm(shapely.LineString(blade)),
        off_deg,
    )


def _lowest_rad(on: Surface, wiper: Wiper, one: Fitted, asked_mm: float) -> float | None:
    """The lowest direction of the arm at which a blade along the edge keeps the clearance; None: there is none."""
    level_rad = 0.0 if wiper.turning > 0 else math.pi

    def keeps(raised_rad: float) -> bool:
        blade = _along_edge(on, wiper, one, level_rad + wiper.turning * raised_rad)
        return blade is not None and on.keeps(shapely.LineString(blade), asked_mm)

    steps = [math.radians(step) for step in range(-FARTHEST_DEG, FARTHEST_DEG + 1, STEP_DEG)]
    high = next((k for k, step in enumerate(steps) if keeps(step)), None)
    if high is None or high == 0:
        return None
    low_rad, high_rad = steps[high - 1], steps[high]
    for _ in range(HALVINGS):
        middle_rad = (low_rad + high_rad) / 2
        low_rad, high_rad = (low_rad, middle_rad) if keeps(middle_rad) else (middle_rad, high_rad)
    return level_rad + wiper.turning * high_rad


def _along_edge(on: Surface, wiper: Wiper, one: Fitted, arm_rad: float) -> Segment | None:
    """Inner and outer tip of the blade laid along the lower edge beneath it; None: no edge lies there."""
    x_mm = wiper.pivot_mm[0] + one.arm_mm * math.cos(arm_rad)
    y_mm = wiper.pivot_mm[1] + one.arm_mm * math.sin(arm_rad)
    along_rad = 0.0 if wiper.turning > 0 else math.pi
    for _ in range(MOST_LOOKS):
        half_mm = one.blade_mm / 2 * math.cos(along_rad)
        edge_rad = on.lower_edge_rad(x_mm - half_mm, x_mm + half_mm)
        if edge_rad is None:
            return None
        if edge_rad == along_rad:
            break
        along_rad = edge_rad
    aside_mm, up_mm = (one.blade_mm / 2 * part for part in (math.cos(along_rad), math.sin(along_rad)))
    return (x_mm - aside_mm, y_mm - up_mm), (x_mm + aside_mm, y_mm + up_mm)


def _off_deg(on: Surface, one: Fitted) -> float | None:
    """Angle of the blade as fitted, parked, to the edge beneath it."""
    inner, outer = one.parked_tips_mm
    edge_rad = on.lower_edge_rad(inner[0], outer[0])
    if edge_rad is None:
        return None
    return abs(math.degrees(_between_rad(_direction_rad(one.parked_tips_mm), edge_rad)))


def _direction_rad(blade: Segment) -> float:
    (x, y), (to_x, to_y) = blade
    return math.atan2(to_y - y, to_x - x)


def _between_rad(start_rad: float, end_rad: float) -> float:
    """The turn from one direction to another, anticlockwise positive, within half a turn either way."""
    return math.remainder(end_rad - start_rad, math.tau)
