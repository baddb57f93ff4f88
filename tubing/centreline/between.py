"""A tube between two ports: straight, one bend, two bends, or over the fitter's own corners.

Fewer bends come first; within two bends, the shortest. A tube that is out of line by no more than the shop's fit-up
counts as in line and is pulled into place by hand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from tubing.centreline.develop import Centreline, develop
from tubing.errors import GeometryError
from tubing.geometry.bends import longest_way_mm
from tubing.geometry.two_bends import largest_radius_mm, shortest
from tubing.geometry.two_reaches import SHARPEST_RAD, TwoPorts, corners_mm
from tubing.geometry.vectors import (
    Vector,
    add,
    angle_rad,
    distance_mm,
    dot,
    nearest_on_lines,
    off_line_mm,
    scale,
    sub,
)

SHARPEST_NAMED_RAD = math.radians(179)  # of a bend at a corner that the fitter named
NOTICED_MM, NOTICED_RAD = 0.5, math.radians(0.25)
SAME_MM = 1e-4  # a corner this near to a named one is it
ROOM_MM, ROOM_RAD = 1e-6, 1e-9  # a straight may be short of its least, and a corner off its line, by rounding


class PortAt(Struct, frozen=True):
    """A place where a tube starts or ends."""

    name: str
    datum_mm: Vector
    heading: Vector  # the way the rack goes, from motor to end stop
    hold_mm: float  # straight tube, from the datum, that flare, nut and box need


class Bending(Struct, frozen=True):
    """What the former and the shop's habits ask of every tube."""

    radius_mm: float
    grip_mm: float  # straight tube that the former must hold beside a bend
    fit_up_mm: float
    fit_up_rad: float
    greatest_rad: float = SHARPEST_RAD  # of a bend; beyond it one is taken only where no tube else is short enough


class PullIn(Struct, frozen=True):
    """How far a tube is out of line and is pulled into place by hand."""

    distance_mm: float
    angle_rad: float

    @property
    def noticed(self) -> bool:
        """Whether the fitter will notice it: under half a millimetre and a quarter of a degree no tape shows it."""
        return self.distance_mm >= NOTICED_MM or self.angle_rad >= NOTICED_RAD


class Laid(Struct, frozen=True):
    """A tube as it lies between its ports."""

    line: Centreline
    pull_in: PullIn


def tube_between(
    start: PortAt, end: PortAt, bending: Bending, corners_mm: Sequence[Vector] = (), thorough: bool = True
) -> Laid:
    """The tube from one port to the next.

    ``corners_mm``: the fitter's own corners; empty: the program finds the way. ``thorough`` False gives up where
    gentle bends, none over a right angle, do not do.

    Raises GeometryError, which names the tube, the leg, what it is, what it needs, and the largest radius that fits.
    """
    if distance_mm(start.datum_mm, end.datum_mm) < ROOM_MM:
        raise GeometryError(
            tube_name(start, end),
            "starts and ends at the same point",
            "its two ports must lie apart",
            "check the measured positions",
        )
    if corners_mm:
        return _over_corners(start, end, bending, list(corners_mm))
    found = _straight(start, end, bending)
    if found is not None:
        return found
    longest_mm = longest_way_mm(distance_mm(start.datum_mm, end.datum_mm), bending.radius_mm)
    for most_rad in (bending.greatest_rad, math.pi) if thorough else (math.pi / 2,):
        found = _one_bend(start, end, bending, most_rad) or _two_bends(start, end, bending, most_rad)
        if found is not None and (found.line.length_mm <= longest_mm or most_rad == math.pi or not thorough):
            return found
    raise _no_way(start, end, bending, _largest_mm(start, end, bending) if thorough else None)


def tube_name(start: PortAt, end: PortAt) -> str:
    """How an error or a sheet calls the tube between two ports."""
    return f"tube {start.name}-{end.name}"


def _straight(start: PortAt, end: PortAt, bending: Bending) -> Laid | None:
    """One straight leg, where the ports are in line within fit-up."""
    way = sub(end.datum_mm, start.datum_mm)
    off_mm = max(
        off_line_mm(end.datum_mm, start.datum_mm, start.heading),
        off_line_mm(start.datum_mm, end.datum_mm, end.heading),
    )
    off_rad = max(angle_rad(start.heading, way), angle_rad(way, end.heading))
    if off_mm > bending.fit_up_mm or off_rad > bending.fit_up_rad:
        return None
    line = develop([start.datum_mm, end.datum_mm], bending.radius_mm)
    needed_mm = start.hold_mm + end.hold_mm
    if line.length_mm < needed_mm - ROOM_MM:
        raise GeometryError(
            tube_name(start, end),
            f"its only leg is {line.length_mm:.1f} mm",
            f"it must hold {needed_mm:.1f} mm for the flares, nut and boxes at its ends",
            "move the boxes apart",
        )
    return Laid(line, PullIn(off_mm, off_rad))


def _one_bend(start: PortAt, end: PortAt, bending: Bending, most_rad: float) -> Laid | None:
    """One bend of so much, where the ports' lines meet ahead of both within fit-up and leave room for it."""
    meeting = nearest_on_lines(start.datum_mm, start.heading, end.datum_mm, scale(end.heading, -1.0))
    if meeting is None or min(meeting) <= 0:
        return None
    on_start = add(start.datum_mm, start.heading, meeting[0])
    on_end = add(end.datum_mm, end.heading, -meeting[1])
    # Nearer the line of the shorter leg, so that both legs leave their ports' lines by one angle, the least there is;
    # with one end seated the other is then off by no more than the lines are apart.
    corner = add(on_start, sub(on_end, on_start), meeting[0] / (meeting[0] + meeting[1]))
    if min(distance_mm(start.datum_mm, corner), distance_mm(corner, end.datum_mm)) < ROOM_MM:
        return None
    pull_in = PullIn(
        distance_mm(on_start, on_end),
        max(
            angle_rad(start.heading, sub(corner, start.datum_mm)),
            angle_rad(sub(end.datum_mm, corner), end.heading),
        ),
    )
    if pull_in.distance_mm > bending.fit_up_mm or pull_in.angle_rad > bending.fit_up_rad:
        return None
    line = develop([start.datum_mm, corner, end.datum_mm], bending.radius_mm)
    if line.turn_rad > most_rad:
        return None
    return Laid(line, pull_in) if _first_tight_leg(line, start, end, bending) is None else None


def _two_bends(start: PortAt, end: PortAt, bending: Bending, most_rad: float) -> Laid | None:
    """The shortest tube of two bends of so much at most."""
    ports = _ports_of(start, end, bending)
    reaches = shortest(ports, bending.radius_mm, min(most_rad, SHARPEST_RAD))
    if reaches is None:
        return None
    first, second = (add(start.datum_mm, corner) for corner in corners_mm(ports, reaches))
    line = develop([start.datum_mm, first, second, end.datum_mm], bending.radius_mm)
    return Laid(line, PullIn(0.0, 0.0))


def _ports_of(start: PortAt, end: PortAt, bending: Bending) -> TwoPorts:
    return TwoPorts(
        gap_mm=sub(end.datum_mm, start.datum_mm),
        leave=start.heading,
        arrive=end.heading,
        start_mm=max(start.hold_mm, bending.grip_mm),
        middle_mm=bending.grip_mm,
        end_mm=max(end.hold_mm, bending.grip_mm),
    )


def _largest_mm(start: PortAt, end: PortAt, bending: Bending) -> float:
    """The largest radius with which one bend or two join the ports, where this one is too large; 0: none does."""
    with_two = largest_radius_mm(_ports_of(start, end, bending), bending.radius_mm)
    return max(with_two, _largest_with_one_bend_mm(start, end, bending))


def _no_way(start: PortAt, end: PortAt, bending: Bending, largest_mm: float | None) -> GeometryError:
    apart_mm = distance_mm(start.datum_mm, end.datum_mm)
    return GeometryError(
        tube_name(start, end),
        f"its ports are {apart_mm:.1f} mm apart, and no straight, single or double bend of radius "
        f"{bending.radius_mm:.4g} mm (as bent) joins them",
        "the bends and the straights beside them must have room"
        if not largest_mm
        else f"the largest radius that would fit is {math.floor(largest_mm * 10) / 10:g} mm",
        "move a box, turn its heading, or name corners for this tube",
        largest_mm,
    )


def _largest_with_one_bend_mm(start: PortAt, end: PortAt, bending: Bending) -> float:
    meeting = nearest_on_lines(start.datum_mm, start.heading, end.datum_mm, scale(end.heading, -1.0))
    if meeting is None or min(meeting) <= 0:
        return 0.0
    gap = distance_mm(add(start.datum_mm, start.heading, meeting[0]), add(end.datum_mm, end.heading, -meeting[1]))
    if gap > bending.fit_up_mm:
        return 0.0
    half = math.tan(angle_rad(start.heading, end.heading) / 2)
    rooms = (
        meeting[0] - max(start.hold_mm, bending.grip_mm),
        meeting[1] - max(end.hold_mm, bending.grip_mm),
    )
    return max(0.0, min(rooms) / half)


def _over_corners(start: PortAt, end: PortAt, bending: Bending, corners: list[Vector]) -> Laid:
    """Port, corner, ..., port; where the first or last leg does not hold the port's heading, with a lead corner."""
    name = tube_name(start, end)
    check_corners([start.datum_mm, *corners, end.datum_mm], [start.name, *_numbered(corners), end.name], name)
    before = _lead_or_error(start, start.heading, corners[0], bending, name)
    after = _lead_or_error(end, scale(end.heading, -1.0), corners[-1], bending, name)
    points = [
        start.datum_mm,
        *before.corner,
        *corners,
        *after.corner,
        end.datum_mm,
    ]
    try:
        line = develop(points, bending.radius_mm)
    except ValueError as cause:
        raise GeometryError(
            tube_name(start, end), str(cause), "each leg must lead on to a new point", "check the corners"
        ) from cause
    check_room(line, start, end, bending, corners)
    pulls = (before.pull_in, after.pull_in)
    return Laid(line, PullIn(max(p.distance_mm for p in pulls), max(p.angle_rad for p in pulls)))


def _numbered(corners: Sequence[Vector]) -> list[str]:
    return [f"corner {number}" for number in range(1, len(corners) + 1)]


def check_corners(points_mm: Sequence[Vector], names: Sequence[str], thing: str) -> None:
    """Raise GeometryError where one of the fitter's points lies on the one before, or sends the tube straight back.

    ``names``: what each point is called; ``thing``: what the tube is.
    """
    for k in range(1, len(points_mm)):
        if distance_mm(points_mm[k - 1], points_mm[k]) < ROOM_MM:
            corner, other = (k, k - 1) if names[k].startswith("corner") else (k - 1, k)
            raise GeometryError(
                thing,
                f"{names[corner]} lies on {names[other]}",
                "each leg must lead on to a new point",
                "measure the corner again, or leave it out",
            )
        if k < 2:
            continue
        turn = angle_rad(sub(points_mm[k - 1], points_mm[k - 2]), sub(points_mm[k], points_mm[k - 1]))
        if turn > SHARPEST_NAMED_RAD:
            here = names[k - 1]
            raise GeometryError(
                thing,
                f"{here} sends it straight back: its leg from there to {names[k]} runs back along the one before",
                f"one bend turns it by less than {math.degrees(SHARPEST_NAMED_RAD):.0f} degrees",
                f"move {here}, or put a corner more between",
            )


def stops_called(line: Centreline, start: str, end: str, corners: Sequence[Vector]) -> list[str]:
    """What the points of a centre line are called: its ports, the fitter's corners by number, lead corners."""
    inner = line.points_mm[1:-1]
    if not corners:
        return [start, *_numbered(inner), end]
    named = [next((k for k, c in enumerate(corners, 1) if distance_mm(c, p) < SAME_MM), None) for p in inner]
    return [start, *(f"corner {number}" if number else "the lead bend" for number in named), end]


class _Lead(Struct, frozen=True):
    """How a port's line comes to the first named corner: over a lead corner, or at once within fit-up."""

    corner: tuple[Vector, ...]
    pull_in: PullIn


def lead_corner(port: PortAt, corner: Vector, bending: Bending, name: str) -> tuple[Vector, ...]:
    """The corner that leads a tube from a port's heading towards its first named corner; empty: none is needed.

    Raises GeometryError, about the tube called ``name``, where no bend does it.
    """
    return _lead_or_error(port, port.heading, corner, bending, name).corner


def _lead_or_error(port: PortAt, away: Vector, corner: Vector, bending: Bending, name: str) -> _Lead:
    lead = _lead(port.datum_mm, away, corner, port, bending)
    if isinstance(lead, _Lead):
        return lead
    raise GeometryError(
        name,
        f"no bend of radius {bending.radius_mm:.4g} mm (as bent) leads from {port.name}'s heading to the corner at "
        f"{_point_text(corner)}",
        "the corner must lie ahead of the port, or far enough to its side"
        if lead <= 0
        else f"the largest radius that would fit is {math.floor(lead * 10) / 10:g} mm",
        "move the corner",
        lead,
    )


def _lead(datum: Vector, away: Vector, corner: Vector, port: PortAt, bending: Bending) -> _Lead | float:
    """The lead from a port to a corner; a float: none, and this is the largest radius with which there is one."""
    way = sub(corner, datum)
    pull_in = PullIn(off_line_mm(corner, datum, away), angle_rad(away, way))
    if pull_in.distance_mm <= bending.fit_up_mm + ROOM_MM and pull_in.angle_rad <= bending.fit_up_rad + ROOM_RAD:
        return _Lead((), pull_in)
    straight = max(port.hold_mm, bending.grip_mm)
    # From the end of the least straight, the tangent to the circle that leaves it towards the corner's side.
    along = dot(way, away) - straight
    aside = off_line_mm(corner, datum, away)
    inside = along**2 + (aside - bending.radius_mm) ** 2 - bending.radius_mm**2
    largest = (along**2 + aside**2) / (2 * aside) if aside > 0 else 0.0
    if inside < 0 or aside == 0.0:
        return largest
    leg = math.sqrt(inside)
    turn = math.atan2(aside - bending.radius_mm, along) + math.atan2(bending.radius_mm, leg)
    if not 0 < turn < SHARPEST_RAD:
        return 0.0
    reach = straight + bending.radius_mm * math.tan(turn / 2)
    return _Lead((add(datum, away, reach),), PullIn(0.0, 0.0))


def needed_mm(line: Centreline, start: PortAt, end: PortAt, bending: Bending) -> tuple[float, ...]:
    """The least length of each straight, [mm]; a tube without bends must hold both its ends."""
    if not line.bends:
        return (start.hold_mm + end.hold_mm,)
    between = [bending.grip_mm] * (len(line.bends) - 1)
    return (max(start.hold_mm, bending.grip_mm), *between, max(end.hold_mm, bending.grip_mm))


def _first_tight_leg(line: Centreline, start: PortAt, end: PortAt, bending: Bending) -> int | None:
    for k, (straight, needed) in enumerate(zip(line.straights_mm, needed_mm(line, start, end, bending), strict=True)):
        if straight < needed - ROOM_MM:
            return k
    return None


def check_room(
    line: Centreline, start: PortAt, end: PortAt, bending: Bending, corners_mm: Sequence[Vector] = ()
) -> None:
    """Raise GeometryError where a leg is shorter than what it must hold.

    ``corners_mm``: the fitter's own, which the error calls by their numbers.
    """
    k = _first_tight_leg(line, start, end, bending)
    if k is None:
        return
    needed = needed_mm(line, start, end, bending)
    legs = [distance_mm(a, b) for a, b in zip(line.points_mm, line.points_mm[1:], strict=False)]
    halves = [0.0, *(math.tan(b.angle_rad / 2) for b in line.bends), 0.0]
    radii = [
        (leg - need) / (halves[i] + halves[i + 1]) if halves[i] + halves[i + 1] else math.inf
        for i, (leg, need) in enumerate(zip(legs, needed, strict=True))
    ]
    ends = stops_called(line, start.name, end.name, corners_mm)
    largest = max(0.0, min(radii)) if "the lead bend" not in ends else None  # a lead bend's place goes by the radius
    taken = legs[k] - line.straights_mm[k]
    raise GeometryError(
        f"{tube_name(start, end)}, leg from {ends[k]} to {ends[k + 1]}",
        f"it is {legs[k]:.1f} mm long, of which the bends take {taken:.1f} mm and leave {line.straights_mm[k]:.1f} mm",
        f"{needed[k]:.1f} mm of it must stay straight",
        f"move the corners apart{_radius_text(largest)}",
        largest,
    )


def _radius_text(largest_mm: float | None) -> str:
    """What a sentence adds about the largest radius that would fit; None: it is not known."""
    if largest_mm is None:
        return ", or bend less sharply"
    if largest_mm == 0.0:
        return "; no radius fits"
    return f"; the largest radius that would fit is {math.floor(largest_mm * 10) / 10:g} mm"


def _point_text(point: Vector) -> str:
    return "(" + ", ".join(f"{c:.1f}" for c in point) + ") mm"
