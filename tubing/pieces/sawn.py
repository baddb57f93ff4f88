"""What is really sawn of each piece, decided once: sheet, pictures, CSV and data all read it here.

Sawn:  the length between the saw's two cuts, or between a cut and the bar's own flared end.
Ready: an end that is the bar's own flared end. It is not flared again, and its flare consumes none of the piece.
Over:  what a doubtful piece is sawn longer at one end, to be trimmed there in place. Its bends count from the other
       end, so that trimming moves no mark. Other pieces' bends count from the end at ``from``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from msgspec import Struct
from msgspec.structs import replace

from tubing.centreline.between import Laid
from tubing.flares import EndFlare
from tubing.geometry.bends import arc_mm
from tubing.geometry.vectors import Vector, across, scale, unit
from tubing.inputs.records import Cut
from tubing.nesting import Nest
from tubing.pieces.blanks import Piece
from tubing.units import exact_mm


class BendMark(Struct, frozen=True):
    """One bend as it is marked on the sawn blank; bends are numbered from the piece's end at ``from``."""

    number: int
    start_mm: float | None  # from the end that marks count from; None: a measured tube, place not known
    end_mm: float | None
    rim_start_mm: float | None  # from that end's rim, once it is flared
    angle_rad: float
    set_rad: float
    rotation_rad: float | None  # plane of the mark before to this one's, clockwise seen from the end counted from
    radius_mm: float  # as bent
    former_radius_mm: float


class SawnBlank(Struct, frozen=True):
    """One piece as it comes from the saw."""

    piece: Piece
    length_mm: Fraction
    ready: tuple[bool, bool]  # at ``from``, at ``to``: the bar's own flared end
    over_mm: Fraction = Fraction(0)
    over_end: int | None = None  # 0: at ``from``, 1: at ``to``; None: it is sawn to length
    bent: bool = False  # already, so that nothing is marked on it
    sawn_from: int | None = None  # the number of the bar that it was sawn from, by the shelf's book; None: it was not

    @property
    def to_bend(self) -> bool:
        """Whether it has bends that are still to be made."""
        return bool(self.piece.bends) and not self.bent

    @property
    def counted_from(self) -> int:
        """The end that marks count from, 0 or 1: never one that is trimmed."""
        return 1 if self.over_end == 0 else 0

    @property
    def in_order(self) -> tuple[int, int]:
        """Both ends, that which marks count from first."""
        return (1, 0) if self.counted_from else (0, 1)

    @property
    def ports(self) -> tuple[str, str]:
        """The ports of both ends, that which marks count from first."""
        first, last = (self.piece.tube.ports[end] for end in self.in_order)
        return first, last

    @property
    def ends(self) -> tuple[EndFlare, EndFlare]:
        """What is formed at both ends, that which marks count from first."""
        first, last = (self.piece.ends[end] for end in self.in_order)
        return first, last

    @property
    def counts_from_rim(self) -> bool:
        """Whether marks count from the rim of a ready flare, for there is no cut end."""
        return self.ready[self.counted_from]

    @property
    def consumed_mm(self) -> tuple[float, float]:
        """How much of the sawn length the flares at ``from`` and ``to`` consume, [mm]; 0 at a ready end."""
        start, end = (
            0.0 if ready else flare.consumed_mm for ready, flare in zip(self.ready, self.piece.ends, strict=True)
        )
        return start, end

    @property
    def blank_mm(self) -> float:
        """The length that the finished piece needs before it is rounded up to a step of the rule, [mm]."""
        return self.piece.finished_mm + sum(self.consumed_mm)

    @property
    def first_turn(self) -> Vector | None:
        """Which way the first marked bend goes in the vehicle, seen from the end that marks count from."""
        shape = self.piece.tube.shape
        if not self.counted_from or not isinstance(shape, Laid) or not shape.line.bends:
            return self.piece.first_turn
        before, last = shape.line.directions[-2:]
        return unit(across(scale(before, -1.0), last))

    @property
    def marks(self) -> tuple[BendMark, ...]:
        """The bends in order from the end that marks count from."""
        return self._from_start() if self.counted_from == 0 else self._from_end()

    def _from_start(self) -> tuple[BendMark, ...]:
        marks = []
        for number, bend in enumerate(self.piece.bends, 1):
            start_mm = end_mm = None
            if bend.from_rim_mm is not None:
                start_mm = bend.from_rim_mm + self.consumed_mm[0]
                end_mm = start_mm + arc_mm(bend.radius_mm, bend.angle_rad)
            shape = (bend.angle_rad, bend.set_rad, bend.rotation_rad, bend.radius_mm, bend.former_radius_mm)
            marks.append(BendMark(number, start_mm, end_mm, bend.from_rim_mm, *shape))
        return tuple(marks)

    def _from_end(self) -> tuple[BendMark, ...]:
        """The same seen from ``to``: what turned to the right between two bends still does."""
        forward, marks = self._from_start(), []
        for place in range(len(forward) - 1, -1, -1):
            mark = forward[place]
            if mark.start_mm is not None and mark.end_mm is not None:
                start_mm = self.blank_mm - mark.end_mm
                mark = replace(
                    mark,
                    start_mm=start_mm,
                    end_mm=self.blank_mm - mark.start_mm,
                    rim_start_mm=start_mm - self.consumed_mm[1],
                    rotation_rad=0.0 if mark is forward[-1] else forward[place + 1].rotation_rad,
                )
            marks.append(mark)
        return tuple(marks)


def on_bars_mm(nested: Nest) -> dict[str, Fraction]:
    """The length that the stock plan saws of each piece, or that was sawn of it before, by its id, [mm]."""
    bars = (*nested.bars, *nested.sawn)
    return {name: length for bar in bars for name, length in zip(bar.items, bar.lengths_mm, strict=True)}


class OverLength(Struct, frozen=True):
    """How much longer a doubtful piece is sawn."""

    by_mm: Fraction
    at: int  # the end, 0 or 1, unless that end comes ready-flared: then the other


def sawn_blanks(
    pieces: Sequence[Piece], nested: Nest, cuts: Sequence[Cut], over: Mapping[str, OverLength]
) -> tuple[SawnBlank, ...]:
    """Every piece as it is sawn, in order: as the stock plan has it, or as the job says that it was cut.

    ``over``: the doubtful pieces that the stock plan has over length, by name.
    """
    by_id = {piece.id: piece for piece in pieces}
    ready: dict[str, set[int]] = {piece.id: set() for piece in pieces}
    lengths_mm = on_bars_mm(nested)
    for bar in (*nested.bars, *nested.sawn):
        for saved in bar.saved_ends:
            name = bar.items[saved.piece]
            if name not in by_id:
                continue  # another vehicle's
            # Nesting numbers only the ends that have a flare; here plain ends are counted too.
            flared = [k for k, end in enumerate(by_id[name].ends) if end.flare != "plain"]
            ready[name].add(flared[saved.piece_end])
    for cut in cuts:
        if cut.piece in by_id:
            lengths_mm[cut.piece] = exact_mm(cut.left)
            ready[cut.piece] = {k for k, port in enumerate(by_id[cut.piece].tube.ports) if port in cut.ready}
    bent = {cut.piece for cut in cuts if cut.bent}
    sawn_from = {name: bar.stock.number for bar in nested.sawn for name in bar.items}
    blanks = []
    for name, piece in by_id.items():
        waits = over.get(name)
        blanks.append(
            SawnBlank(
                piece,
                lengths_mm[name],
                (0 in ready[name], 1 in ready[name]),
                Fraction(0) if waits is None else waits.by_mm,
                None if waits is None else (1 - waits.at if waits.at in ready[name] else waits.at),
                name in bent,
                sawn_from.get(name),
            )
        )
    return tuple(blanks)
