"""Puts together everything that the job sheet of one plan says."""

from __future__ import annotations

import math

from tubing.flares import EndFlare
from tubing.plan import Plan
from tubing.run.records import RunCost
from tubing.sheet.bars import book_words, saw_list, stock_lines, whose_bars
from tubing.sheet.bending import bends_table
from tubing.sheet.costing import cost_table, parts_table
from tubing.sheet.cutting import (
    as_cut_table,
    clearances_table,
    clips_table,
    cut_list,
    fit_list,
    sureness_table,
)
from tubing.sheet.driving import boxes_table, drive_table, holes_table, motion_table, park_table, ports_table
from tubing.sheet.glazing import glass_table
from tubing.sheet.measurements import points_table, readings_table
from tubing.sheet.records import Column, JobSheet, Lines, Show, Table
from tubing.sheet.trial_pieces import trial_pieces
from tubing.sheet.words import angle_text, counted, length_text, listed, sentence, short_length, way_text
from tubing.sheet.work_order import cautions, order_of_work
from tubing.springback import springback_of
from tubing.units import deg, exact_mm, mm, rounded


def job_sheet(plan: Plan, show: Show = "mm", *, with_glass: bool = False, with_prices: bool = True) -> JobSheet:
    """The sheet of one plan; with ``show`` "in", inches stand beside the millimetres.

    ``with_glass`` judges the arms on the job's screen too. Without ``with_prices`` nothing says what anything costs;
    how good the bars are is still said. Raises what the glass stage raises of a wrong screen.
    """
    job, shop, step_mm = plan.job, plan.shop, exact_mm(plan.shop.bench.cut_step)
    work, fitting = order_of_work(plan, show)
    glass = glass_table(plan if with_glass else None)
    return JobSheet(
        title=job.title,
        show=show,
        head=_head(plan, show),
        # The lines before the table of the glass say which clearances are not kept: these are to be settled too.
        warnings=Lines("To settle first", (*_settle_first(plan, with_prices), *glass.before)),
        points=points_table(job),
        readings=readings_table(job, plan.next_reading),
        cut_list=cut_list(plan.sawn, step_mm, plan.cuts),
        fit_list=fit_list(plan.pieces),
        sureness=sureness_table(plan.tolerances),
        as_cut=as_cut_table(plan.cuts),
        bends=bends_table(plan.sawn, mm(job.tube.diameter), show),
        ports=ports_table(plan),
        clips=clips_table(plan.clips),
        in_the_way=clearances_table(plan.clearances),
        saw_list=saw_list(
            plan.nest, exact_mm(shop.bench.kerf), whose_bars(plan.together), {cut.piece for cut in plan.cuts}
        ),
        stock=_stock(plan, with_prices),
        drive=drive_table(plan),
        boxes=boxes_table(plan.drive),
        motion=motion_table(plan.drive, show),
        holes=holes_table(plan.drive),
        park=park_table(plan.drive),
        glass=glass,
        chosen=Lines("Chosen by the program, because the job leaves it free", tuple(_chosen(plan, show))),
        parts=parts_table(plan.cost),
        cost=cost_table(plan.cost if with_prices else None),
        work=work,
        fitting=fitting,
        cautions=cautions(),
        trial_pieces=trial_pieces(plan),
        notes=Lines("Notes", tuple(sentence(text) for text in _notes(plan, with_glass))),
    )


def _stock(plan: Plan, with_prices: bool) -> Lines:
    """How good the bars are known to be, and what the shelf's book has of them."""
    by_book = book_words(plan.kept_since, len(plan.nest.bars)) if plan.shop.book else ""
    return stock_lines(plan.nest, plan.shop.money.currency, plan.together, by_book, with_prices=with_prices)


def _settle_first(plan: Plan, with_prices: bool) -> list[str]:
    """What the fitter has to settle first; that a price is missing only where prices are told."""
    return [sentence(text) for text in (plan.warnings if with_prices else plan.warnings_of_the_run)]


def _head(plan: Plan, show: Show) -> Table:
    """The title block."""
    job = plan.job
    tube = job.tube
    size = f"{short_length(mm(tube.diameter), show)} outside, {short_length(mm(tube.wall), show)} wall, {tube.material}"
    boxes = [f"{box.name} ({box.mounting.model.name})" for box in plan.run.boxes]
    rows = [
        ("layout", f"{plan.layout}: {', '.join(boxes)}"),
        ("tube", f"{tube.name}: {size}"),
        *_bending(plan, show),
        ("motor", job.nose.model.name),
        ("sweep", f"{angle_text(deg(job.sweep))} at {plan.run.boxes[0].name}, {job.motion}, park {job.park}"),
    ]
    return Table("", (Column(""), Column("")), tuple(rows))


def _bending(plan: Plan, show: Show) -> list[tuple[str, str]]:
    """The former's radius; where there are bends also the radius at which they stay, and how they spring back."""
    former = plan.job.former
    said = f"{former.name}: {short_length(mm(former.radius), show)} radius to the tube's centre line"
    bends = [bend for piece in plan.pieces for bend in piece.bends]
    if not bends:
        return [("former", said)]
    if bends[0].radius_mm != bends[0].former_radius_mm:
        said += f"; a bend springs back to {length_text(bends[0].radius_mm, show)}"
    springback = springback_of(plan.job.tube, plan.job.former, plan.shop)
    how = f"{rounded(100 * springback.proportional, 1)} % of a bend's angle"
    if springback.fixed_rad:
        how += f" and {angle_text(math.degrees(springback.fixed_rad))} of play"
    known = f"from {counted(springback.trials, 'trial bend')}" if springback.trials else "not tried"
    return [("former", said), ("springback", f"{how}, {known}")]


def _formers_tried(plan: Plan, show: Show) -> list[str]:
    """Which former was chosen, and what the others would give."""
    if len(plan.on_formers) < 2:
        return []
    said = [f"The former is left open: {plan.job.former.name} was chosen."]
    for name, cost in plan.on_formers.items():
        run = _cost_words(cost, show) if isinstance(cost, RunCost) else f"no run, for {cost.thing}: {cost.found}"
        said.append(f"On {name}: {run}.")
    return said


def _chosen(plan: Plan, show: Show) -> list[str]:
    """What the job left free, what the program chose, and how the next best run compares."""
    run = plan.run
    said = _formers_tried(plan, show)
    if not run.free:
        return said
    said += [f"Left free: {listed(run.free)}."]
    for box in run.boxes:
        x, y, z = (rounded(part, 3) for part in box.heading)
        side = "right" if box.side > 0 else "left"
        said.append(
            f"{box.name}: heading {way_text(box.heading)} ({x}, {y}, {z}); the rack passes on the {side} of the "
            "spindle."
        )
    taken = _cost_words(run.cost, show)
    said.append(f"This run: {taken}.")
    if run.next_best is None:
        said.append("No other was found that fits.")
    elif (other := _cost_words(run.next_best, show)) == taken:
        said.append("The next best found is as good to the last digit printed.")
    else:
        said.append(f"The next best found: {other}. Fewer bends come first, then less turn.")
    return said


def _cost_words(cost: RunCost, show: Show) -> str:
    turn = angle_text(math.degrees(cost.turn_rad))
    return f"{counted(cost.bends, 'bend')}, {turn} of turn, {length_text(cost.length_mm, show)} of centre line"


def _notes(plan: Plan, with_glass: bool) -> list[str]:
    """What was taken for granted, and what stands elsewhere."""
    notes = [*_flare_notes(plan), *plan.drive.notes]
    if plan.job.screen is not None and not with_glass:
        notes.append("what the arms wipe of the glass, and what they keep clear of, is told by the command sweep")
    return notes


def _flare_notes(plan: Plan) -> list[str]:
    """Which row of the flare table each kind of flare was taken from, once."""
    kinds: dict[str, EndFlare] = {}
    for end in (end for piece in plan.pieces for end in piece.ends):
        if end.flare != "plain":
            kinds.setdefault(end.flare, end)
    return [
        f"a {kind} flare is {rounded(end.diameter_mm, 2)} mm over its rim and takes {rounded(end.consumed_mm, 2)} mm "
        f"of tube ({end.row})"
        for kind, end in sorted(kinds.items())
    ]
