"""What the arms wipe of the glass. Imports the glass stage, and with it shapely, only where a job has a screen."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from tubing.plan import OnGlass, Plan
from tubing.sheet.driving import crank_hand
from tubing.sheet.records import Cell, Column, Lines, Measure, Part, Sheet, Show, Table
from tubing.sheet.words import angle_text, listed
from tubing.units import deg, mm, rounded

if TYPE_CHECKING:
    from tubing.glass import Comparison, CrankSize, Sweep, SweepTable

UNSEEN_MM, UNSEEN_DEG = 0.05, 0.05  # less is nothing, once it is rounded
ALIKE_MM = 15.0  # invented: a curved glass laid flat, and spindles that lean apart, differ by less
CLEAR_AND_APART = (
    "Clear and apart: at the worst through the whole cycle, between blades with lost motion; below 0 it goes over the "
    "edge."
)
EACH_ITS_OWN = "Arm and blade lengths left free are searched for each sweep anew: each row has its own best arms."


def glass_data(plan: Plan) -> dict[str, Any] | None:
    """The plan's JSON key ``glass``; None where the job has no screen."""
    if plan.job.screen is None:
        return None
    from tubing.glass import as_data

    found = plan.on_glass
    data = as_data(found.sweep, found.misfits_mm, found.cranks)
    return {**data, "plane_misfit_mm": found.plane_misfit_mm}


def glass_table(plan: Plan | None) -> Table:
    """What the job's own sweep wipes; the lines before the table say which clearances it does not keep.

    Without rows where there is no plan to judge, or its job has no screen.
    """
    columns = (Column("what"), Column("figure"), Column("remark"))
    if plan is None or plan.job.screen is None:
        return Table("Glass", columns, ())
    from tubing.glass import CAUTION, comparisons

    found = plan.on_glass
    sweep = found.sweep
    compared = comparisons(sweep)
    said = [*_park_words(plan, found.cranks), *_misfits(plan, found)]
    if free := _left_free(plan):
        said.append(
            f"Arm and blade lengths that the job leaves free, on {listed(free)}, are chosen here: write those you fit "
            "into the job, and the pull is worked out for them."
        )
    said += [_beside_the_rule(one) for one in compared]
    return Table(
        "Glass",
        columns,
        tuple(_figures(sweep)),
        before=tuple(_broken(text, sweep) for text in sweep.breaks),
        after=(*said, *((CAUTION,) if compared else ())),
    )


def _misfits(plan: Plan, found: OnGlass) -> list[str]:
    """By how much the measurements of the glass disagree with those of the vehicle."""
    said = _pivots_beside_holes(plan)
    for name, off_mm in found.misfits_mm.items():
        if abs(off_mm) >= UNSEEN_MM:
            side = "towards the driver" if off_mm > 0 else "outwards"
            said.append(f"{name}: its hole lies {rounded(abs(off_mm), 1)} mm off the plane of the glass, {side}.")
    if found.plane_misfit_mm >= UNSEEN_MM:
        said.append(
            f"The glass as measured lies up to {rounded(found.plane_misfit_mm, 1)} mm off its best plane, in which all "
            "this is worked out."
        )
    return said


def _pivots_beside_holes(plan: Plan) -> list[str]:
    """Neighbouring pivots whose distance on the glass differs from that of their holes on the vehicle."""
    screen, said = plan.job.screen, []
    if screen is None or screen.pivots_mm is None:
        return []
    for one, other in itertools.pairwise(plan.run.boxes):
        on_glass_mm = math.dist(screen.pivots_mm[one.name], screen.pivots_mm[other.name])
        holes_mm = math.dist(one.mounting.hole_mm, other.mounting.hole_mm)
        if abs(on_glass_mm - holes_mm) > ALIKE_MM:
            said.append(
                f"{one.name} and {other.name}: their pivots lie {rounded(on_glass_mm, 1)} mm apart on the glass, their "
                f"holes {rounded(holes_mm, 1)} mm apart on the vehicle: measure both again before you trust the sweep."
            )
    return said


def _park_words(plan: Plan, cranks: Sequence[CrankSize]) -> list[str]:
    """For each arm the crank that lays its parked blade along the edge, and what its present crank does."""
    has_deg = {arm.on: deg(arm.crank) for arm in plan.job.arms}
    hands = {arm.name: crank_hand(has_deg.get(arm.name, 0.0), arm.parks) for arm in plan.drive.park.arms}
    said = []
    for one in cranks:
        off = _off_words(one, has_deg.get(one.name, 0.0), hands[one.name])
        if one.crank_deg is None or one.clearance_mm is None:
            said.append(f"{one.name}: no crank lays the parked blade along the lower edge of the glass{off}.")
            continue
        over = f"{rounded(abs(one.clearance_mm), 1)} mm {'clear of' if one.clearance_mm >= 0 else 'over'} it"
        said.append(
            f"{one.name}: an arm cranked {angle_text(one.crank_deg)} to the {one.hand} and parked at "
            f"{angle_text(one.parked_deg or 0.0)} lays its blade along the lower edge, {over}{off}."
        )
    return said


def _off_words(one: CrankSize, has_deg: float, hand: str) -> str:
    """How far the parked blade stands off the edge with the arm's present crank; empty where it lies along it."""
    if one.fitted_off_deg is None or one.fitted_off_deg < UNSEEN_DEG:
        return ""
    has = f"with the {angle_text(abs(has_deg))} to the {hand} that it has" if has_deg else "with a straight arm"
    if has_deg and one.crank_deg is not None and one.crank_deg >= UNSEEN_DEG and hand != one.hand:
        has += ", which is the wrong hand"
    return f"; {has}, the parked blade stands {angle_text(one.fitted_off_deg)} off the edge's direction"


def _broken(text: str, sweep: Sweep) -> str:
    return f"Not kept on the glass at the job's own {angle_text(sweep.sweep_deg)}: {text}."


def _left_free(plan: Plan) -> list[str]:
    """Wheelboxes whose arm or blade is searched."""
    given = {arm.on for arm in plan.job.arms if arm.length is not None and arm.blade is not None}
    return [box.name for box in plan.run.boxes if box.name not in given]


def _figures(sweep: Sweep) -> list[tuple[Cell | Measure, ...]]:
    rows: list[tuple[Cell | Measure, ...]] = [
        ("screen wiped", Measure(sweep.screen_percent, "%"), _lagging(sweep.lagging_screen_percent))
    ]
    rows += [
        (f"zone {name} wiped", Measure(percent, "%"), _lagging(sweep.lagging_zones_percent[name]))
        for name, percent in sweep.zones_percent.items()
    ]
    for one in sweep.fitted:
        arm = f"arm {rounded(one.arm_mm, 0)} mm, blade {rounded(one.blade_mm, 0)} mm, sweep {angle_text(one.sweep_deg)}"
        rows.append((f"{one.name}, clear of the edge", Measure(one.clearance_mm, "mm"), arm))
    rows += [(f"{' and '.join(gap.between)}, apart", Measure(gap.least_mm, "mm"), "at least") for gap in sweep.gaps]
    return rows


def _lagging(percent: float) -> str:
    return f"{rounded(percent, 1)} % with lost motion"


def _beside_the_rule(one: Comparison) -> str:
    verdict = "reached" if one.reached else "not reached"
    memory = ", from memory" if one.limit.sure == "M" else ""
    return (
        f"Zone {one.limit.zone} beside {one.limit.rule}{memory}: {rounded(one.lagging_percent, 1)} % with lost motion, "
        f"the rule asks {rounded(one.limit.least_percent, 0)} %: {verdict}."
    )


def sweep_sheet(plan: Plan, table: SweepTable, show: Show) -> Sheet:
    """The sweeps on offer beside each other, and which is best."""
    from tubing.glass import CAUTION, comparisons, crank_sizes

    found = plan.on_glass
    judged = table.best if table.best is not None else table.sweeps[0]
    zones = tuple(judged.zones_percent)
    parts: list[Part] = [
        Table(
            "Sweeps on offer",
            (
                Column(f"sweep at {plan.run.boxes[0].name}", "deg"),
                Column("screen wiped", "%"),
                Column("with lost motion", "%"),
                *(Column(f"zone {name} wiped", "%") for name in zones),
                Column("clear of the edge", "mm"),
                Column("blades apart", "mm"),
                Column("keeps clear"),
            ),
            tuple(_sweep_row(one, zones) for one in table.sweeps),
            before=(CLEAR_AND_APART, *([EACH_ITS_OWN] if _left_free(plan) else [])),
            after=(
                f"{'Best: ' if table.best else 'None: '}{table.reason}.",
                f"The job itself asks for {angle_text(deg(plan.job.sweep))}.",
            ),
        )
    ]
    if table.best is not None:
        words = (*_park_words(plan, crank_sizes(found.glass, table.best)), *_misfits(plan, found))
        parts.append(_arms(table.best, words))
    else:
        broken = [f"{one.sweep_deg:g} deg: {'; '.join(one.breaks)}." for one in table.sweeps]
        parts.append(Lines("What is not kept", tuple(broken)))
    compared = comparisons(judged)
    if compared:
        said = (*(_beside_the_rule(one) for one in compared), CAUTION)
        parts.append(Lines(f"Rules beside {judged.sweep_deg:g} deg", said))
    return Sheet(f"{plan.job.title}, {plan.layout}: sweeps", tuple(parts), show)


def _sweep_row(one: Sweep, zones: tuple[str, ...]) -> tuple[Cell, ...]:
    return (
        one.sweep_deg,
        one.screen_percent,
        one.lagging_screen_percent,
        *(one.zones_percent[name] for name in zones),
        min(fitted.clearance_mm for fitted in one.fitted),
        min((gap.least_mm for gap in one.gaps), default=None),
        "no" if one.breaks else "yes",
    )


def _arms(best: Sweep, words: tuple[str, ...]) -> Table:
    return Table(
        f"Arms at {best.sweep_deg:g} deg",
        (
            Column("box"),
            Column("arm", "mm"),
            Column("blade", "mm"),
            Column("own sweep", "deg"),
            Column("parked at", "deg"),
            Column("outer tip clear", "mm"),
            Column("inner tip clear", "mm"),
        ),
        tuple(
            (
                one.name,
                one.arm_mm,
                one.blade_mm,
                one.sweep_deg,
                one.parked_deg,
                one.outer_tip_mm,
                one.inner_tip_mm,
            )
            for one in best.fitted
        ),
        after=(
            "Parked at: the arm's direction from the screen's x axis, anticlockwise from the driver's seat. Cranked to "
            "the left: with the arm up the glass the blade's outer end leans to the driver's left.",
            *words,
        ),
    )


def sweep_data(plan: Plan, table: SweepTable) -> dict[str, Any]:
    """``sweep --json``."""
    from tubing.glass import as_data, crank_sizes

    found = plan.on_glass
    return {
        "title": plan.job.title,
        "layout": plan.layout,
        "sweeps": [as_data(one, found.misfits_mm, crank_sizes(found.glass, one)) for one in table.sweeps],
        "best_deg": None if table.best is None else table.best.sweep_deg,
        "reason": table.reason,
        "clearance_mm": mm(plan.shop.bench.clearance),
    }
