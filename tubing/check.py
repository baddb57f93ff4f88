"""The independent check at the end of a plan: it trusts no stage and repeats none of their formulas.

It walks each tube's bend schedule as the bench would make it, arc by arc round each bend's centre, and must come out at
the tube's end port with the right heading; it looks at each wheelbox's rack line from its spindle; it counts ports.
The bars are added up by :func:`tubing.nesting.check_nest`.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from tubing.centreline.between import Laid
from tubing.errors import CheckError
from tubing.geometry.vectors import (
    Vector,
    across,
    add,
    angle_rad,
    cross,
    distance_mm,
    dot,
    off_line_mm,
    sub,
    turned,
    unit,
)
from tubing.pieces import Piece
from tubing.run.records import Run
from tubing.units import mm

ARRIVES_MM = 1e-5
ARRIVES_RAD = 1e-7


def check_run(run: Run, pieces: Sequence[Piece], names: Sequence[str]) -> None:
    """Raise CheckError unless the run visits each wheelbox once and every piece ends where the next port is."""
    if sorted(box.name for box in run.boxes) != sorted(names):
        raise _failed("run", f"it visits {', '.join(b.name for b in run.boxes)}", f"it had to visit {', '.join(names)}")
    stops = ["nose", *(box.name for box in run.boxes), "end"]
    for piece, (start, end) in zip(pieces, itertools.pairwise(stops), strict=True):
        if piece.id != f"{start}-{end}":
            raise _failed(f"piece {piece.id}", "it is out of order", f"here the run goes from {start} to {end}")
        check_piece(piece)
    for box in run.boxes:
        axis, hole = box.mounting.spindle, box.mounting.hole_mm
        radius_mm = mm(box.mounting.model.pitch_radius)
        away_mm = off_line_mm(box.pitch_point_mm, hole, axis)
        if abs(away_mm - radius_mm) > ARRIVES_MM or abs(dot(box.heading, axis)) > ARRIVES_RAD:
            raise _failed(
                f"wheelbox {box.name}", f"its rack passes {away_mm:.4f} mm off", f"it must be {radius_mm:g} mm"
            )
        right = dot(cross(box.heading, axis), sub(box.pitch_point_mm, hole))
        if right * box.side <= 0:
            raise _failed(
                f"wheelbox {box.name}", "its rack passes on the other side", "it must pass on the side stated"
            )


def check_piece(piece: Piece) -> None:
    """Raise CheckError unless the piece, bent by its schedule from its start port, arrives at its end port."""
    start, end = piece.ends
    if not math.isclose(
        piece.blank_mm, piece.finished_mm + start.consumed_mm + end.consumed_mm, abs_tol=ARRIVES_MM
    ) or not (float(piece.cut_mm) - piece.blank_mm + ARRIVES_MM >= 0):
        raise _failed(f"piece {piece.id}", f"its cut is {float(piece.cut_mm):g} mm", "it must hold the blank")
    if not isinstance(piece.tube.shape, Laid):
        return
    place, heading = _walked(piece)
    slack_rad = 2 * piece.pull_in.angle_rad + ARRIVES_RAD
    slack_mm = 2 * piece.pull_in.distance_mm + math.sin(piece.pull_in.angle_rad) * piece.blank_mm + ARRIVES_MM
    missed_mm = distance_mm(place, piece.tube.end.datum_mm)
    missed_rad = angle_rad(heading, piece.tube.end.heading)
    if missed_mm > slack_mm or missed_rad > slack_rad:
        raise _failed(
            f"piece {piece.id}",
            f"bent by its schedule it ends {missed_mm:.4f} mm and {math.degrees(missed_rad):.4f} deg off",
            f"it must arrive at {piece.tube.end.name}",
        )


def _walked(piece: Piece) -> tuple[Vector, Vector]:
    """Where the blank's end seat comes to lie, and its heading, going only by cut ends, marks, angles and radii."""
    start, end = piece.ends
    place, heading = piece.tube.start.datum_mm, piece.tube.start.heading
    inside = unit(across(piece.first_turn, heading)) if piece.first_turn is not None else None
    reached_mm = start.consumed_mm + start.seat_mm
    for bend in piece.bends:
        assert bend.start_mm is not None
        assert bend.rotation_rad is not None
        assert inside is not None
        place = add(place, heading, bend.start_mm - reached_mm)
        inside = turned(inside, heading, bend.rotation_rad)
        axis, centre = cross(heading, inside), add(place, inside, bend.radius_mm)
        place = add(centre, turned(sub(place, centre), axis, bend.angle_rad))
        heading, inside = turned(heading, axis, bend.angle_rad), turned(inside, axis, bend.angle_rad)
        reached_mm = bend.start_mm + bend.radius_mm * bend.angle_rad
    return add(place, heading, piece.blank_mm - end.consumed_mm - end.seat_mm - reached_mm), heading


def _failed(thing: str, found: str, needed: str) -> CheckError:
    return CheckError(thing, found, needed, "the plan's own check failed: please report this job; do not cut by it")
