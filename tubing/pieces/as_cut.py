"""What was really cut: where each flare then sits, whether it still holds, and by how much a box has to move.

Off:   the length really cut less the blank. The rounding up to the rule's step is a part of it. An end that came
       ready-flared with its bar counts as the blank's cut end would: what forming its flare consumes is added.
Room:  how far a flare may sit off the centre of its groove.
Moved: what the grooves cannot take up, the wheelbox at the piece's far end has to move along its heading; the pieces
       that follow are planned from there.
"""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from tubing.centreline.between import Laid
from tubing.errors import JobError
from tubing.flares import EndFlare
from tubing.geometry.vectors import add
from tubing.inputs.records import Cut, Job, TubeBetween
from tubing.pieces.blanks import Piece
from tubing.pieces.tolerance import groove_room_mm
from tubing.run.records import Run
from tubing.units import mm, quantity

MOVED_MM = 0.05  # less than this is no move: it would be printed as 0.0 mm


class AsCut(Struct, frozen=True):
    """One piece as it was really cut."""

    piece: str
    length_mm: float
    off_mm: float  # longer than the blank, with the boxes before it where they come to be; below 0 shorter
    planned_off_mm: float  # longer than the blank that was planned before any box was moved
    start_mm: float | None  # how far the flare sits from its groove's centre, away from the tube; None: no groove
    end_mm: float | None
    moved_mm: float  # by how much the box at its end moves along its heading; 0: it stays

    @property
    def holds(self) -> bool:
        """Whether the flares sit in their grooves with the boxes where they were planned."""
        return abs(self.moved_mm) < MOVED_MM


def as_cut(piece: Piece, job: Job, cut: Cut, planned_mm: float) -> AsCut:
    """Where a piece's flares come to sit when it was cut as the job says.

    The error is shared between its grooves in proportion to their room; a nose takes none of it. What is left and
    would be printed as nothing moves no box. ``planned_mm``: its blank as planned before any box was moved.
    """
    length_mm = mm(cut.length)
    formed_mm = length_mm + sum(end.consumed_mm for end in _ready_ends(piece, cut))
    off_mm, planned_off_mm = formed_mm - piece.blank_mm, formed_mm - planned_mm
    rooms = groove_room_mm(piece, job)
    room_mm = sum(room or 0.0 for room in rooms)
    if piece.tube.end.name == "end":  # the tail tube may end anywhere
        return AsCut(piece.id, length_mm, off_mm, planned_off_mm, None if rooms[0] is None else 0.0, None, 0.0)
    taken_mm = max(-room_mm, min(room_mm, off_mm))
    if abs(off_mm - taken_mm) < MOVED_MM:
        taken_mm = off_mm
    shares = [None if room is None else (taken_mm * room / room_mm if room_mm else 0.0) for room in rooms]
    return AsCut(piece.id, length_mm, off_mm, planned_off_mm, shares[0], shares[1], off_mm - taken_mm)


def with_box_moved(job: Job, run: Run, cut: AsCut, piece: Piece, *, as_bent: bool) -> Job:
    """The job with the box at the piece's end moved along its heading, and all headings and sides held as chosen.

    ``as_bent``: the piece's corners are held where they are. A tube measured with a wire, to that box or from it, is
    longer or shorter by the move.
    """
    chosen = {box.name: box for box in run.boxes}
    held = {
        name: replace(m, heading=chosen[name].heading, side=chosen[name].side) if name in chosen else m
        for name, m in job.mountings.items()
    }
    name = piece.tube.end.name
    held[name] = replace(held[name], hole_mm=add(held[name].hole_mm, chosen[name].heading, cut.moved_mm))
    between = {(said.start, said.end): said for said in job.between}
    if as_bent and isinstance(piece.tube.shape, Laid) and (corners_mm := piece.tube.shape.line.points_mm[1:-1]):
        said = between.get(piece.tube.ports, TubeBetween(*piece.tube.ports))
        between[piece.tube.ports] = replace(said, corners_mm=corners_mm)
    for ports, said in between.items():
        if said.measured is not None and name in ports and "end" not in ports:
            by_mm = cut.moved_mm if name == ports[1] else -cut.moved_mm
            between[ports] = replace(said, measured=quantity(mm(said.measured) + by_mm, "mm"))
    return replace(job, mountings=held, order="written", between=tuple(between.values()))


def check_ready(piece: Piece, cut: Cut) -> None:
    """Raise JobError where the job calls an end ready that is not flared at all."""
    for port, end in zip(piece.tube.ports, piece.ends, strict=True):
        if port in cut.ready and end.flare == "plain":
            raise JobError(
                f"cut {piece.id!r}, ready",
                f"its end at {port} is left plain",
                "it must be a flared end that was the bar's own",
                "take it out of ready",
            )


def _ready_ends(piece: Piece, cut: Cut) -> list[EndFlare]:
    return [end for port, end in zip(piece.tube.ports, piece.ends, strict=True) if port in cut.ready]
