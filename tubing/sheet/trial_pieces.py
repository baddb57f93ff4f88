"""The page of trial pieces: what to bend and flare before the job's own pieces, with room to write what came out."""

from __future__ import annotations

import math

from tubing.flares import learned
from tubing.plan import Plan
from tubing.sheet.records import Cell, Column, Table
from tubing.springback import as_bent_mm, springback_of, trial_blank_mm
from tubing.units import mm

LEAST_SET_DEG, MOST_SET_DEG = 20, 120  # a slighter bend is hard to measure, a sharper one hard to make
APART_DEG = 40  # two trials nearer than this tell play and springback apart badly
FLARED_MM = 200  # a blank that any flaring tool holds and any rule measures


def trial_pieces(plan: Plan) -> Table:
    """Two bends where the pair of tube and former was never tried, two flares of each kind that was not.

    The angles span the job's bends. Without rows where everything was tried.
    """
    bends, flares = _bends(plan), _flares(plan)
    tube = plan.job.tube.stock
    shop_lines = []
    if bends:
        shop_lines.append(
            f'Into the shop file, for each bend: [[trial_bend]], tube = "{tube}", former = '
            f'"{plan.job.former.name}", set = what was set, got = what stayed, each with its unit.'
        )
    if flares:
        shop_lines.append(
            f'Into the shop file, for each flare: [[trial_flare]], tube = "{tube}", kind, before = the blank, '
            "after = what was measured, each with its unit."
        )
    return Table(
        "Trial pieces",
        (
            Column("trial"),
            Column("blank", "mm", 0),
            Column("what to do"),
            Column("what to measure"),
            Column("what came out"),
        ),
        (*bends, *flares),
        before=(
            "Make these of the job's tube before its own pieces, and plan again with what came out. Their tube is not "
            "in the stock plan: an offcut will do.",
        ),
        after=tuple(shop_lines),
    )


def _bends(plan: Plan) -> list[tuple[Cell, ...]]:
    job, shop = plan.job, plan.shop
    angles = [math.degrees(bend.angle_rad) for piece in plan.pieces for bend in piece.bends]
    if not angles or springback_of(job.tube, job.former, shop).trials:
        return []
    low = min(max(math.floor(min(angles) / 10) * 10, LEAST_SET_DEG), MOST_SET_DEG - APART_DEG)
    high = max(min(math.ceil(max(angles) / 10) * 10, MOST_SET_DEG), low + APART_DEG)
    bent_mm = as_bent_mm(job.tube, job.former, shop)
    return [
        (
            f"bend {count}",
            trial_blank_mm(bent_mm, math.radians(angle)),
            f"set the bender to {angle} deg on the former of {mm(job.former.radius):g} mm, its bend in the middle",
            "the angle that stays, off the former",
            "__________ deg",
        )
        for count, angle in enumerate((low, high), start=1)
    ]


def _flares(plan: Plan) -> list[tuple[Cell, ...]]:
    used = {end.flare for piece in plan.pieces for end in piece.ends}
    kinds = [k for k in ("single", "double") if k in used]
    untried = [kind for kind in kinds if learned(plan.job.tube, kind, plan.shop.trial_flares) is None]
    return [
        (
            f"{kind} flare {count}",
            FLARED_MM,
            f"saw it square, measure it, and form one {kind} flare",
            "from the rim to the other end",
            "__________ mm",
        )
        for kind in untried
        for count in (1, 2)
    ]
