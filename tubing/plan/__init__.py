"""Everything the program decides about a job: the stages in order, then the independent check.

Reads no file, prints nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from tubing.bench_work.order import Step, order_of_work
from tubing.check import check_apart, check_bends, check_clear, check_run, check_sawn
from tubing.cost import Cost, cost
from tubing.drive import Drive, drive, tail_tube
from tubing.errors import FitError, GeometryError, JobError, TubingError
from tubing.inputs.records import Cut, Job, Mounting, Shop
from tubing.nesting import Nest
from tubing.pieces.as_cut import AsCut, as_cut, check_state, no_place, with_box_moved
from tubing.pieces.blanks import Piece, cut_pieces
from tubing.pieces.clips import Clip, clips
from tubing.pieces.sawn import SawnBlank, sawn_blanks
from tubing.pieces.tolerance import Tolerance, piece_slopes, tolerance
from tubing.plan.facts import cost_facts, cutting_of, drive_facts, stocks_of, tools_of
from tubing.plan.from_shelf import OnStock, stock_plan_by_book
from tubing.plan.on_glass import OnGlass, on_glass
from tubing.plan.together import OnBars, own_part, stock_plan, told_apart
from tubing.plan.warnings import (
    as_cut_warnings,
    crowded_warnings,
    geometry_warnings,
    gone_bar_warnings,
    hairpin_warnings,
    sharp_bends,
    slight_bend_warnings,
    springback_warnings,
    stock_warnings,
    taped_warnings,
    tolerance_warnings,
    trial_warnings,
    unchecked_warnings,
    unused_tube_notes,
)
from tubing.plan.work_facts import over_lengths, still_over, workshop
from tubing.run.clearances import Clearance, clearances
from tubing.run.hairpins import Hairpin, hairpins, with_advice
from tubing.run.laying import TailLength, bending_of
from tubing.run.records import Run, RunCost
from tubing.run.routing import route
from tubing.shelf.records import ByBook, Vehicle
from tubing.units import exact_mm, mm

if TYPE_CHECKING:
    from tubing.measuring import NextReading

Relaid = Callable[[Job, Run], tuple[Job, Run, tuple[Piece, ...]]]

MOST_MOVES = 12  # how often a wheelbox's place is corrected to suit a cut piece; once or twice is usual


__all__ = ["LaidOut", "OnGlass", "Plan", "laid_out", "on_bars", "plan", "plan_together"]


class Plan(Struct, frozen=True, dict=True):
    """One layout of a job, decided. What its arms do on the glass is worked out when it is first asked for."""

    job: Job  # with the boxes moved that a piece as it was cut has moved
    shop: Shop
    layout: str
    run: Run
    nest: Nest  # the bars that hold pieces of this vehicle; of several together the cost is that of all
    together: tuple[str, ...]  # whom the stock plan is for, where it is for several vehicles; empty: for this alone
    sawn: tuple[SawnBlank, ...]  # the pieces in their order, as they come from the saw
    drive: Drive
    cost: Cost
    clips: tuple[Clip, ...]
    clearances: tuple[Clearance, ...]  # of the things in the way, in the job's order
    tolerances: Mapping[str, Tolerance]  # by piece; empty where the job states no measuring error
    on_formers: Mapping[str, RunCost | FitError]  # what the run costs on each former tried, or why there is none
    cuts: tuple[AsCut, ...]  # the pieces that the job says were cut
    work: tuple[Step, ...]  # in the order in which it is done
    warnings_of_the_run: tuple[str, ...]  # all but those of missing prices
    kept_since: tuple[str, ...] = ()  # the days on which its bars were kept in the shelf's book

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The pieces in order along the run."""
        return tuple(blank.piece for blank in self.sawn)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the fitter has to settle first."""
        return (*self.warnings_of_the_run, *self.cost.warnings)

    @cached_property
    def next_reading(self) -> NextReading | None:
        """The distance worth taping next; None: nothing was taped, or nothing helps much."""
        job = self.job
        if job.taped is None or job.measuring_error is None:
            return None
        stands_for, bending = job.taped.stands_for, bending_of(job, self.shop)
        slopes = {
            piece.id: {
                stands_for[name]: s for name, s in piece_slopes(piece, job, bending).items() if name in stands_for
            }
            for piece in self.pieces
        }
        return job.taped.measured.next_reading(slopes, mm(job.measuring_error))

    @cached_property
    def on_glass(self) -> OnGlass:
        """The arms on the job's screen. Raises JobError: the job has no screen, or a wrong one."""
        return on_glass(self.job, self.shop, self.run, self.drive)


def plan(job: Job, shop: Shop, layout: str | None = None, book: ByBook | None = None) -> Plan:
    """Plan one layout for one vehicle alone; None: the layout that the job names.

    ``book``: the shelf's, where the shop keeps one.

    Raises JobError for a layout that is not in the job; FitError where no geometry, drive or stock fits; CheckError
    where the plan fails its own check.
    """
    return plan_together([replace(job, vehicles=1)], shop, layout, book)[0]


def plan_together(
    jobs: Sequence[Job], shop: Shop, layout: str | None = None, book: ByBook | None = None
) -> tuple[Plan, ...]:
    """Plan every vehicle of several jobs, in order, with one stock plan for all of them.

    A job for several vehicles gives as many plans; where a title comes more than once, the plans' titles are numbered.
    One vehicle is planned as by :func:`plan`; a job that comes again is laid out once. Raises as that does.
    """
    stands, vehicles = vehicles_of(jobs, shop, layout, book)
    found = on_stock(vehicles, shop, book)
    labels = tuple(each.label for each in vehicles) if len(vehicles) > 1 else ()
    return tuple(_planned(*each, found, shop, labels) for each in zip(stands, vehicles, strict=True))


def vehicles_of(
    jobs: Sequence[Job], shop: Shop, layout: str | None = None, book: ByBook | None = None
) -> tuple[list[LaidOut], list[OnBars]]:
    """Every vehicle of several jobs, in order, laid out, and what each wants of the bars.

    Raises as :func:`plan` does, with the job's title.
    """
    every = [job for job in jobs for _ in range(job.vehicles)]
    if len(every) == 1:
        alone = laid_out(every[0], shop, every[0].layout if layout is None else layout)
        return [alone], [on_bars(alone, shop, vehicle=None if book is None else book.vehicles[0])]
    labels = told_apart([job.title for job in every])
    laid = {id(job): _named_by_its_title(job, shop, layout) for job in {id(job): job for job in jobs}.values()}
    stands = [
        replace(laid[id(job)], job=replace(laid[id(job)].job, title=label))
        for job, label in zip(every, labels, strict=True)
    ]
    called = [None] * len(every) if book is None else book.vehicles
    return stands, [on_bars(*each) for each in zip(stands, [shop] * len(every), labels, called, strict=True)]


def on_stock(vehicles: Sequence[OnBars], shop: Shop, book: ByBook | None) -> OnStock:
    """The stock plan for some vehicles, by the shop's book where it keeps one. Raises as :func:`plan` does."""
    if book is None:
        return OnStock(stock_plan(vehicles, shop, stocks_of(shop), cutting_of(shop)))
    return stock_plan_by_book(vehicles, shop, book.shelf, cutting_of(shop))


def _named_by_its_title(job: Job, shop: Shop, layout: str | None) -> LaidOut:
    """One job among several laid out. Raises as :func:`laid_out` does, with the job's title."""
    try:
        return laid_out(job, shop, job.layout if layout is None else layout)
    except TubingError as error:
        raise error.within(job.title) from None


def on_bars(stands: LaidOut, shop: Shop, label: str = "", vehicle: Vehicle | None = None) -> OnBars:
    """What a vehicle wants of the bars; ``label`` where it is planned together with others.

    ``vehicle``: its name in the shelf's book.
    """
    job, pieces = stands.job, stands.pieces
    said = hairpin_warnings(stands.hairpins, stands.run, shop)
    said += [f"{bend}: look at the headings first" for bend in sharp_bends(pieces)]
    return OnBars(label, job, pieces, over_lengths(pieces, stands.tolerances, job, shop), tuple(said), vehicle)


def _planned(stands: LaidOut, vehicle: OnBars, found: OnStock, shop: Shop, together: tuple[str, ...]) -> Plan:
    """What follows once the bars are chosen: drive, clips, cost, order of work, warnings."""
    nested = own_part(found.nest, vehicle)
    job, run, pieces = stands.job, stands.run, stands.pieces
    sawn = sawn_blanks(pieces, nested, job.cuts, vehicle.over)
    step_mm, names = exact_mm(shop.bench.cut_step), [box.name for box in run.boxes]
    check_sawn(sawn, {cut.piece for cut in job.cuts}, step_mm)
    check_bends(sawn, job, shop)
    driven = drive(drive_facts(run, job, shop))
    held = clips(pieces, mm(shop.bench.clip_spacing))
    priced = cost(cost_facts(job, run, sawn, nested, driven, held), shop.minutes, shop.money)
    return Plan(
        job=job,
        shop=shop,
        layout=stands.layout,
        run=run,
        nest=nested,
        together=together or found.shared_with,
        sawn=sawn,
        drive=driven,
        cost=priced,
        clips=held,
        clearances=clearances(run, job),
        tolerances=stands.tolerances,
        on_formers=stands.on_formers,
        cuts=stands.cuts,
        work=order_of_work(workshop(sawn, names, stands.tolerances, job, step_mm, clips=bool(held))),
        warnings_of_the_run=(*found.said.get(vehicle.label, ()), *_warnings(stands, shop, driven)),
        kept_since=tuple(dict.fromkeys(k.since for k in found.standing if vehicle.vehicle in k.plan.vehicles)),
    )


class LaidOut(Struct, frozen=True):
    """Run and pieces of a layout, before stock and drive."""

    job: Job  # with the boxes moved that a piece as it was cut has moved
    layout: str
    run: Run
    pieces: tuple[Piece, ...]
    cuts: tuple[AsCut, ...]
    tolerances: Mapping[str, Tolerance]  # by piece; empty where the job states no measuring error
    hairpins: tuple[Hairpin, ...] = ()
    on_formers: Mapping[str, RunCost | FitError] = {}  # what the run costs on each former tried, or why there is none


def laid_out(job: Job, shop: Shop, layout: str) -> LaidOut:
    """Run and pieces on the job's former, or on the best of those to be tried: fewest bends, least turn, length.

    Raises JobError for a layout that is not in the job, FitError where no geometry fits, CheckError where the pieces
    fail their own check.
    """
    tried: dict[str, LaidOut | FitError] = {}
    for former in job.formers or (job.former,):
        try:
            tried[former.name] = _laid_out(replace(job, former=former), shop, layout)
        except FitError as error:
            tried[former.name] = error
    laid = [stands for stands in tried.values() if isinstance(stands, LaidOut)]
    if not laid:
        raise next(error for error in tried.values() if isinstance(error, FitError))
    best = min(laid, key=lambda stands: stands.run.cost.weight)
    others = {name: each.run.cost if isinstance(each, LaidOut) else each for name, each in tried.items()}
    return replace(best, on_formers=others)


def _laid_out(job: Job, shop: Shop, layout: str) -> LaidOut:
    """Run and pieces, with every piece that was cut as it was cut, and what follows it planned from there."""
    if layout not in job.layouts:
        raise JobError(
            "layout", f"{layout!r} is not in the job", f"it must be one of {', '.join(job.layouts)}", "choose one"
        )

    def tail_length_mm(first: Mounting, last: Mounting) -> float:
        return tail_tube(job.sweep, first.model, last.model, shop.drive).length_mm

    def relaid(moved: Job, before: Run) -> tuple[Job, Run, tuple[Piece, ...]]:
        """What was left free was chosen before, and is held now."""
        held = replace(moved, layouts={**moved.layouts, layout: tuple(box.name for box in before.boxes)})
        again = route(held, shop, layout, tail_length_mm)
        again = replace(again, free=before.free, next_best=before.next_best)
        return held, again, cut_pieces(again, held, shop)

    run = _routed(job, shop, layout, tail_length_mm)
    planned = pieces = cut_pieces(run, job, shop)
    was_cut = {cut.piece: cut for cut in job.cuts}
    unsure = _tolerances(planned, job, shop) if was_cut else {}
    cuts: list[AsCut] = []
    for k, piece in enumerate(planned):
        if piece.id not in was_cut:
            continue
        cut = was_cut[piece.id]
        check_state(pieces[k], cut)
        over = still_over(pieces[k], unsure.get(piece.id), cut, exact_mm(shop.bench.cut_step))
        job, run, pieces, found = _held_as_cut(job, run, pieces, k, cut, piece, over, relaid)
        cuts.append(found)
    check_run(run, pieces, job.layouts[layout], job, shop)
    check_clear(run, pieces, job, shop)
    check_apart(run, pieces, job, shop)
    sharp = hairpins(run, job, shop, layout, tail_length_mm)
    return LaidOut(job, layout, run, pieces, tuple(cuts), _tolerances(pieces, job, shop), sharp)


def _held_as_cut(
    job: Job, run: Run, pieces: tuple[Piece, ...], k: int, cut: Cut, planned: Piece, over: bool, relaid: Relaid
) -> tuple[Job, Run, tuple[Piece, ...], AsCut]:
    """Piece ``k`` as it was cut, with the box at its end moved until it fits, and what follows from there.

    Raises GeometryError where no place for the box is found.
    """
    found = now = as_cut(pieces[k], job, cut, planned, over=over)
    moved_mm = 0.0
    for _ in range(MOST_MOVES):
        if now.holds:
            shares = {"start_mm": now.start_mm, "end_mm": now.end_mm, "bent_off": now.bent_off}
            return job, run, pieces, replace(found, moved_mm=moved_mm, **shares)
        moved_mm += now.moved_mm
        job, run, pieces = relaid(with_box_moved(job, run, now, pieces[k]), run)
        now = as_cut(pieces[k], job, cut, planned)
    raise no_place(found)


def _routed(job: Job, shop: Shop, layout: str, tail_length_mm: TailLength) -> Run:
    """The cheapest run. Raises as :func:`route` does, with the one heading that would give a run."""
    try:
        return route(job, shop, layout, tail_length_mm)
    except GeometryError as error:
        raise with_advice(error, job, shop, layout, tail_length_mm) from None


def _warnings(stands: LaidOut, shop: Shop, driven: Drive) -> tuple[str, ...]:
    """What the fitter has to settle first, but for the prices that are missing."""
    job, run, pieces = stands.job, stands.run, stands.pieces
    already_cut = {cut.piece for cut in stands.cuts if not cut.over}
    return (
        *taped_warnings(job),
        *hairpin_warnings(stands.hairpins, run, shop),
        *geometry_warnings(run, pieces, shop),
        *unused_tube_notes(job),
        *crowded_warnings(run),
        *slight_bend_warnings(pieces),
        *springback_warnings(pieces, job, shop),
        *trial_warnings(pieces, job, shop),
        *stock_warnings(job, shop),
        *unchecked_warnings(run, job),
        *gone_bar_warnings(pieces, job, shop),
        *as_cut_warnings(stands.cuts, run, driven.rack.past_tip_mm),
        *tolerance_warnings({name: t for name, t in stands.tolerances.items() if name not in already_cut}),
        *driven.warnings,
    )


def _tolerances(pieces: tuple[Piece, ...], job: Job, shop: Shop) -> dict[str, Tolerance]:
    if job.measuring_error is None:
        return {}
    error_mm, bending, tools = mm(job.measuring_error), bending_of(job, shop), tools_of(job, shop)
    return {piece.id: tolerance(piece, job, bending, error_mm, tools) for piece in pieces}
