"""The cut list, and for each bent piece its marks and bends."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from fractions import Fraction

from tubing.pieces.as_cut import AsCut
from tubing.pieces.blanks import Piece
from tubing.pieces.clips import Clip
from tubing.pieces.sawn import BendMark, SawnBlank
from tubing.pieces.tolerance import Tolerance
from tubing.run.clearances import Clearance
from tubing.sheet.records import Cell, Column, Show, Table
from tubing.sheet.words import angle_text, end_text, length_text, short_length, way_text
from tubing.units import rounded

STRAIGHT_DEG = 0.05  # a rotation within this of 0 or 180 is told in words: same side, or opposite side


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
        f"{cut.piece}: was cut already; its length is what was cut, and the saw list still has it on its bar."
        for cut in cuts
    ]
    said += [
        f"{blank.piece.id}: its end at {port} is the end of a bar that comes flared; it is cut "
        f"{rounded(blank.length_mm, places)} mm, and not flared there."
        for blank in blanks
        for port, ready in zip(blank.piece.tube.ports, blank.ready, strict=True)
        if ready
    ]
    said += [
        f"{blank.piece.id}: cut {rounded(blank.over_mm, places)} mm over length at {blank.ports[1]}, to be trimmed in "
        f"place to {rounded(blank.length_mm - blank.over_mm, places)} mm, more or less: the tape is not sure enough to "
        "cut it unseen."
        for blank in blanks
        if blank.over_end is not None
    ]
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


def schedules(blanks: Sequence[SawnBlank], diameter_mm: float, step_mm: Fraction, show: Show) -> tuple[Table, ...]:
    """The marks and bends of every bent piece."""
    return tuple(_schedule(blank, diameter_mm, places_of(step_mm), show) for blank in blanks if blank.piece.bends)


def _schedule(blank: SawnBlank, diameter_mm: float, places: int, show: Show) -> Table:
    columns, rows = _bend_rows(blank)
    return Table(
        "Bends of",
        columns,
        rows,
        before=(_how_to_mark(blank, show),),
        after=tuple(_after(blank, diameter_mm, show)),
        subject=f"{blank.piece.id}, cut {length_text(blank.length_mm, show, places)}",
        piece=blank.piece.id,
    )


def _bend_rows(blank: SawnBlank) -> tuple[tuple[Column, ...], tuple[tuple[Cell, ...], ...]]:
    """The places that are known of each bend, then its angle and radius."""
    places: tuple[Column, ...] = ()
    known = blank.piece.bends_known
    if known and not blank.counts_from_rim:
        places = (
            Column("starts, from cut end", "mm"),
            Column("ends, from cut end", "mm"),
            Column("starts, from rim", "mm"),
        )
    elif known:
        places = (Column("starts, from rim", "mm"), Column("ends, from rim", "mm"))
    shape = (Column("angle", "deg"), Column("set to", "deg"), Column("radius as bent", "mm"))
    turned = (Column("rotation", "deg"),) if known else ()
    rows = []
    for mark in blank.marks:
        angles: tuple[Cell, ...] = (math.degrees(mark.angle_rad), math.degrees(mark.set_rad), mark.radius_mm)
        rotation = () if mark.rotation_rad is None else (math.degrees(mark.rotation_rad),)
        rows.append((mark.number, *_marks_mm(blank, mark), *angles, *rotation))
    return (Column("bend"), *places, *shape, *turned), tuple(rows)


def _marks_mm(blank: SawnBlank, mark: BendMark) -> tuple[float, ...]:
    """Where a bend starts and ends along the tube; nothing where its place is not known."""
    if mark.start_mm is None or mark.end_mm is None or mark.rim_start_mm is None:
        return ()
    return (mark.start_mm, mark.end_mm, *(() if blank.counts_from_rim else (mark.rim_start_mm,)))


def _how_to_mark(blank: SawnBlank, show: Show) -> str:
    first, last = blank.ports
    if not blank.piece.bends_known:
        return (
            "This tube was measured with a wire: its bends are known by angle only. Bend it where the wire bent, and "
            "try it in place before the second end is flared."
        )
    over = ""
    if blank.over_end is not None:
        over = f" The other end, at {last}, is {length_text(blank.over_mm, show)} over length: trim it in place."
    if blank.counts_from_rim:
        return f"The end that goes to {first} comes flared: measure from its rim.{over}"
    return (
        f"Mark the bends before flaring, from the cut end that goes to {first}. The rim column is for checking once "
        f"that end is flared.{over}"
    )


def _after(blank: SawnBlank, diameter_mm: float, show: Show) -> list[str]:
    said, piece = [], blank.piece
    if piece.bends_known:
        first = blank.marks[0].number
        way = f" In the vehicle bend {first} goes {way_text(blank.first_turn)}." if blank.first_turn else ""
        said.append(f"Draw a line along the blank: the inside of bend {first}.{way}")
        said += [
            side_text(mark, before.number, blank.ports[0], diameter_mm, show)
            for before, mark in itertools.pairwise(blank.marks)
        ]
        said.append(
            f"Check with a tape, straight from rim to rim: {length_text(piece.rim_to_rim_mm, show)}; along the tube "
            f"{length_text(piece.finished_mm, show)}."
        )
    else:
        said.append(f"Rim to rim along the tube: {length_text(piece.finished_mm, show)}.")
    return said


def side_text(mark: BendMark, number_before: int, start: str, diameter_mm: float, show: Show) -> str:
    """On which side of the tube a bend goes, by a line along the blank; it never says which way to turn the tube.

    ``start``: the end to look from, the one that marks count from.
    """
    assert mark.rotation_rad is not None, "asked only where the bends' places are known"
    rotation_deg, number = math.degrees(mark.rotation_rad), mark.number
    before = f"bend {number_before}"
    if abs(rotation_deg) < STRAIGHT_DEG:
        return f"Bend {number}: its inside lies on the same side of the tube as that of {before}."
    if abs(rotation_deg) > 180 - STRAIGHT_DEG:
        return f"Bend {number}: its inside lies on the opposite side of the tube to that of {before}."
    round_mm = abs(mark.rotation_rad) * diameter_mm / 2
    side = "right" if rotation_deg > 0 else "left"
    return (
        f"Bend {number}: look along the tube from the {start} end with the inside of {before} on top; the inside of "
        f"bend {number} lies {angle_text(abs(rotation_deg))} round to the {side}, "
        f"{length_text(round_mm, show)} round the outside of the tube."
    )
