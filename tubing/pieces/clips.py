"""Where each tube is held: at both ends of every bend, and in between no further apart than the shop's spacing.

Clip: a point where the tube is fixed to the vehicle. Nose and wheelboxes hold its ends already; a plain end is free.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from msgspec import Struct

from tubing.centreline.between import Laid
from tubing.centreline.develop import point_at
from tubing.geometry.bends import arc_mm
from tubing.geometry.vectors import Vector
from tubing.pieces.blanks import Piece

APART_MM = 20.0  # a clip's own width: no clip is placed nearer than this to the one before it


class Clip(Struct, frozen=True):
    """One point where a tube is held."""

    piece: str
    from_rim_mm: float  # along the finished tube, from its rim at ``from``
    position_mm: Vector | None  # None: a measured tube, whose way is not known


def clips(pieces: Sequence[Piece], spacing_mm: float) -> tuple[Clip, ...]:
    """Every clip of the run, in order along it.

    ``spacing_mm``: no two held points of a tube lie further apart than this.
    """
    return tuple(clip for piece in pieces for clip in _of_piece(piece, spacing_mm))


def _of_piece(piece: Piece, spacing_mm: float) -> list[Clip]:
    length_mm = piece.tube.length_mm
    line = piece.tube.shape.line if isinstance(piece.tube.shape, Laid) else None
    marks = [0.0, *(_bend_ends_mm(piece) if line else ()), length_mm]
    places: list[float] = []
    for a, b in itertools.pairwise(marks):
        steps = max(1, math.ceil((b - a) / spacing_mm - 1e-9))
        places += [a + (b - a) * k / steps for k in range(1, steps + 1)]
    places = _far_enough_apart(places[:-1], length_mm)
    if piece.ends[1].flare == "plain":
        places.append(length_mm - APART_MM / 2)
    return [Clip(piece.id, place + piece.ends[0].seat_mm, point_at(line, place) if line else None) for place in places]


def _bend_ends_mm(piece: Piece) -> list[float]:
    """Where each bend starts and ends, along the centre line from the datum."""
    ends: list[float] = []
    for bend in piece.bends:
        assert bend.from_rim_mm is not None
        start = bend.from_rim_mm - piece.ends[0].seat_mm
        ends += [start, start + arc_mm(bend.radius_mm, bend.angle_rad)]
    return ends


def _far_enough_apart(places: Sequence[float], length_mm: float) -> list[float]:
    kept: list[float] = []
    for place in places:
        if place - (kept[-1] if kept else 0.0) >= APART_MM and length_mm - place >= APART_MM:
            kept.append(place)
    return kept
