"""What the errors of tape and tools do to each blank, and which matters most.

Each measured point may be off by the stated error in any direction. How much a blank grows with a point is found by
moving the point a little each way and laying the tube again: nose, holes and named corners, through the whole geometry.
Headings and sides stay as they are, for the fitter sets them by the plan. What trials taught is sure only so far: the
radius that a bend ends up at, and what a flare takes, each the same for all that use it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from tubing.centreline.between import Bending, Laid, PortAt, tube_between
from tubing.errors import GeometryError
from tubing.geometry.bends import gain_mm
from tubing.geometry.vectors import Vector, add, norm
from tubing.inputs.records import Job
from tubing.pieces.blanks import Piece
from tubing.units import mm

STEP_MM = 0.01  # a point is moved by this to see what its error does
HAIR_MM, HAIR_RAD = 2 * STEP_MM, 1e-3  # by how much that step may put a tube of 10 mm out of line
JUMP_MM = 1.0  # a tube whose length changes by more at that step is another one, laid another way
MOST_SLOPE = 10.0  # of a tube that no step leaves as it is: so much longer for 1 mm of error
MOVES: tuple[Vector, ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


class Tools(Struct, frozen=True):
    """How far what trials taught may be off, either way, with 95 % confidence; nothing where nothing was tried."""

    radius_mm: float = 0.0  # of a bend as it stays
    flares_mm: Mapping[str, float] = {}  # what one flare takes, by kind


SURE = Tools()


class Tolerance(Struct, frozen=True):
    """How far a blank may be off."""

    likely_mm: float  # root of the sum of squares
    worst_mm: float  # all at once, each the worst way
    takes_up_mm: float  # what the grooves at its ends can take up, either way
    most: str | None  # the measurement that matters most; None: none matters
    tape_mm: float  # of the worst, what comes from the tape
    bender_mm: float = 0.0  # and from how sure the bends' radius is
    flare_mm: float = 0.0  # and from how sure it is what a flare takes

    @property
    def source(self) -> Literal["tape", "bender", "flare"]:
        """Which of the three adds most to the worst."""
        if self.tape_mm >= max(self.bender_mm, self.flare_mm):
            return "tape"
        return "bender" if self.bender_mm >= self.flare_mm else "flare"

    @property
    def mark_in_place(self) -> bool:
        """Whether the piece is to be marked in place, for its grooves cannot take the worst error up."""
        return self.worst_mm > self.takes_up_mm


def tolerance(piece: Piece, job: Job, bending: Bending, error_mm: float, tools: Tools = SURE) -> Tolerance:
    """What an error of ``error_mm`` at each measured point, and those of the tools, do to one piece.

    The tail tube's length comes from the drive, not from the tape: the tape's share in it is 0.
    """
    shares = _shares_mm(piece_slopes(piece, job, bending), job, error_mm)
    tape_mm, bender_mm, flare_mm = math.fsum(shares.values()), _bender_mm(piece, tools), _flare_mm(piece, tools)
    return Tolerance(
        likely_mm=math.hypot(*shares.values(), bender_mm, flare_mm),
        worst_mm=tape_mm + bender_mm + flare_mm,
        takes_up_mm=takes_up_mm(piece, job),
        most=max(shares, key=lambda name: shares[name]) if any(s > 1e-9 for s in shares.values()) else None,
        tape_mm=tape_mm,
        bender_mm=bender_mm,
        flare_mm=flare_mm,
    )


def _shares_mm(slopes: Mapping[str, Vector], job: Job, error_mm: float) -> dict[str, float]:
    """What each measurement's error does to a piece: of squared-off points each point, of taped ones each reading."""
    taped = job.taped.stands_for if job.taped is not None else {}
    shares = {called(name): error_mm * norm(slope) for name, slope in slopes.items() if name not in taped}
    by_point: dict[str, Vector] = {}
    for name, slope in slopes.items():
        if name in taped:
            by_point[taped[name]] = add(by_point.get(taped[name], (0.0, 0.0, 0.0)), slope)
    if job.taped is not None and by_point:
        shares |= job.taped.measured.shares_mm(by_point)
    return shares


def _bender_mm(piece: Piece, tools: Tools) -> float:
    """What the bends' radius does to a piece between two ports: each bend gains 2 tan(angle / 2) - angle of it."""
    if not isinstance(piece.tube.shape, Laid) or piece.tube.end.name == "end":
        return 0.0
    return tools.radius_mm * math.fsum(gain_mm(1.0, angle) for angle in piece.tube.bend_angles_rad)


def _flare_mm(piece: Piece, tools: Tools) -> float:
    """What the flares' means do: those of one kind are off together, the kinds for themselves."""
    each = tools.flares_mm.items()
    return math.hypot(*(sum(end.flare == kind for end in piece.ends) * sure_mm for kind, sure_mm in each))


def takes_up_mm(piece: Piece, job: Job) -> float:
    """How far the piece may be too long or too short and still sit in its grooves, [mm]."""
    return math.fsum(room for room in groove_room_mm(piece, job) if room is not None)


def groove_room_mm(piece: Piece, job: Job) -> tuple[float | None, float | None]:
    """How far each end's flare may sit off its groove's centre, [mm]; None: no flare in a groove at that end."""
    rooms: list[float | None] = []
    for port, end in zip((piece.tube.start, piece.tube.end), piece.ends, strict=True):
        mounting = job.mountings.get(port.name)
        if mounting is None or end.flare == "plain":
            rooms.append(None)
        else:
            rooms.append(max(0.0, (mm(mounting.model.groove_width) - end.height_mm) / 2))
    return rooms[0], rooms[1]


def piece_slopes(piece: Piece, job: Job, bending: Bending) -> dict[str, Vector]:
    """For each measured point, by its name: how the blank's length changes with its coordinates, [mm per mm]."""
    tube = piece.tube
    if tube.end.name == "end":
        return {}
    if not isinstance(tube.shape, Laid):
        return {f"length measured from {tube.start.name} to {tube.end.name}": (1.0, 0.0, 0.0)}
    corners = _named_corners(piece, job, bending)

    # A tube at the very limit of fit-up is still pulled into place when a point is moved by the step.
    wider = replace(bending, fit_up_mm=bending.fit_up_mm + HAIR_MM, fit_up_rad=bending.fit_up_rad + HAIR_RAD)

    def length_mm(start: PortAt, end: PortAt, way: tuple[Vector, ...]) -> float | None:
        for allowed in (bending, wider):
            try:
                line = tube_between(start, end, allowed, way).line
            except GeometryError:
                continue
            same = len(line.bends) == len(tube.bend_angles_rad) and abs(line.length_mm - tube.length_mm) < JUMP_MM
            if same:
                return line.length_mm
        return None

    def port_moved(port: PortAt, by: Vector) -> PortAt:
        return replace(port, datum_mm=add(port.datum_mm, by))

    slopes = {
        tube.start.name: _slope(lambda by: length_mm(port_moved(tube.start, by), tube.end, corners)),
        tube.end.name: _slope(lambda by: length_mm(tube.start, port_moved(tube.end, by), corners)),
    }
    if corners == said_corners(piece, job):
        for k in range(len(corners)):
            slopes[f"corner {k + 1} of {piece.id}"] = _slope(
                lambda by, k=k: length_mm(  # type: ignore[misc]
                    tube.start, tube.end, (*corners[:k], add(corners[k], by), *corners[k + 1 :])
                )
            )
    return slopes


def said_corners(piece: Piece, job: Job) -> tuple[Vector, ...]:
    """The corners that the fitter named for a piece."""
    return next((t.corners_mm for t in job.between if (t.start, t.end) == piece.tube.ports), ())


def _named_corners(piece: Piece, job: Job, bending: Bending) -> tuple[Vector, ...]:
    """The corners that fix where the tube runs: the fitter's, or those that lead it round something in the way."""
    said = said_corners(piece, job)
    assert isinstance(piece.tube.shape, Laid)
    try:
        direct = tube_between(piece.tube.start, piece.tube.end, bending, said).line.length_mm
    except GeometryError:
        direct = math.inf
    return said if abs(direct - piece.tube.length_mm) < 1e-6 else piece.tube.shape.line.points_mm[1:-1]


def _slope(length_mm: Callable[[Vector], float | None]) -> Vector:
    """The gradient of a tube's length: central differences, or one-sided where no such tube is on one side."""
    parts: list[float] = []
    here = length_mm((0.0, 0.0, 0.0))
    for move in MOVES:
        there, back = (length_mm((move[0] * s, move[1] * s, move[2] * s)) for s in (STEP_MM, -STEP_MM))
        if there is not None and back is not None:
            parts.append((there - back) / (2 * STEP_MM))
        elif here is not None and (there is not None or back is not None):
            parts.append(((there - here) if there is not None else (here - back)) / STEP_MM)  # type: ignore[operator]
        else:
            return (MOST_SLOPE, 0.0, 0.0)
    return parts[0], parts[1], parts[2]


def called(name: str) -> str:
    """What a measurement is called: a port by its place, a corner and a wire's length by their own names."""
    if name == "nose":
        return "position of the nose"
    return name if name.startswith(("corner ", "length measured ")) else f"hole of {name}"
