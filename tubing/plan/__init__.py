"""Everything the program decides about a job: the stages in order, then the independent check.

Reads no file, prints nothing.
"""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from tubing.check import check_blanks
from tubing.cost import Cost, cost
from tubing.drive import Drive, drive
from tubing.errors import StockError
from tubing.inputs.records import Job, Shop
from tubing.nesting import Nest, check_nest, nest
from tubing.pieces.as_cut import AsCut
from tubing.pieces.blanks import Piece
from tubing.pieces.clips import Clip, clips
from tubing.pieces.sawn import Blank, sawn_blanks
from tubing.pieces.tolerance import Tolerance, tolerance
from tubing.plan.cut_before import LaidOut, laid_out
from tubing.plan.facts import bars_gone, cost_facts, drive_facts, items_of, offcut_rule, stocks_of
from tubing.plan.warnings import (
    as_cut_warnings,
    crowded_warnings,
    geometry_warnings,
    sharp_bends,
    slight_bend_warnings,
    stock_warnings,
    tolerance_warnings,
    unchecked_warnings,
    unused_tube_notes,
)
from tubing.run.laying import bending_of
from tubing.run.records import Run
from tubing.units import exact_mm, mm

__all__ = ["LaidOut", "Plan", "laid_out", "plan"]


class Plan(Struct, frozen=True):
    """One layout of a job, decided."""

    job: Job  # with the boxes moved that a piece as it was cut has moved
    shop: Shop
    layout: str
    run: Run
    blanks: tuple[Blank, ...]  # the pieces as they are sawn
    nest: Nest
    drive: Drive
    cost: Cost
    clips: tuple[Clip, ...]
    tolerances: Mapping[str, Tolerance]  # by piece; empty where the job states no measuring error
    cuts: tuple[AsCut, ...]  # the pieces that the job says were cut
    warnings: tuple[str, ...]

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The pieces in order along the run, whatever bar they are sawn from."""
        return tuple(blank.piece for blank in self.blanks)


def plan(job: Job, shop: Shop, layout: str | None = None) -> Plan:
    """Plan one layout; None: the one the job names.

    Raises JobError for a layout that is not in the job; FitError where no geometry, drive or stock fits; CheckError
    where the plan fails its own check.
    """
    layout = job.layout if layout is None else layout
    stands = laid_out(job, shop, layout)
    job, run, pieces = stands.job, stands.run, stands.pieces
    nested = _nested(pieces, job, shop)
    blanks = sawn_blanks(pieces, nested, {cut.piece: cut for cut in job.cuts})
    check_blanks(blanks, exact_mm(shop.bench.cut_step))
    driven = drive(drive_facts(run, job, shop))
    held = clips(pieces, mm(shop.bench.clip_spacing))
    priced = cost(cost_facts(job, shop, run, blanks, nested, driven, held), shop.minutes, shop.money)
    tolerances = _tolerances(pieces, job, shop)
    already_cut = {cut.piece for cut in stands.cuts}
    warnings = (
        *geometry_warnings(run, pieces),
        *unused_tube_notes(job),
        *crowded_warnings(run),
        *slight_bend_warnings(pieces),
        *stock_warnings(job, shop),
        *unchecked_warnings(run, job),
        *as_cut_warnings(stands.cuts, run, mm(driven.rack.past_tip)),
        *tolerance_warnings({name: t for name, t in tolerances.items() if name not in already_cut}),
        *driven.warnings,
        *priced.warnings,
    )
    return Plan(job, shop, layout, run, blanks, nested, driven, priced, held, tolerances, stands.cuts, warnings)


def _nested(pieces: tuple[Piece, ...], job: Job, shop: Shop) -> Nest:
    """The pieces on the shop's bars, checked. Raises StockError where they do not fit, with what may be behind it."""
    stocks, rule = stocks_of(shop), offcut_rule(shop)
    kerf_mm, trim_mm = exact_mm(shop.bench.kerf), exact_mm(shop.bench.end_trim)
    gone: set[str] = set()
    while True:
        items = items_of(pieces, job, shop, gone)
        try:
            nested = nest(items, stocks, kerf_mm=kerf_mm, end_trim_mm=trim_mm, offcuts=rule)
        except StockError as error:
            # A long piece is often a short one that had to turn round: then its bends tell more than its length.
            error.remedy += "".join(f"; {bend}: look at the headings first" for bend in sharp_bends(pieces)[:1])
            raise
        if (now_gone := bars_gone(nested, job)) <= gone:
            check_nest(items, nested, stocks=stocks, kerf_mm=kerf_mm, end_trim_mm=trim_mm, offcuts=rule)
            return nested
        gone |= now_gone


def _tolerances(pieces: tuple[Piece, ...], job: Job, shop: Shop) -> dict[str, Tolerance]:
    if job.measuring_error is None:
        return {}
    error_mm, bending = mm(job.measuring_error), bending_of(job, shop)
    return {piece.id: tolerance(piece, job, bending, error_mm) for piece in pieces}
