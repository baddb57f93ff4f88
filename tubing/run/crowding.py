"""Whether the tubes of a run keep off themselves, off each other, and off the wheelboxes that they join.

The run is one line from nose to end stop. Two places on it that are further apart along it than twice the distance they
must keep may not come nearer. A tube leaves its own wheelbox through its body; once clear of that, it must stay so.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from msgspec import Struct

from tubing.centreline.between import Laid
from tubing.errors import ClearanceError
from tubing.geometry.centre_lines import Ways
from tubing.geometry.solids import distances_mm
from tubing.run.hazards import body
from tubing.run.placing import PlacedBox
from tubing.run.records import RunTube

STEP_MM, CLOSE_STEP_MM = 6.0, 0.5  # between the places looked at, first and where two come near
GRAZE_MM = 0.01  # nearer by less is clear
GENTLE_RAD = math.radians(120)  # a line that turns no more is, over any stretch, at least half as far as it is long
NEVER_BACK_RAD = math.radians(90)  # a tube that turns no more never comes back to where it started


class Crowded(Struct, frozen=True):
    """A tube that comes too near to something of its own run."""

    tube: int  # its place in the run
    thing: str  # in a sentence: what it comes too near to
    left_mm: float  # between its outside and that; negative: they cross
    asked_mm: float


def crowded(
    tubes: Sequence[RunTube], boxes: Sequence[PlacedBox], radius_mm: float, clearance_mm: float
) -> Crowded | None:
    """The first tube of a run that comes too near to itself, another tube or a wheelbox at its ends; None: none does.

    ``radius_mm``: of the tube's outside. A tube keeps ``clearance_mm`` of others and of bodies, and never touches
    itself. Tubes that were measured with a wire are left out.
    """
    turns = [sum(tube.bend_angles_rad) for tube in tubes]
    for k, tube in enumerate(tubes):
        found = _in_own_body(tube, boxes, radius_mm, clearance_mm) if turns[k] > NEVER_BACK_RAD else None
        if found is not None:
            return Crowded(k, *found, clearance_mm)
    starts = _along_mm(tubes, boxes)
    for (i, one), (k, other) in itertools.combinations_with_replacement(enumerate(tubes), 2):
        if sum(turns[i : k + 1]) <= GENTLE_RAD:
            continue
        kept_mm = 2 * radius_mm + (clearance_mm if i != k else 0.0)
        apart_mm = _least_mm(one, other, starts[k] - starts[i], kept_mm)
        if apart_mm < kept_mm - GRAZE_MM:
            thing = "itself" if i == k else f"tube {one.id}"
            return Crowded(k, thing, apart_mm - 2 * radius_mm, kept_mm - 2 * radius_mm)
    return None


def crowded_error(name: str, found: Crowded) -> ClearanceError:
    """The error of the tube of this name."""
    left_mm = found.left_mm
    how = f"comes within {left_mm:.1f} mm of" if left_mm > 0 else "runs into"
    must = f"its outside must keep {found.asked_mm:g} mm clear of it" if found.asked_mm else "it must not touch itself"
    remedy = "turn the heading at one of its ends, name corners for it, or move a box"
    return ClearanceError(f"tube {name}", f"it {how} {found.thing}", must, remedy, found.asked_mm - left_mm)


def _in_own_body(
    tube: RunTube, boxes: Sequence[PlacedBox], radius_mm: float, clearance_mm: float
) -> tuple[str, float] | None:
    """The wheelbox at one of its ends into whose body it comes back, and what it leaves of it, [mm]."""
    if not isinstance(tube.shape, Laid):
        return None
    points = _points(tube.shape, CLOSE_STEP_MM)
    for box in boxes:
        solid = body(box.mounting, box.heading) if box.name in tube.ports else None
        if solid is None:
            continue
        away = np.array(distances_mm(solid, points if box.name == tube.start.name else points[::-1])) - radius_mm
        clear = np.nonzero(away >= clearance_mm)[0]
        least_mm = float(away[clear[0] :].min()) if len(clear) else math.inf
        if least_mm < clearance_mm - GRAZE_MM:
            return f"the body of wheelbox {box.name!r}, which it joins", least_mm
    return None


def _along_mm(tubes: Sequence[RunTube], boxes: Sequence[PlacedBox]) -> list[float]:
    """How far along the run each tube starts."""
    through = [2 * box.mounting.seat.groove_offset_mm for box in boxes]
    lengths = [tube.length_mm + gap for tube, gap in zip(tubes, (*through, 0.0), strict=True)]
    return [0.0, *itertools.accumulate(lengths[:-1])]


def _least_mm(one: RunTube, other: RunTube, shift_mm: float, kept_mm: float) -> float:
    """How near two tubes' centre lines come, where far enough apart along the run; infinite: nowhere near.

    ``shift_mm``: how much further along the run the other one starts.
    """
    if not isinstance(one.shape, Laid) or not isinstance(other.shape, Laid):
        return math.inf
    first, second = (_stations(laid.line.length_mm, STEP_MM) for laid in (one.shape, other.shape))
    apart = _apart(one.shape, other.shape, first, second, shift_mm, kept_mm)
    near = np.argwhere(apart < kept_mm + STEP_MM)
    if not len(near):
        return math.inf
    first, second = (_closer(stations, near[:, k]) for k, stations in enumerate((first, second)))
    return float(_apart(one.shape, other.shape, first, second, shift_mm, kept_mm).min())


def _apart(one: Laid, other: Laid, first: Any, second: Any, shift_mm: float, kept_mm: float) -> Any:
    """Distances between places on two tubes, (first, second), [mm]; infinite where too near along the run."""
    ways = [_ways(laid).places_mm(stations[None, :])[0] for laid, stations in ((one, first), (other, second))]
    middle = ways[0].mean(0)  # counted from here no digits are lost in the squares
    a, b = ways[0] - middle, ways[1] - middle
    apart = np.sqrt(np.maximum((a * a).sum(1)[:, None] + (b * b).sum(1)[None, :] - 2 * a @ b.T, 0.0))
    along = second[None, :] + shift_mm - first[:, None]
    return np.where(along >= 2 * kept_mm, apart, np.inf)


def _stations(length_mm: float, step_mm: float) -> Any:
    return np.linspace(0.0, length_mm, max(2, math.ceil(length_mm / step_mm) + 1))


def _closer(stations: Any, chosen: Any) -> Any:
    """Stations close together from one before each of the chosen to one after it."""
    step_mm = float(stations[1] - stations[0])
    fine = np.arange(-step_mm, step_mm + CLOSE_STEP_MM, CLOSE_STEP_MM)
    around = stations[np.unique(chosen)][:, None] + fine[None, :]
    return np.unique(np.clip(around, stations[0], stations[-1]))


def _points(laid: Laid, step_mm: float) -> list[Any]:
    return list(_ways(laid).evenly_mm(step_mm)[0])


def _ways(laid: Laid) -> Ways:
    line = laid.line
    return Ways([line.points_mm], line.bends[0].radius_mm if line.bends else 1.0)
