"""Run and pieces of a layout, with every piece that was cut as it was cut, and what follows it planned from there.

A piece that its grooves cannot take up moves the wheelbox at its far end along its heading. Its bends stay where the
plan before the move had them, so that it fits whether or not it was bent by that plan; only its last straight changes.
Where that leaves no tube, its bends are planned anew, and the box is moved until the new tube is as long as the blank.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from tubing.check import check_clear, check_run
from tubing.drive import tail_tube
from tubing.errors import GeometryError, JobError
from tubing.inputs.records import Cut, Job, Mounting, Shop
from tubing.pieces.as_cut import AsCut, as_cut, check_ready, with_box_moved
from tubing.pieces.blanks import Piece, cut_pieces
from tubing.run.records import Run
from tubing.run.routing import route
from tubing.units import mm

MOST_MOVES = 12  # of one box; each leaves a part of what was left before, where the bends are planned anew


class LaidOut(Struct, frozen=True):
    """Run and pieces of a layout, before stock and drive."""

    job: Job  # with the boxes moved that a piece as it was cut has moved
    run: Run
    pieces: tuple[Piece, ...]
    cuts: tuple[AsCut, ...]


class _State(NamedTuple):
    job: Job
    run: Run
    pieces: tuple[Piece, ...]


def laid_out(job: Job, shop: Shop, layout: str) -> LaidOut:
    """Run and pieces of one layout.

    Raises JobError for a layout that is not in the job, FitError where no geometry fits, CheckError where the pieces
    fail their own check.
    """
    if layout not in job.layouts:
        raise JobError(
            "layout", f"{layout!r} is not in the job", f"it must be one of {', '.join(job.layouts)}", "choose one"
        )

    def tail_length_mm(first: Mounting, last: Mounting) -> float:
        return mm(tail_tube(job.sweep, first.model, last.model, shop.drive).length)

    def laid(job: Job, chosen: Run | None) -> _State:
        run = route(job, shop, layout, tail_length_mm)
        if chosen is not None:  # what was left free was chosen then; now it is held
            run = replace(run, free=chosen.free, next_best=chosen.next_best)
        return _State(job, run, cut_pieces(run, job, shop))

    asked, state = job, laid(job, None)
    planned_mm = {piece.id: piece.blank_mm for piece in state.pieces}
    was_cut = {cut.piece: cut for cut in job.cuts}
    cuts: list[AsCut] = []
    for k, piece in enumerate(state.pieces):
        if piece.id in was_cut:
            check_ready(piece, was_cut[piece.id])
            state, cut = _with_cut(state, k, was_cut[piece.id], planned_mm[piece.id], layout, laid)
            cuts.append(cut)
    check_run(state.run, state.pieces, state.job.layouts[layout])
    check_clear(state.run, state.pieces, state.job, shop)
    return LaidOut(replace(state.job, between=asked.between), state.run, state.pieces, tuple(cuts))


def _with_cut(
    state: _State, k: int, cut: Cut, planned_mm: float, layout: str, laid: Callable[[Job, Run | None], _State]
) -> tuple[_State, AsCut]:
    """The state with piece ``k`` as it was cut, the box at its end moved until its grooves take up what is left."""
    first = found = as_cut(state.pieces[k], state.job, cut, planned_mm)
    moved_mm = 0.0
    for _ in range(MOST_MOVES):
        if found.holds:
            break
        moved_mm += found.moved_mm
        names = tuple(box.name for box in state.run.boxes)
        job = replace(state.job, layouts={**state.job.layouts, layout: names})
        try:
            state = laid(with_box_moved(job, state.run, found, state.pieces[k], as_bent=True), state.run)
        except GeometryError:
            state = laid(with_box_moved(job, state.run, found, state.pieces[k], as_bent=False), state.run)
        found = as_cut(state.pieces[k], state.job, cut, planned_mm)
    return state, replace(found, off_mm=first.off_mm, moved_mm=moved_mm)
