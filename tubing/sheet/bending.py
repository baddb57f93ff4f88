"""The bends of every bent piece in one table: where to mark, how far, and on which side."""

from __future__ import annotations

import math
from collections.abc import Sequence

from tubing.pieces.sawn import BendMark, SawnBlank
from tubing.sheet.records import Cell, Column, Show, Table
from tubing.sheet.words import length_text, way_text

STRAIGHT_DEG = 0.05  # a rotation within this of 0 or 180 is told in words: same side, or opposite side

COLUMNS = (
    Column("piece"),
    Column("bend"),
    Column("from end"),  # that the marks count from
    Column("starts, from cut end", "mm"),
    Column("ends, from cut end", "mm"),
    Column("starts, from rim", "mm"),
    Column("ends, from rim", "mm"),
    Column("angle", "deg"),
    Column("set to", "deg"),
    Column("rotation", "deg"),
    Column("inside lies"),
    Column("radius as bent", "mm"),
)


def bends_table(blanks: Sequence[SawnBlank], diameter_mm: float, show: Show) -> Table:
    """Every bend of every piece, in the order in which it is marked; a place that is not known is left empty."""
    bent = [blank for blank in blanks if blank.to_bend]
    return Table(
        "Bends",
        COLUMNS,
        tuple(row for blank in bent for row in _rows(blank, diameter_mm, show)),
        before=_how_to_mark(bent),
        after=(" ".join(f"{blank.piece.id}: {_of_piece(blank, show)}" for blank in bent),) if bent else (),
        groups=1,
    )


def _rows(blank: SawnBlank, diameter_mm: float, show: Show) -> list[tuple[Cell, ...]]:
    rows: list[tuple[Cell, ...]] = []
    for k, mark in enumerate(blank.marks):
        rotation_deg = None if mark.rotation_rad is None else math.degrees(mark.rotation_rad)
        angles_deg = (math.degrees(mark.angle_rad), math.degrees(mark.set_rad))
        lies = inside_text(mark, diameter_mm, show, first=k == 0)
        which = (blank.piece.id, mark.number, blank.ports[0] if blank.piece.bends_known else None)
        rows.append((*which, *_places(blank, mark), *angles_deg, rotation_deg, lies, mark.radius_mm))
    return rows


def _places(blank: SawnBlank, mark: BendMark) -> tuple[Cell, ...]:
    """Start and end from the cut end, or from the rim of an end that comes flared."""
    if not blank.piece.bends_known:
        return (None, None, None, None)
    if blank.counts_from_rim:
        return (None, None, mark.start_mm, mark.end_mm)
    return (mark.start_mm, mark.end_mm, mark.rim_start_mm, None)


def inside_text(mark: BendMark, diameter_mm: float, show: Show, *, first: bool = False) -> str | None:
    """Where round the tube the inside of a bend lies; it never says which way to turn the tube.

    Seen from the end that marks count from, with the inside of the bend before on top; ``first``: no bend is before.
    """
    if mark.rotation_rad is None:
        return None
    if first:
        return "on the line"
    rotation_deg = math.degrees(mark.rotation_rad)
    if abs(rotation_deg) < STRAIGHT_DEG:
        return "same side"
    if abs(rotation_deg) > 180 - STRAIGHT_DEG:
        return "opposite side"
    side = "right" if rotation_deg > 0 else "left"
    return f"{side}, {length_text(abs(mark.rotation_rad) * diameter_mm / 2, show)}"


def _how_to_mark(bent: Sequence[SawnBlank]) -> tuple[str, ...]:
    known = [blank for blank in bent if blank.piece.bends_known]
    said = []
    if any(not blank.counts_from_rim for blank in known):
        said.append("Mark before flaring; the rim column is for checking once that end is flared.")
    if known:
        said.append("The inside of a piece's first bend in this list lies on the line along the tube.")
    if any(len(blank.marks) > 1 for blank in known):
        said.append(
            "Rotation: look along the tube from the end counted from, the inside of the bend before on top. This "
            "bend's inside lies so far round, to the right or left; the mm go round the outside of the tube."
        )
    return (" ".join(said),) if said else ()


def _of_piece(blank: SawnBlank, show: Show) -> str:
    piece, start = blank.piece, blank.ports[0]
    if not piece.bends_known:
        return (
            "measured with a wire, its bends are known by angle only. Bend it where the wire bent, and try it in place "
            f"before the second end is flared. Rim to rim along the tube: {length_text(piece.finished_mm, show)}."
        )
    number = blank.marks[0].number
    rim = f" The end at {start} comes flared: measure from its rim." if blank.counts_from_rim else ""
    way = "" if blank.first_turn is None else f"in the vehicle bend {number} goes {way_text(blank.first_turn)}."
    return f"{way}{rim}".strip()
