"""What each stage has to be told, taken from the stages before it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from fractions import Fraction

from tubing.cost import BoughtBar, CostFacts, Operations, Part, TubeUsed
from tubing.drive import BendOnWay, Drive, DriveFacts, PathToBox
from tubing.inputs.records import Job, Shop
from tubing.nesting import End, Item, Nest, OffcutRule, Stock
from tubing.pieces.blanks import Piece
from tubing.pieces.clips import Clip
from tubing.run.records import Run
from tubing.units import exact_mm, mm, quantity


def items_of(pieces: Sequence[Piece], job: Job, shop: Shop) -> list[Item]:
    """The blanks as nesting wants them; a ready end saves whole steps of the rule, never more than is consumed."""
    saved_mm = saved_by(shop)
    return [
        Item(
            piece.id,
            job.tube.stock,
            piece.cut_mm,
            ends=tuple(End(e.flare, e.nut, saved_mm(e.consumed_mm)) for e in piece.ends if e.flare != "plain"),
        )
        for piece in pieces
    ]


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
