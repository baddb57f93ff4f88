"""The blanks as they are sawn: one length each, and how each end comes. Every other stage reads these figures here.

Ready: an end that comes flared with its bar, or came so when the piece was cut. It is not flared again, so the blank is
       shorter by what its flare would have consumed, and lengths along the blank count from its rim.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from msgspec import Struct
from msgspec.structs import replace

from tubing.inputs.records import Cut
from tubing.nesting import Nest
from tubing.pieces.blanks import MarkedBend, Piece
from tubing.units import exact_mm

Ready = tuple[bool, bool]  # the end at ``from``, the end at ``to``


class Blank(Struct, frozen=True):
    """One piece as it is sawn from its bar."""

    piece: Piece
    sawn_mm: Fraction  # what the saw leaves between its ends
    ready: Ready  # which ends come flared and are not formed
    was_cut: bool  # before this plan, as the job says

    @property
    def id(self) -> str:
        """The piece's, such as ``nose-near``."""
        return self.piece.id

    @property
    def consumed_mm(self) -> tuple[float, float]:
        """What forming takes of each end of this blank, [mm]; 0 of a ready end."""
        start, end = (0.0 if done else e.consumed_mm for e, done in zip(self.piece.ends, self.ready, strict=True))
        return start, end

    @property
    def needed_mm(self) -> float:
        """The least length that makes the piece, [mm], before it is rounded up to a step of the rule."""
        return self.piece.finished_mm + sum(self.consumed_mm)

    @property
    def bends(self) -> tuple[MarkedBend, ...]:
        """The bend schedule; ``start_mm`` counts from this blank's end at ``from``, which is a ready end's rim."""
        if not self.ready[0]:
            return self.piece.bends
        return tuple(replace(bend, start_mm=bend.from_rim_mm) for bend in self.piece.bends)

    @property
    def bends_known(self) -> bool:
        """Whether it is known where the bends lie: not of a tube laid out with a wire."""
        return all(bend.start_mm is not None for bend in self.piece.bends)


def sawn_blanks(pieces: Sequence[Piece], nested: Nest, cuts: Mapping[str, Cut]) -> tuple[Blank, ...]:
    """Every piece as its bar gives it; a piece in ``cuts``, by id, as the job says that it was cut."""
    by_id = {piece.id: piece for piece in pieces}
    sawn_mm: dict[str, Fraction] = {}
    ready: dict[str, Ready] = {}
    for bar in nested.bars:
        sawn_mm |= dict(zip(bar.items, bar.lengths_mm, strict=True))
        for saved in bar.saved_ends:
            piece = by_id[bar.items[saved.piece]]
            # Nesting is told of flared ends only: its index counts without a plain one.
            end = [k for k, end in enumerate(piece.ends) if end.flare != "plain"][saved.piece_end]
            before = ready.get(piece.id, (False, False))
            ready[piece.id] = (before[0] or end == 0, before[1] or end == 1)
    return tuple(
        _cut_before(piece, cuts[piece.id])
        if piece.id in cuts
        else Blank(piece, sawn_mm[piece.id], ready.get(piece.id, (False, False)), was_cut=False)
        for piece in pieces
    )


def _cut_before(piece: Piece, cut: Cut) -> Blank:
    start, end = (port in cut.ready for port in piece.tube.ports)
    return Blank(piece, exact_mm(cut.length), (start, end), was_cut=True)
