"""What was really cut: where each flare then sits, whether it still holds, and by how much a box has to move.

Off:   the length really cut less the blank. The rounding up to the rule's step is a part of it. An end that came
       ready-flared with its bar counts as the blank's cut end would: what forming its flare consumes is added.
Room:  how far a flare may sit off the centre of its groove.
Moved: what the grooves cannot take up, the wheelbox at the piece's far end has to move along its heading; the pieces
       that follow are planned from there. Where the tube then runs another way its length does not change by just
       the move, so the move is corrected until the piece as it was cut fits between its boxes.
"""

from __future__ import annotations

import math

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


class BentOff(Struct, frozen=True):
    """How far a piece that was bent by the first plan is from what is needed now."""

    angle_rad: float  # the most that a bend is off; half a turn where another number of bends is needed
    place_mm: float  # the most that a bend lies off along the tube, counted from the end from which that is less


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
    over: bool = False  # still over length, to be trimmed in place
    trimmed: bool = False  # in place, on the vehicle as it is: what is off then is the tape's error
    bent_off: BentOff | None = None  # None: it is not bent yet, or was fitted in place since
    trim_at: str = ""  # the end at which it could still be made shorter

    @property
    def holds(self) -> bool:
        """Whether the flares sit in their grooves with the boxes where they were planned."""
        return self.moved_mm == 0.0


def as_cut(piece: Piece, job: Job, cut: Cut, planned: Piece, *, over: bool = False) -> AsCut:
    """Where a piece's flares come to sit when it was cut as the job says.

    The error is shared between its grooves in proportion to their room; a nose takes none of it. ``planned`` is the
    piece as it is with nothing cut yet. One that is ``over`` length is trimmed before it sits anywhere.
    """
    saved_mm = ready_saves_mm(piece, cut)
    needed_mm, planned_mm = piece.blank_mm - saved_mm, planned.blank_mm - saved_mm
    off_mm = mm(cut.left) - needed_mm
    rooms = groove_room_mm(piece, job)
    room_mm = sum(room or 0.0 for room in rooms)
    free = over or piece.tube.end.name == "end"  # the tail tube may end anywhere
    taken_mm = 0.0 if free else max(-room_mm, min(room_mm, off_mm))
    shares = [None if room is None else (taken_mm * room / room_mm if room_mm else 0.0) for room in rooms]
    moved_mm = 0.0 if free else off_mm - taken_mm
    return AsCut(
        piece.id,
        mm(cut.left),
        off_mm,
        needed_mm,
        planned_mm,
        shares[0],
        None if piece.tube.end.name == "end" else shares[1],
        moved_mm if abs(moved_mm) >= MOVED_MM else 0.0,
        over,
        cut.trimmed is not None,
        _bent_off(piece, planned) if cut.bent and cut.trimmed is None else None,
        _trim_at(piece, cut),
    )


def _bent_off(piece: Piece, planned: Piece) -> BentOff:
    if len(piece.bends) != len(planned.bends):
        return BentOff(math.pi, 0.0)
    pairs = list(zip(piece.bends, planned.bends, strict=True))
    angle_rad = max((abs(now.angle_rad - then.angle_rad) for now, then in pairs), default=0.0)
    off_mm = [
        now.from_rim_mm - then.from_rim_mm
        for now, then in pairs
        if now.from_rim_mm is not None and then.from_rim_mm is not None
    ]
    # What is too long or too short lies beyond the bends, at one end or the other.
    grown_mm = piece.finished_mm - planned.finished_mm
    from_start, from_end = (max((abs(each - less) for each in off_mm), default=0.0) for less in (0.0, grown_mm))
    return BentOff(angle_rad, min(from_start, from_end))


def _trim_at(piece: Piece, cut: Cut) -> str:
    """The end that nothing is formed at yet; of a bent piece only that which its bends do not count from."""
    done = {*cut.ready, *cut.flared}
    free = [port for port, end in zip(piece.tube.ports, piece.ends, strict=True) if port not in done]
    if cut.bent:
        free = [port for port in free if port == piece.tube.ports[1]]
    return free[-1] if free else ""


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


def check_state(piece: Piece, cut: Cut) -> None:
    """Raise JobError where the job calls a plain end flared, or a piece bent that has no bends."""
    for port, end in zip(piece.tube.ports, piece.ends, strict=True):
        for key, named, which in (
            ("ready", cut.ready, "an end that came flared with its bar"),
            ("flared", cut.flared, "an end that gets a flare"),
        ):
            if port in named and end.flare == "plain":
                raise JobError(
                    f"cut {piece.id!r}, {key}",
                    f"at {port} the piece has no flare",
                    f"it must be {which}",
                    f"take {port!r} out of {key}",
                )
        if port in cut.ready and port in cut.flared:
            raise JobError(
                f"cut {piece.id!r}, flared",
                f"its end at {port} came flared",
                "an end is flared once",
                f"take {port!r} out of flared or of ready",
            )
    if cut.bent and not piece.bends:
        raise JobError(
            f"cut {piece.id!r}, bent", "the piece has no bends", "only a piece with bends is bent", "take bent out"
        )


def ready_saves_mm(piece: Piece, cut: Cut) -> float:
    """How much shorter a blank is cut because of the ends that came ready-flared, as the job says, [mm]."""
    return sum(end.consumed_mm for end in _ready_ends(piece, cut))


def _ready_ends(piece: Piece, cut: Cut) -> list[EndFlare]:
    return [end for port, end in zip(piece.tube.ports, piece.ends, strict=True) if port in cut.ready]
