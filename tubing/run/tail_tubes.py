"""The tail tube: from the last wheelbox's groove out, as long as the rack's tail asks.

Where something is in its way, and the fitter named no corners, it is led round with one bend or two.
"""

from __future__ import annotations

import math

from tubing.centreline.between import Bending, Laid, PortAt, PullIn, check_corners, check_room, lead_corner
from tubing.centreline.develop import Centreline, develop, walk
from tubing.errors import GeometryError
from tubing.geometry.two_reaches import SHARPEST_RAD
from tubing.geometry.vectors import Vector, add, angle_rad
from tubing.inputs.records import Tail
from tubing.run.hazards import Around, blocked, place_called

FAR_MM = 1000.0  # any length: the last leg is cut to what the tail needs


def tail_tube(port: PortAt, tail: Tail, length_mm: float, bending: Bending) -> Laid:
    """The tail tube of a given length along its centre line.

    Straight on; or bent ``toward`` a direction; or over corners, the last of which only points the way where no
    direction is given. Raises GeometryError where it is too short for its bends.
    """
    if tail.toward is None and not tail.corners_mm:
        end = add(port.datum_mm, port.heading, length_mm)
        return Laid(develop([port.datum_mm, end], bending.radius_mm), PullIn(0.0, 0.0))
    _checked(port, tail)
    points = _points(port, tail, bending)
    try:
        line = develop(points, bending.radius_mm)
    except ValueError as cause:
        raise GeometryError("tail tube", str(cause), "each leg must lead on to a new point", "check [tail]") from cause
    return Laid(_cut_to(line, port, tail, length_mm, bending), PullIn(0.0, 0.0))


def clear_tail(port: PortAt, tail: Tail, length_mm: float, bending: Bending, around: Around) -> Laid:
    """The tail tube led clear of what the direct one enters; a direction that the fitter gave is kept.

    Raises ClearanceError where no clear one is found, or where the fitter's own corners lead into something.
    """
    laid = tail_tube(port, tail, length_mm, bending)
    which, missing_mm = around.entered(laid)[0]
    hazard = around.hazards[which]
    if tail.corners_mm:
        where = place_called(laid, around, which, port.name, "end", tail.corners_mm)
        raise blocked("tail tube", hazard, missing_mm, where, "move a corner of [tail]")
    from tubing.geometry.tail_ways import FreeEnd, led_clear  # only where something is in the way

    least = (max(port.hold_mm, bending.grip_mm), bending.grip_mm)
    free = FreeEnd(port.datum_mm, port.heading, length_mm, least, bending.radius_mm, tail.toward)
    corners = led_clear(free, around.keepout)
    if corners is None:
        best = f"the tail tube {'toward its direction' if tail.toward else 'straight on'}"
        remedy = f"give [tail] corners or {'another direction' if tail.toward else 'toward'}, turn the box's heading"
        raise blocked("tail tube", hazard, missing_mm, best, remedy)
    return Laid(develop([port.datum_mm, *corners], bending.radius_mm), PullIn(0.0, 0.0))


def _checked(port: PortAt, tail: Tail) -> None:
    names = [port.name, *(f"corner {number}" for number in range(1, len(tail.corners_mm) + 1))]
    check_corners([port.datum_mm, *tail.corners_mm], names, "tail tube")


def _points(port: PortAt, tail: Tail, bending: Bending) -> list[Vector]:
    points = [port.datum_mm]
    if tail.corners_mm:
        points += lead_corner(port, tail.corners_mm[0], bending, "tail tube")
        points += tail.corners_mm
        if tail.toward is not None:
            points.append(add(points[-1], tail.toward, FAR_MM))
        return points
    assert tail.toward is not None
    turn = angle_rad(port.heading, tail.toward)
    if turn <= bending.fit_up_rad:
        return [port.datum_mm, add(port.datum_mm, port.heading, FAR_MM)]
    if turn > SHARPEST_RAD:
        raise GeometryError(
            "tail tube",
            f"[tail] turns it by {math.degrees(turn):.0f} degrees",
            f"one bend turns it by {math.degrees(SHARPEST_RAD):.0f} degrees at most",
            "choose another direction, or name corners",
        )
    straight = max(port.hold_mm, bending.grip_mm)
    corner = add(port.datum_mm, port.heading, straight + bending.radius_mm * math.tan(turn / 2))
    return [port.datum_mm, corner, add(corner, tail.toward, bending.radius_mm * math.tan(turn / 2) + FAR_MM)]


def _cut_to(line: Centreline, port: PortAt, tail: Tail, length_mm: float, bending: Bending) -> Centreline:
    """The same way with its last straight cut, or drawn out, so that the whole is ``length_mm``."""
    last_mm = length_mm - (line.length_mm - line.straights_mm[-1])
    least_mm = bending.grip_mm if line.bends else port.hold_mm
    if last_mm < least_mm:
        raise GeometryError(
            "tail tube",
            f"the rack's tail makes it {length_mm:.1f} mm long",
            f"its bends and straights need {length_mm - last_mm + least_mm:.1f} mm",
            "let the tail run straight, bend it less, or raise drive.margin in the shop file",
        )
    cut = walk(port.datum_mm, line.directions[0], line.first_turn, (*line.straights_mm[:-1], last_mm), line.bends)
    check_room(cut, port, PortAt("end", cut.points_mm[-1], cut.directions[-1], 0.0), bending, tail.corners_mm)
    return cut
