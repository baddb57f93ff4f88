"""What was really cut: where each flare then sits, whether it still holds, and by how much a box has to move.

Off:   the length really cut less the blank. The rounding up to the rule's step is a part of it. An end that came
       ready-flared with its bar counts as the blank's cut end would: what forming its flare consumes is added.
Room:  how far a flare may sit off the centre of its groove.
Moved: what the grooves cannot take up, the wheelbox at the piece's far end has to move along its heading; the pieces
       that follow are planned from there. Where the tube then runs another way its length does not change by just
       the move, so the move is corrected until the piece as it was cut fits between its boxes.
"""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from tubing.errors import GeometryError, JobError
from tubing.flares import EndFlare
from tubing.geometry.vectors import add
from tubing.inputs.records import Cut, Job, Shop
from tubing.pieces.blanks import Piece
from tubing.pieces.tolerance import groove_room_mm
from tubing.run.records import Run
from tubing.units import mm, quantity

MOVED_MM = 0.05  # less than this is no move: it is printed as 0.0


class AsCut(Struct, frozen=True):
    """One piece as it was really cut."""

    piece: str
    length_mm: float
    off_mm: float  # longer than the blank; below 0 shorter
    needed_mm: float  # the length that would have been right, with the boxes where the pieces before it put them
    planned_mm: float  # the same with all boxes where the job has them
    start_mm: float | None  # how far the flare sits from its groove's centre, away from the tube; None: no groove
    end_mm: float | None
    moved_mm: float  # by how much the box at its end moves along its heading; 0: it stays

    @property
    def holds(self) -> bool:
        """Whether the flares sit in their grooves with the boxes where they were planned."""
        return self.moved_mm == 0.0


def as_cut(piece: Piece, job: Job, cut: Cut, planned: Piece) -> AsCut:
    """Where a piece's flares come to sit when it was cut as the job says.

    The error is shared between its grooves in proportion to their room; a nose takes none of it. ``planned`` is the
    piece as it is with nothing cut yet.
    """
    length_mm = mm(cut.length)
    saved_mm = sum(end.consumed_mm for end in _ready_ends(piece, cut))
    needed_mm, planned_mm = piece.blank_mm - saved_mm, planned.blank_mm - saved_mm
    off_mm = length_mm - needed_mm
    rooms = groove_room_mm(piece, job)
    room_mm = sum(room or 0.0 for room in rooms)
    if piece.tube.end.name == "end":  # the tail tube may end anywhere
        start_mm = None if rooms[0] is None else 0.0
        return AsCut(piece.id, length_mm, off_mm, needed_mm, planned_mm, start_mm, None, 0.0)
    taken_mm = max(-room_mm, min(room_mm, off_mm))
    shares = [None if room is None else (taken_mm * room / room_mm if room_mm else 0.0) for room in rooms]
    moved_mm = off_mm - taken_mm
    return AsCut(
        piece.id,
        length_mm,
        off_mm,
        needed_mm,
        planned_mm,
        shares[0],
        shares[1],
        moved_mm if abs(moved_mm) >= MOVED_MM else 0.0,
    )


def with_box_moved(job: Job, run: Run, cut: AsCut, piece: Piece) -> Job:
    """The job with the box at the piece's end moved along its heading, and all headings and sides held as chosen.

    A tube whose length was measured with a wire, to that box or from it, is so much longer or shorter then.
    """
    chosen = {box.name: box for box in run.boxes}
    held = {
        name: replace(m, heading=chosen[name].heading, side=chosen[name].side) if name in chosen else m
        for name, m in job.mountings.items()
    }
    name = piece.tube.end.name
    held[name] = replace(held[name], hole_mm=add(held[name].hole_mm, chosen[name].heading, cut.moved_mm))
    grown_mm = {piece.tube.ports: cut.moved_mm}
    grown_mm |= {tube.ports: -cut.moved_mm for tube in run.tubes if tube.start.name == name and tube.end.name != "end"}
    between = tuple(
        replace(tube, measured=tube.measured + quantity(grown_mm[tube.start, tube.end], "mm"))
        if tube.measured is not None and (tube.start, tube.end) in grown_mm
        else tube
        for tube in job.between
    )
    return replace(job, mountings=held, between=between, order="written")


def no_place(cut: AsCut) -> GeometryError:
    """The error of a piece that fits nowhere along the heading of the box at its end."""
    return GeometryError(
        f"piece {cut.piece}",
        f"it was cut {cut.length_mm:.1f} mm long and needed {cut.needed_mm:.1f} mm",
        "moving the wheelbox at its end along its heading must make up for that, and no place was found that does",
        "cut the piece again, and take its [[cut]] out of the job",
    )


def no_longer_ready(piece: Piece, cut: Cut, shop: Shop) -> list[EndFlare]:
    """The ends that came ready-flared, as the job says, from a bar that is not among the shop's stock now."""
    known = {(end.flare, end.nut) for bar in shop.stock for end in bar.ready_ends}
    return [end for end in _ready_ends(piece, cut) if (end.flare, end.nut) not in known]


def check_ready(piece: Piece, cut: Cut) -> None:
    """Raise JobError where the job calls a plain end ready-flared."""
    for port, end in zip(piece.tube.ports, piece.ends, strict=True):
        if port in cut.ready and end.flare == "plain":
            raise JobError(
                f"cut {piece.id!r}, ready",
                f"at {port} the piece has no flare",
                "it must be an end that came flared with its bar",
                f"take {port!r} out of ready",
            )


def _ready_ends(piece: Piece, cut: Cut) -> list[EndFlare]:
    return [end for port, end in zip(piece.tube.ports, piece.ends, strict=True) if port in cut.ready]
