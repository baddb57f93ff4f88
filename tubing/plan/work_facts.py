"""What the order of work is computed from, and how much doubtful pieces are left over length."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from tubing.bench_work.ends import over_length_end
from tubing.bench_work.records import WorkEnd, WorkPiece, Workshop
from tubing.inputs.records import Cut, Job, Shop
from tubing.pieces.blanks import Piece, rounded_up_mm
from tubing.pieces.sawn import OverLength, SawnBlank
from tubing.pieces.tolerance import Tolerance
from tubing.units import exact_mm


def work_pieces(pieces: Sequence[Piece], tolerances: Mapping[str, Tolerance], cuts: Sequence[Cut]) -> list[WorkPiece]:
    """The pieces as the order of work sees them, as long as nothing is known of the bars that they come from."""
    cut = {each.piece: each for each in cuts}
    found = []
    for piece in pieces:
        done = cut.get(piece.id)
        tolerance = tolerances.get(piece.id)
        ends = [
            WorkEnd(port, end.flare, end.nut, ready=done is not None and port in done.ready, flared=False)
            for port, end in zip(piece.tube.ports, piece.ends, strict=True)
        ]
        found.append(
            WorkPiece(
                id=piece.id,
                ends=(ends[0], ends[1]),
                bends=len(piece.bends),
                bends_known=piece.bends_known,
                doubtful=done is None and tolerance is not None and tolerance.mark_in_place,
                sawn=done is not None,
                bent=False,
                trimmed=False,
            )
        )
    return found


def over_lengths(
    pieces: Sequence[Piece], tolerances: Mapping[str, Tolerance], job: Job, shop: Shop
) -> dict[str, OverLength]:
    """How much longer each doubtful piece is sawn, and at which end: the worst that the tape may do, in whole steps."""
    step_mm = exact_mm(shop.bench.cut_step)
    found = {}
    for piece in work_pieces(pieces, tolerances, job.cuts):
        at = over_length_end(piece)
        if at is not None:
            found[piece.id] = OverLength(rounded_up_mm(tolerances[piece.id].worst_mm, step_mm), at)
    return found


def workshop(
    blanks: Sequence[SawnBlank], boxes: Sequence[str], tolerances: Mapping[str, Tolerance], job: Job, clips: bool
) -> Workshop:
    """All that the order of work is computed from, the bars' ready ends included."""
    pieces = work_pieces([blank.piece for blank in blanks], tolerances, job.cuts)
    known = [
        replace(
            piece,
            ends=tuple(replace(end, ready=ready) for end, ready in zip(piece.ends, blank.ready, strict=True)),
        )
        for piece, blank in zip(pieces, blanks, strict=True)
    ]
    return Workshop(tuple(known), tuple(boxes), frozenset(), rack_cut=False, clips=clips)
