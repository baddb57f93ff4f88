"""Prepares the input of nesting, drive and cost from the results of the stages before them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction

from tubing.cost import BoughtBar, CostFacts, Operations, Part, TubeUsed
from tubing.drive import BendOnWay, Drive, DriveFacts, PathToBox
from tubing.flares import learned
from tubing.inputs.records import Job, Shop
from tubing.nesting import Bar, Cutting, End, Item, Nest, OffcutRule, Stock
from tubing.pieces.blanks import Piece
from tubing.pieces.clips import Clip
from tubing.pieces.sawn import OverLength, SawnBlank, on_bars_mm
from tubing.pieces.tolerance import Tools
from tubing.run.records import Run
from tubing.springback import springback_of
from tubing.units import exact_mm, mm, quantity

# Behind the rim of a flare no plain or other end can be: a flare of these tubes is up to 2 mm high by its own
# formula, the rest is for a square cut (common practice, no source).
FORMED_MM = 5


def items_of(
    pieces: Sequence[Piece],
    job: Job,
    shop: Shop,
    over: Mapping[str, OverLength],
    bar_gone: Collection[str] = frozenset(),
) -> list[Item]:
    """The blanks as items for nesting, the doubtful ones over length.

    A ready end saves whole steps of the rule, and never more than its flare takes.

    A piece that was cut has the length that it was cut to, once its ready ends are saved. ``bar_gone``: pieces that
    were cut from a ready-flared bar that is used up. Those keep their length on any bar.
    """
    step_mm = exact_mm(shop.bench.cut_step)
    cuts = {cut.piece: cut for cut in job.cuts}

    def item(piece: Piece) -> Item:
        cut, length_mm = cuts.get(piece.id), piece.cut_mm
        if piece.id in over:
            length_mm += over[piece.id].by_mm
        ready = [cut is not None and port in cut.ready for port in piece.tube.ports]
        saved_mm = [math.floor(Fraction(end.consumed_mm) / step_mm) * step_mm for end in piece.ends]
        savable = [k for k, end in enumerate(piece.ends) if end.flare != "plain"]
        if cut is not None:
            length_mm = exact_mm(cut.length)
            if piece.id in bar_gone:
                savable = [k for k in savable if not ready[k]]
            else:
                length_mm += sum((saved_mm[k] for k in (0, 1) if ready[k]), Fraction(0))
        ends = tuple(End(piece.ends[k].flare, piece.ends[k].nut, saved_mm[k]) for k in savable)
        return Item(piece.id, job.tube.stock, length_mm, ends=ends)

    return [item(piece) for piece in pieces]


def bars_gone(nested: Nest, job: Job) -> set[str]:
    """The pieces that were cut from a ready-flared bar and have no such bar in this stock plan."""
    sawn_mm = on_bars_mm(nested)
    return {cut.piece for cut in job.cuts if cut.ready and sawn_mm.get(cut.piece) not in (None, exact_mm(cut.length))}


def stocks_of(shop: Shop) -> list[Stock]:
    """The shop's bars as stock for nesting."""
    return [
        Stock(
            name=bar.tube,
            size=bar.tube,
            length_mm=exact_mm(bar.length),
            price_cents=bar.price_cents,
            limit=bar.bars,
            on_shelf=bar.on_shelf,
            ready_ends=bar.ready_ends,
        )
        for bar in shop.stock
    ]


def cutting_of(shop: Shop) -> Cutting:
    """What the shop's saw takes, what it trims off, which offcuts it keeps, and their worth."""
    offcuts = OffcutRule(exact_mm(shop.offcuts.keep_from), shop.offcuts.value_per_metre * 100)
    step_mm = exact_mm(shop.bench.cut_step)
    formed_mm = math.ceil(FORMED_MM / step_mm) * step_mm
    return Cutting(exact_mm(shop.bench.kerf), exact_mm(shop.bench.end_trim), offcuts, formed_mm)


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
    job: Job, run: Run, sawn: Sequence[SawnBlank], nested: Nest, driven: Drive, held: Sequence[Clip]
) -> CostFacts:
    """What the job buys and which operations it takes; a flare or nut that came with its bar counts for neither."""
    formed = [end for blank in sawn for end, ready in zip(blank.piece.ends, blank.ready, strict=True) if not ready]
    flares, nuts = Counter(end.flare for end in formed), sum(end.nut for end in formed)
    models = Counter(box.mounting.model.name for box in run.boxes)
    parts = [Part(job.nose.model.name, count=1), *(Part(model, count=n) for model, n in sorted(models.items()))]
    parts += [Part("rack", length_mm=Fraction(driven.rack.to_gap_mm))]
    counted = (("nut", nuts), ("end stop", 1), ("clip", len(held)), ("arm and blade", len(run.boxes)))
    parts += [Part(item, count=number) for item, number in counted if number]
    return CostFacts(
        parts=tuple(parts),
        bars=tuple(
            BoughtBar(
                bar.stock.size,
                bar.stock.length_mm,
                bar.count * _own_share(bar, {blank.piece.id for blank in sawn}),
                bar.stock.price_cents,
                bar.stock.on_shelf,
                "shelf" if bar.stock.on_shelf else "stock list",
                bar.stock.number,
            )
            for bar in (*nested.sawn, *nested.bars)
        ),
        tube_used=(TubeUsed(job.tube.stock, sum((blank.length_mm for blank in sawn), Fraction(0))),),
        operations=Operations(
            cuts=len(sawn) + sum(blank.over_end is not None for blank in sawn),  # what is over length is cut twice
            single_flares=flares["single"],
            double_flares=flares["double"],
            bends=sum(len(blank.piece.bends) for blank in sawn),
            holes=len(run.boxes),
            assemblies=len(run.boxes),
        ),
    )


def _own_share(bar: Bar, own: Collection[str]) -> Fraction:
    """The share of a bar that falls to one vehicle, by the length of its pieces among all that are cut from it.

    To a thousandth, as it is printed, so that the line of the cost can be checked.
    """
    lengths = zip(bar.items, bar.lengths_mm, strict=True)
    own_mm = sum((length for name, length in lengths if name in own), Fraction(0))
    return Fraction(round(1000 * own_mm / sum(bar.lengths_mm)), 1000)


def tools_of(job: Job, shop: Shop) -> Tools:
    """How sure is what the shop's trials taught of the job's tube, on its former and with its flares."""
    springback = springback_of(job.tube, job.former, shop)
    opens = job.former.radius_is != "as bent"
    tried = {kind: learned(job.tube, kind, shop.trial_flares) for kind in ("single", "double")}
    return Tools(
        radius_mm=mm(job.former.radius) * (springback.sure_proportional or 0.0) if opens else 0.0,
        flares_mm={kind: found.sure_mm for kind, found in tried.items() if found and found.sure_mm is not None},
    )
