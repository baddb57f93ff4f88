"""What is really sawn of each piece, decided once: sheet, pictures, CSV and data all read it here.

Sawn:  the length between the saw's two cuts, or between a cut and the bar's own flared end.
Ready: an end that is the bar's own flared end. It is not flared again, and its flare consumes none of the piece.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from msgspec import Struct

from tubing.geometry.bends import arc_mm
from tubing.inputs.records import Cut
from tubing.nesting import Nest
from tubing.pieces.blanks import MarkedBend, Piece
from tubing.units import exact_mm


class SawnBlank(Struct, frozen=True):
    """One piece as it comes from the saw."""

    piece: Piece
    length_mm: Fraction
    ready: tuple[bool, bool]  # at ``from``, at ``to``: the bar's own flared end

    @property
    def consumed_mm(self) -> tuple[float, float]:
        """How much of the sawn length the flare at each end consumes, [mm]; 0 at a ready end."""
        start, end = (
            0.0 if ready else flare.consumed_mm for ready, flare in zip(self.ready, self.piece.ends, strict=True)
        )
        return start, end

    @property
    def blank_mm(self) -> float:
        """The length that the finished piece needs before it is rounded up to a step of the rule, [mm]."""
        return self.piece.finished_mm + sum(self.consumed_mm)

    def bend_mm(self, bend: MarkedBend) -> tuple[float, float] | None:
        """Where a bend starts and ends, from the sawn length's end at ``from``, [mm]; None: not known.

        Where that end comes ready-flared, it is the flare's rim.
        """
        if bend.from_rim_mm is None:
            return None
        start_mm = bend.from_rim_mm + self.consumed_mm[0]
        return start_mm, start_mm + arc_mm(bend.radius_mm, bend.angle_rad)


def on_bars_mm(nested: Nest) -> dict[str, Fraction]:
    """The length that the stock plan saws of each piece, by its id, [mm]."""
    return {name: length for bar in nested.bars for name, length in zip(bar.items, bar.lengths_mm, strict=True)}


def sawn_blanks(pieces: Sequence[Piece], nested: Nest, cuts: Sequence[Cut]) -> tuple[SawnBlank, ...]:
    """Every piece as it is sawn, in order: as the stock plan has it, or as the job says that it was cut."""
    by_id = {piece.id: piece for piece in pieces}
    ready: dict[str, set[int]] = {piece.id: set() for piece in pieces}
    lengths_mm = on_bars_mm(nested)
    for bar in nested.bars:
        for saved in bar.saved_ends:
            name = bar.items[saved.piece]
            # Nesting numbers only the ends that have a flare; here plain ends are counted too.
            flared = [k for k, end in enumerate(by_id[name].ends) if end.flare != "plain"]
            ready[name].add(flared[saved.piece_end])
    for cut in cuts:
        if cut.piece in by_id:
            lengths_mm[cut.piece] = exact_mm(cut.length)
            ready[cut.piece] = {k for k, port in enumerate(by_id[cut.piece].tube.ports) if port in cut.ready}
    return tuple(
        SawnBlank(piece, lengths_mm[name], (0 in ready[name], 1 in ready[name])) for name, piece in by_id.items()
    )
