"""What the order of work is computed from, and how much doubtful pieces are left over length."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from msgspec.structs import replace

from tubing.bench_work.ends import over_length_end
from tubing.bench_work.records import WorkEnd, WorkPiece, Workshop
from tubing.inputs.records import Cut, Job, Shop
from tubing.pieces.as_cut import ready_saves_mm
from tubing.pieces.blanks import Piece, rounded_up_mm
from tubing.pieces.sawn import OverLength, SawnBlank
from tubing.pieces.tolerance import Tolerance
from tubing.units import exact_mm


def work_pieces(
    pieces: Sequence[Piece], tolerances: Mapping[str, Tolerance], cuts: Sequence[Cut], step_mm: Fraction
) -> list[WorkPiece]:
    """The pieces as the order of work sees them, as long as nothing is known of the bars that they come from."""
    cut = {each.piece: each for each in cuts}
    return [_work_piece(piece, tolerances.get(piece.id), cut.get(piece.id), step_mm) for piece in pieces]


def _work_piece(piece: Piece, tolerance: Tolerance | None, done: Cut | None, step_mm: Fraction) -> WorkPiece:
    ready, flared = ((), ()) if done is None else (done.ready, done.flared)
    ends = [
        WorkEnd(port, end.flare, end.nut, ready=port in ready, flared=port in flared)
        for port, end in zip(piece.tube.ports, piece.ends, strict=True)
    ]
    found = WorkPiece(
        id=piece.id,
        ends=(ends[0], ends[1]),
        bends=len(piece.bends),
        bends_known=piece.bends_known,
        doubtful=tolerance is not None and tolerance.mark_in_place,
        sawn=done is not None,
        bent=done is not None and done.bent,
        trimmed=done is not None and done.trimmed is not None,
    )
    if done is not None and (over_length_end(found) is None or longer_mm(piece, done, step_mm) <= 0):
        return replace(found, doubtful=False)  # nothing is left to be trimmed in place
    return found


def longer_mm(piece: Piece, cut: Cut, step_mm: Fraction) -> Fraction:
    """How much longer a piece was cut than its blank, which is rounded up to a step of the rule; below 0: shorter."""
    return exact_mm(cut.left) - rounded_up_mm(piece.blank_mm - ready_saves_mm(piece, cut), step_mm)


def still_over(piece: Piece, tolerance: Tolerance | None, cut: Cut, step_mm: Fraction) -> bool:
    """Whether a piece that was cut waits to be trimmed in place, as the plan that it was cut by said."""
    return _work_piece(piece, tolerance, cut, step_mm).in_doubt


def over_lengths(
    pieces: Sequence[Piece], tolerances: Mapping[str, Tolerance], job: Job, shop: Shop
) -> dict[str, OverLength]:
    """How much longer each doubtful piece is sawn, and at which end: the worst that the tape may do, in whole steps.

    One that was cut already, and waits to be trimmed, is as much longer as it was cut.
    """
    step_mm = exact_mm(shop.bench.cut_step)
    cuts, by_id, found = {cut.piece: cut for cut in job.cuts}, {piece.id: piece for piece in pieces}, {}
    for piece in work_pieces(pieces, tolerances, job.cuts, step_mm):
        at = over_length_end(piece)
        if at is not None:
            by_mm = (
                longer_mm(by_id[piece.id], cuts[piece.id], step_mm)
                if piece.id in cuts
                else rounded_up_mm(tolerances[piece.id].worst_mm, step_mm)
            )
            found[piece.id] = OverLength(by_mm, at)
    return found


def workshop(
    blanks: Sequence[SawnBlank],
    boxes: Sequence[str],
    tolerances: Mapping[str, Tolerance],
    job: Job,
    step_mm: Fraction,
    *,
    clips: bool,
) -> Workshop:
    """All that the order of work is computed from, the bars' ready ends included."""
    pieces = work_pieces([blank.piece for blank in blanks], tolerances, job.cuts, step_mm)
    known = [
        replace(
            piece,
            ends=tuple(replace(end, ready=ready) for end, ready in zip(piece.ends, blank.ready, strict=True)),
            sawn=piece.sawn or blank.sawn_from is not None,
        )
        for piece, blank in zip(pieces, blanks, strict=True)
    ]
    return Workshop(tuple(known), tuple(boxes), frozenset(job.done.fixed), rack_cut=job.done.rack_cut, clips=clips)
