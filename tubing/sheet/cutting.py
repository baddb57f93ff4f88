"""The cut list, how sure its lengths are, the finished pieces, clips, and what is in the way."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction

from tubing.pieces.as_cut import AsCut
from tubing.pieces.blanks import Piece
from tubing.pieces.clips import Clip
from tubing.pieces.sawn import SawnBlank
from tubing.pieces.tolerance import Tolerance
from tubing.run.clearances import Clearance
from tubing.sheet.records import Cell, Column, Table
from tubing.sheet.words import end_text, listed, short_length
from tubing.units import rounded


def places_of(step_mm: Fraction) -> int:
    """The decimals that show a length in whole steps of the rule; two at most."""
    return next((places for places in (1, 2) if (step_mm * 10**places).denominator == 1), 2)


def cut_list(blanks: Sequence[SawnBlank], step_mm: Fraction, cuts: Sequence[AsCut] = ()) -> Table:
    """What to cut, and how its ends are formed; a piece that uses a ready end of its bar is cut shorter."""
    places = places_of(step_mm)
    return Table(
        "Cut list",
        (
            Column("piece"),
            Column("cut", "mm", places),
            Column("from"),
            Column("its end"),
            Column("to"),
            Column("its end"),
            Column("bends"),
        ),
        tuple(
            (
                blank.piece.id,
                blank.length_mm,
                blank.piece.tube.start.name,
                _formed(blank, 0),
                blank.piece.tube.end.name,
                _formed(blank, 1),
                len(blank.piece.bends),
            )
            for blank in blanks
        ),
        after=(
            "Cut lengths are of the straight blank, before flaring and bending, rounded up to "
            f"{short_length(step_mm, 'mm')}.",
            *_exceptions(blanks, places, cuts),
        ),
    )


def _exceptions(blanks: Sequence[SawnBlank], places: int, cuts: Sequence[AsCut]) -> list[str]:
    """The pieces that are cut already, and those that use a flared end of their bar."""
    said = [
        f"{blank.piece.id}: was cut already; its length is what was cut"
        + (", and the saw list still has it on its bar." if blank.sawn_from is None else ".")
        for blank in blanks
        if blank.piece.id in {cut.piece for cut in cuts}
    ]
    sawn = [f"{blank.piece.id} from bar {blank.sawn_from}" for blank in blanks if blank.sawn_from is not None]
    said += [f"Sawn by the shelf's book: {listed(sawn)}."] if sawn else []
    said += [
        f"{blank.piece.id}: its end at {port} is the end of a bar that comes flared; it is cut "
        f"{rounded(blank.length_mm, places)} mm, and not flared there."
        for blank in blanks
        for port, ready in zip(blank.piece.tube.ports, blank.ready, strict=True)
        if ready
    ]
    over = [
        f"{blank.piece.id} by {rounded(blank.over_mm, places)} mm at {blank.ports[1]}, to "
        f"{rounded(blank.length_mm - blank.over_mm, places)} mm, more or less"
        for blank in blanks
        if blank.over_end is not None
    ]
    if over:
        said.append(
            f"Over length, to be trimmed in place: {'; '.join(over)}. The tape is not sure enough to cut them unseen."
        )
    return said


MATTERS = {"bender": "the bender: springback", "flare": "what a flare takes"}


def sureness_table(tolerances: Mapping[str, Tolerance]) -> Table:
    """How far each blank may be off by the tape's error, beside what its grooves take up."""
    return Table(
        "How sure the lengths are",
        (
            Column("piece"),
            Column("likely off", "mm"),
            Column("at worst", "mm"),
            Column("grooves take up", "mm"),
            Column("mark in place"),
            Column("matters most"),
        ),
        tuple(
            (
                name,
                each.likely_mm,
                each.worst_mm,
                each.takes_up_mm,
                "yes" if each.mark_in_place else "no",
                MATTERS.get(each.source) or each.most or "nothing measured",
            )
            for name, each in tolerances.items()
        ),
        before=(
            "By the measuring error that the job states and by how sure the trials are: either way, of the blank's "
            "length.",
        ),
    )


def as_cut_table(cuts: Sequence[AsCut]) -> Table:
    """The pieces that were cut already, and where their flares come to sit."""
    return Table(
        "As it was cut",
        (
            Column("piece"),
            Column("was cut", "mm"),
            Column("too long", "mm"),
            Column("flare off its groove at from", "mm"),
            Column("at to", "mm"),
            Column("box at to moves", "mm"),
        ),
        tuple((cut.piece, cut.length_mm, cut.off_mm, cut.start_mm, cut.end_mm, cut.moved_mm) for cut in cuts),
        before=("Too long: less than nothing is too short. Off its groove: away from the tube.",),
    )


def clips_table(clips: Sequence[Clip]) -> Table:
    """Where the tubes are held on the vehicle."""
    rows: list[tuple[Cell, ...]] = [
        (clip.piece, clip.from_rim_mm, *(clip.position_mm or (None, None, None))) for clip in clips
    ]
    return Table(
        "Clips",
        (Column("piece"), Column("from rim", "mm"), Column("x", "mm"), Column("y", "mm"), Column("z", "mm")),
        tuple(rows),
        before=("From the rim at the piece's start, along the finished tube; x, y, z on the vehicle.",),
    )


def clearances_table(clearances: Sequence[Clearance]) -> Table:
    """The things in the way, with the room that was asked for and the room that is left."""
    return Table(
        "In the way",
        (
            Column("thing"),
            Column("kind"),
            Column("to keep clear", "mm"),
            Column("clear by", "mm"),
            Column("nearest piece"),
        ),
        tuple((each.name, each.kind, each.asked_mm, each.left_mm, each.piece) for each in clearances),
        before=("From the tube's outside to the thing, where they come nearest.",),
    )


def _formed(blank: SawnBlank, end: int) -> str:
    text = end_text(blank.piece.ends[end])
    return f"{text}, ready" if blank.ready[end] else text


def fit_list(pieces: Sequence[Piece]) -> Table:
    """Lengths once formed, radii, and what is pulled into place by hand."""
    return Table(
        "Finished pieces",
        (
            Column("piece"),
            Column("rim to rim along the tube", "mm"),
            Column("straight, with a tape", "mm"),
            Column("least radius, tube", "mm", 0),
            Column("least radius, rack", "mm", 0),
            Column("pull in", "mm"),
            Column("pull in", "deg"),
        ),
        tuple(
            (
                piece.id,
                piece.finished_mm,
                # Of a tube measured with a wire this is only as good as the wire was laid.
                piece.rim_to_rim_mm,
                piece.least_radius.tube_mm,
                piece.least_radius.rack_mm,
                piece.pull_in.distance_mm,
                math.degrees(piece.pull_in.angle_rad),
            )
            for piece in pieces
        ),
        after=("Rims are the flares' largest diameters; a plain end counts to its cut.",),
    )
