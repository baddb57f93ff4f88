"""A tube bent by its schedule, leg by leg, as the bench would make it; and the error of a check that fails."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from tubing.errors import CheckError
from tubing.geometry.vectors import (
    Vector,
    across,
    add,
    cross,
    sub,
    turned,
    unit,
)
from tubing.pieces.blanks import Piece


class WalkedLeg(Struct, frozen=True):
    """A straight, or the arc of a bend, of a tube bent by its schedule."""

    start_mm: Vector
    heading: Vector  # where it starts
    length_mm: float
    centre_mm: Vector | None = None  # of the arc; None: it is straight
    radius_mm: float = 0.0

    def place_mm(self, along_mm: float) -> Vector:
        """The point so far along it."""
        if self.centre_mm is None:
            return add(self.start_mm, self.heading, along_mm)
        arm = sub(self.start_mm, self.centre_mm)
        axis = unit(cross(arm, self.heading))
        return add(self.centre_mm, turned(arm, axis, along_mm / self.radius_mm))


def walked_legs(piece: Piece, leaves: Vector) -> Iterator[WalkedLeg]:
    """The straights and arcs of a blank in turn, from seat to seat, going only by rims, marks, angles and radii.

    ``leaves``: the direction in which it is laid into its first seat.
    """
    start, end = piece.ends
    place, heading = piece.tube.start.datum_mm, leaves
    inside = unit(across(piece.first_turn, heading)) if piece.first_turn is not None else None
    reached_mm = start.seat_mm
    for bend in piece.bends:
        assert bend.from_rim_mm is not None
        assert bend.rotation_rad is not None
        assert inside is not None
        straight = WalkedLeg(place, heading, bend.from_rim_mm - reached_mm)
        yield straight
        place = straight.place_mm(straight.length_mm)
        inside = turned(inside, heading, bend.rotation_rad)
        axis, centre = cross(heading, inside), add(place, inside, bend.radius_mm)
        yield WalkedLeg(place, heading, bend.radius_mm * bend.angle_rad, centre, bend.radius_mm)
        place = add(centre, turned(sub(place, centre), axis, bend.angle_rad))
        heading, inside = turned(heading, axis, bend.angle_rad), turned(inside, axis, bend.angle_rad)
        reached_mm = bend.from_rim_mm + bend.radius_mm * bend.angle_rad
    yield WalkedLeg(place, heading, piece.finished_mm - end.seat_mm - reached_mm)


def failed(thing: str, found: str, needed: str) -> CheckError:
    return CheckError(thing, found, needed, "the plan's own check failed: please report this job; do not cut by it")
