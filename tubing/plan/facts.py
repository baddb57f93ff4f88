"""What each stage has to be told, taken from the stages before it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction

from msgspec.structs import replace

from tubing.cost import BoughtBar, CostFacts, Operations, Part, TubeUsed
from tubing.drive import BendOnWay, Drive, DriveFacts, PathToBox
from tubing.inputs.records import Cut, Job, Shop
from tubing.nesting import End, Item, Nest, OffcutRule, Stock
from tubing.pieces.blanks import Piece, rounded_up_mm
from tubing.pieces.clips import Clip
from tubing.pieces.sawn import OverLength, SawnBlank
from tubing.pieces.tolerance import Tolerance
from tubing.run.records import Run
from tubing.units import exact_mm, mm, quantity
from tubing.work.ends import over_length_end
from tubing.work.records import WorkEnd, WorkPiece, Workshop


def items_of(pieces: Sequence[Piece], job: Job, shop: Shop, over: Mapping[str, OverLength]) -> list[Item]:
    """The blanks as nesting wants them, what is doubtful over length.

    A ready end saves whole steps of the rule, never more than is consumed.
    """
    saved_mm = saved_by(shop)
    return [
        Item(
            piece.id,
            job.tube.stock,
            piece.cut_mm + (over[piece.id].by_mm if piece.id in over else 0),
            ends=tuple(End(e.flare, e.nut, saved_mm(e.consumed_mm)) for e in piece.ends if e.flare != "plain"),
        )
        for piece in pieces
    ]


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


def saved_by(shop: Shop) -> Callable[[float], Fraction]:
    """How much shorter a ready end lets a piece be cut, of what forming its flare consumes, [mm]."""
    step_mm = exact_mm(shop.bench.cut_step)

    def saved_mm(consumed_mm: float) -> Fraction:
        return math.floor(Fraction(consumed_mm) / step_mm) * step_mm

    return saved_mm


def stocks_of(shop: Shop) -> list[Stock]:
    """The shop's bars as nesting wants them."""
    return [
        Stock(
            name=bar.tube,
            size=bar.tube,
            length_mm=exact_mm(bar.length),
            price_cents=bar.price_cents,
            limit=bar.bars,
            on_shelf=bar.on_shelf,
            ready_ends=tuple(End(e.flare, e.nut) for e in bar.ready_ends),
        )
        for bar in shop.stock
    ]


def offcut_rule(shop: Shop) -> OffcutRule:
    """Which offcuts the shop keeps, and their worth."""
    return OffcutRule(exact_mm(shop.offcuts.keep_from), shop.offcuts.value_cents_per_metre)


def drive_facts(run: Run, job: Job, shop: Shop) -> DriveFacts:
    """The plain facts that the drive is worked out from."""
    paths: list[PathToBox] = []
    bends: list[BendOnWay] = []
    reached_mm = 0.0
    for tube, box in zip(run.tubes, run.boxes, strict=False):
        offset_mm = mm(box.mounting.model.groove_offset)
        reached_mm += tube.length_mm + offset_mm
        bends += [
            BendOnWay(tube.id, number, quantity(angle, "rad")) for number, angle in enumerate(tube.bend_angles_rad, 1)
        ]
        paths.append(
            PathToBox(
                name=box.name,
                centreline=quantity(reached_mm, "mm"),
                bends=tuple(bends),
                model=box.mounting.model,
                side=box.side,
                spindle=box.mounting.spindle,
                panel=box.mounting.panel,
                panel_thickness=box.mounting.panel_thickness,
                spacer=box.mounting.spacer,
            )
        )
        reached_mm += offset_mm
    return DriveFacts(
        sweep=job.sweep,
        park=job.park,
        motor=job.nose.model,
        rack=shop.rack,
        bore=job.tube.bore,
        settings=shop.drive,
        boxes=tuple(paths),
        arms=job.arms,
        rod=job.nose.model.rod,
        rate=job.nose.model.rate,
        wedge=shop.bench.wedge,
    )


def cost_facts(
    job: Job, shop: Shop, run: Run, pieces: Sequence[Piece], nested: Nest, driven: Drive, held: Sequence[Clip]
) -> CostFacts:
    """What is bought and done. A flare or nut that comes ready on a bar is neither formed nor bought."""
    flares = Counter(end.flare for piece in pieces for end in piece.ends)
    nuts = sum(end.nut for piece in pieces for end in piece.ends)
    for bar in nested.bars:
        for saved in bar.saved_ends:
            ready = bar.stock.ready_ends[saved.ready_end]
            flares[ready.flare] -= bar.count  # type: ignore[index]
            nuts -= bar.count * ready.nut
    models = Counter(box.mounting.model.name for box in run.boxes)
    parts = [Part(job.nose.model.name, count=1), *(Part(model, count=n) for model, n in sorted(models.items()))]
    parts += [Part("rack", length=driven.rack.to_gap)]
    counted = (("nut", nuts), ("end stop", 1), ("clip", len(held)), ("arm and blade", len(run.boxes)))
    parts += [Part(item, count=number) for item, number in counted if number]
    return CostFacts(
        parts=tuple(parts),
        bars=tuple(
            BoughtBar(
                bar.stock.size,
                quantity(bar.stock.length_mm, "mm"),
                bar.count,
                bar.stock.price_cents,
                bar.stock.on_shelf,
                "shelf" if bar.stock.on_shelf else "stock list",
            )
            for bar in nested.bars
        ),
        tube_used=(TubeUsed(job.tube.stock, quantity(sum((piece.cut_mm for piece in pieces), Fraction(0)), "mm")),),
        operations=Operations(
            cuts=len(pieces),
            single_flares=flares["single"],
            double_flares=flares["double"],
            bends=sum(len(piece.bends) for piece in pieces),
            holes=len(run.boxes),
            assemblies=len(run.boxes),
        ),
    )
