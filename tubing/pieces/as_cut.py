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

from tubing.errors import JobError
from tubing.flares import EndFlare
from tubing.geometry.vectors import add
from tubing.inputs.records import Cut, Job
from tubing.pieces.blanks import Piece
from tubing.pieces.tolerance import groove_room_mm
from tubing.run.records import Run
from tubing.units import mm

MOVED_MM = 1e-6  # less than this is no move


class AsCut(Struct, frozen=True):
    """One piece as it was really cut."""

    piece: str
    length_mm: float
    off_mm: float  # longer than the blank; below 0 shorter
    start_mm: float | None  # how far the flare sits from its groove's centre, away from the tube; None: no groove
    end_mm: float | None
    moved_mm: float  # by how much the box at its end moves along its heading; 0: it stays

    @property
    def holds(self) -> bool:
        """Whether the flares sit in their grooves with the boxes where they were planned."""
        return abs(self.moved_mm) < MOVED_MM


def as_cut(piece: Piece, job: Job, cut: Cut) -> AsCut:
    """Where a piece's flares come to sit when it was cut as the job says.

    The error is shared between its grooves in proportion to their room; a nose takes none of it.
    """
    length_mm = mm(cut.length)
    off_mm = length_mm + sum(end.consumed_mm for end in _ready_ends(piece, cut)) - piece.blank_mm
    rooms = groove_room_mm(piece, job)
    room_mm = sum(room or 0.0 for room in rooms)
    if piece.tube.end.name == "end":  # the tail tube may end anywhere
        return AsCut(piece.id, length_mm, off_mm, None if rooms[0] is None else 0.0, None, 0.0)
    taken_mm = max(-room_mm, min(room_mm, off_mm))
    shares = [None if room is None else (taken_mm * room / room_mm if room_mm else 0.0) for room in rooms]
    return AsCut(piece.id, length_mm, off_mm, shares[0], shares[1], off_mm - taken_mm)


def with_box_moved(job: Job, run: Run, cut: AsCut, piece: Piece) -> Job:
    """The job with the box at the piece's end moved along its heading, and all headings and sides held as chosen."""
    chosen = {box.name: box for box in run.boxes}
    held = {
        name: replace(m, heading=chosen[name].heading, side=chosen[name].side) if name in chosen else m
        for name, m in job.mountings.items()
    }
    name = piece.tube.end.name
    held[name] = replace(held[name], hole_mm=add(held[name].hole_mm, chosen[name].heading, cut.moved_mm))
    return replace(job, mountings=held, order="written")


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
