"""Everything the program decides about a job: the stages in order, then the independent check.

Reads no file, prints nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from tubing.check import check_run
from tubing.drive import BendOnWay, Drive, DriveFacts, PathToBox, drive, tail_tube
from tubing.errors import JobError
from tubing.job.records import Job, Mounting, Shop
from tubing.nesting import End, Item, Nest, OffcutRule, Stock, check_nest, nest
from tubing.pieces import Piece, cut_pieces
from tubing.run.records import Run
from tubing.run.routing import route
from tubing.units import exact_mm, mm, quantity


@dataclass(frozen=True, slots=True)
class Plan:
    """One layout of a job, decided."""

    job: Job
    shop: Shop
    layout: str
    run: Run
    pieces: tuple[Piece, ...]
    nest: Nest
    drive: Drive
    warnings: tuple[str, ...]


def plan(job: Job, shop: Shop, layout: str | None = None) -> Plan:
    """Plan one layout; None: the one the job names.

    Raises JobError for a layout that is not in the job; FitError where no geometry, drive or stock fits; CheckError
    where the plan fails its own check.
    """
    layout = job.layout if layout is None else layout
    run, pieces = laid_out(job, shop, layout)
    items, stocks = items_of(pieces, job, shop), stocks_of(shop)
    rule = offcut_rule(shop)
    kerf_mm, trim_mm = exact_mm(shop.bench.kerf), exact_mm(shop.bench.end_trim)
    nested = nest(items, stocks, kerf_mm=kerf_mm, end_trim_mm=trim_mm, offcuts=rule)
    driven = drive(drive_facts(run, job, shop))
    check_run(run, pieces, job.layouts[layout])
    check_nest(items, nested, stocks=stocks, kerf_mm=kerf_mm, end_trim_mm=trim_mm, offcuts=rule)
    warnings = (*_warnings(run, pieces), *driven.warnings)
    return Plan(job, shop, layout, run, pieces, nested, driven, warnings)


def laid_out(job: Job, shop: Shop, layout: str) -> tuple[Run, tuple[Piece, ...]]:
    """The run of one layout and its pieces, not yet laid on bars. Raises JobError and FitError as ``plan`` does."""
    if layout not in job.layouts:
        raise JobError(
            "layout",
            f"{layout!r} is not in the job",
            f"it must be one of {', '.join(job.layouts)}",
            "choose one of these",
        )

    def tail_length_mm(first: Mounting, last: Mounting) -> float:
        return mm(tail_tube(job.sweep, first.model, last.model, shop.drive).length)

    run = route(job, shop, layout, tail_length_mm)
    return run, cut_pieces(run, job, shop)


def items_of(pieces: Sequence[Piece], job: Job, shop: Shop) -> list[Item]:
    """The blanks as nesting wants them; a ready end saves whole steps of the rule, never more than is consumed."""
    step_mm = exact_mm(shop.bench.cut_step)

    def saved_mm(consumed_mm: float) -> Fraction:
        return math.floor(Fraction(consumed_mm) / step_mm) * step_mm

    return [
        Item(
            piece.id,
            stock_name(job, shop),
            piece.cut_mm,
            ends=tuple(End(e.flare, e.nut, saved_mm(e.consumed_mm)) for e in piece.ends if e.flare != "plain"),
        )
        for piece in pieces
    ]


def stock_name(job: Job, shop: Shop) -> str:
    """Which stock the job's tube is cut from: the one it names, or the shop's of the same name or diameter.

    Raises JobError where there is none.
    """
    names = {bar.tube for bar in shop.stock}
    wanted = job.tube.stock or job.tube.name
    if wanted in names:
        return wanted
    same = sorted(
        name
        for name in names
        if (row := shop.catalogue.tubes.get(name)) is not None and exact_mm(row.diameter) == exact_mm(job.tube.diameter)
    )
    if job.tube.stock is None and same:
        return same[0]
    raise JobError(
        "tube", f"the shop has no stock for {wanted!r}", f"it must be one of {', '.join(sorted(names))}",
        "name a stock with tube.stock, or add one to the shop file",
    )  # fmt: skip


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
    )


def _warnings(run: Run, pieces: Sequence[Piece]) -> list[str]:
    """What the geometry leaves for the fitter to settle."""
    said = [
        f"wheelbox {box.name}: its heading was {math.degrees(box.off_rad):.1f} deg from perpendicular to the spindle "
        "and was made perpendicular"
        for box in run.boxes
        if box.off_rad
    ]
    said += [
        f"piece {piece.id}: pull it into place by hand: it is {piece.pull_in.distance_mm:.1f} mm and "
        f"{math.degrees(piece.pull_in.angle_rad):.1f} deg out of line"
        for piece in pieces
        if piece.pull_in.distance_mm > 0.05 or piece.pull_in.angle_rad > math.radians(0.05)
    ]
    said += [
        f"piece {piece.id}: bend {number} turns {math.degrees(bend.angle_rad):.0f} deg, more than a right angle; "
        "name corners for this tube if there is another way"
        for piece in pieces
        for number, bend in enumerate(piece.bends, 1)
        if bend.angle_rad > math.radians(90.5)
    ]
    return said
