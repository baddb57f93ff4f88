"""The plan as data for other programs: lengths in mm, angles in degrees, money as text. These names are a contract."""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from tubing.cost import Cost, CostLine
from tubing.drive import BoxDrive, Drive, Motion, MotionPoint
from tubing.flares import learned
from tubing.geometry.vectors import Vector
from tubing.nesting import Bar, Nest
from tubing.pieces.as_cut import AsCut
from tubing.pieces.clips import Clip
from tubing.pieces.sawn import BendMark, SawnBlank
from tubing.plan import Plan
from tubing.run.clearances import Clearance
from tubing.run.placing import SIDE_NAMES, PlacedBox
from tubing.sheet.glazing import glass_data
from tubing.sheet.words import money_text
from tubing.sheet.work_order import Words
from tubing.springback import springback_of
from tubing.units import deg
from tubing.writers.compared import mark_of

PLACES = 6  # decimals of a length or an angle: a nanometre, so that the last bits of a float are not printed

Data = dict[str, Any]


def plan_data(plan: Plan) -> Data:
    """``plan --json``."""
    data: Data = {
        "title": plan.job.title,
        "layout": plan.layout,
        "pieces": [_piece(blank, plan) for blank in plan.sawn],
        "ports": [_ports(box) for box in plan.run.boxes],
        **nest_data(plan.nest, plan.shop.money.currency),
        "together": list(plan.together),
        "drive": _drive(plan.drive),
        "glass": tidy(glass_data(plan)),
        "cost": cost_data(plan.cost),
        "clips": [_clip(clip) for clip in plan.clips],
        "in_the_way": [_clearance(each) for each in plan.clearances],
        "as_cut": [_as_cut(cut) for cut in plan.cuts],
        "work": _work(plan),
        "measurements": _measurements(plan),
        "learned": _learned(plan),
        "chosen": list(plan.run.free),
        "warnings": list(plan.warnings),
        "notes": list(plan.drive.notes),
    }
    return data | {"mark": mark_of(data)}


def nest_data(nested: Nest, currency: str | None) -> Data:
    """``bars`` and ``nest``, as ``nest --json`` prints them too; without a currency the cost is mm of bar."""
    return {
        "bars": [{"number": number, **_bar(bar)} for number, bar in nested.numbered],
        "nest": {
            "cost": money_text(nested.cost_cents),
            "bound": money_text(nested.bound_cents),
            "proof": str(nested.proof),
            "counted_in": currency or "mm of bar",
            "note": nested.note,
        },
    }


def cost_data(cost: Cost) -> Data:
    """``cost`` of one layout."""
    return {
        "lines": [_cost_line(line) for line in cost.lines],
        "total": str(cost.total),
        "currency": cost.currency,
        "complete": cost.complete,
    }


def layouts_data(costs: Mapping[str, Cost]) -> Data:
    """``cost --json``."""
    return {"layouts": [{"layout": name, **cost_data(cost)} for name, cost in costs.items()]}


def tidy(value: Any) -> Any:
    """Data with its floats rounded, so that the same job gives the same bytes.

    >>> tidy({"a": [0.1 + 0.2, -0.0], "b": None})
    {'a': [0.3, 0.0], 'b': None}
    """
    match value:
        case float() | Fraction():
            return _number(value)
        case dict():
            return {key: tidy(inner) for key, inner in value.items()}
        case list() | tuple():
            return [tidy(inner) for inner in value]
        case _:
            return value


def _number(value: float | Fraction) -> float:
    return round(float(value), PLACES) + 0.0


def _degrees(angle_rad: float) -> float:
    return _number(math.degrees(angle_rad))


def _vector(vector: Vector) -> list[float]:
    return [_number(part) for part in vector]


def _piece(blank: SawnBlank, plan: Plan) -> Data:
    piece, tolerance = blank.piece, plan.tolerances.get(blank.piece.id)
    start, end = piece.tube.ports
    return {
        "id": piece.id,
        "from": start,
        "to": end,
        "centreline_mm": _number(piece.tube.length_mm),
        "finished_mm": _number(piece.finished_mm),
        "blank_mm": _number(blank.blank_mm),
        "cut_mm": _number(blank.length_mm - blank.over_mm),
        "over_mm": _number(blank.over_mm),
        "over_at": None if blank.over_end is None else blank.ports[1],
        "sawn_mm": _number(blank.length_mm),
        "rim_to_rim_mm": _number(piece.rim_to_rim_mm),
        "ends": [_end(blank, 0), _end(blank, 1)],
        "first_turn": None if blank.first_turn is None else _vector(blank.first_turn),
        "bends_from": blank.ports[0],
        "former": plan.job.former.name if blank.marks else None,
        "bends": [_bend(mark) for mark in blank.marks],
        "pull_in": {"mm": _number(piece.pull_in.distance_mm), "deg": _degrees(piece.pull_in.angle_rad)},
        "least_radius_mm": {
            "tube": _number(piece.least_radius.tube_mm),
            "rack": _number(piece.least_radius.rack_mm),
        },
        "error_mm": {
            "likely": None if tolerance is None else _number(tolerance.likely_mm),
            "worst": None if tolerance is None else _number(tolerance.worst_mm),
        },
        "matters_most": None if tolerance is None else tolerance.source,
        "mark_in_place": tolerance is not None and tolerance.mark_in_place,
    }


def _clip(clip: Clip) -> Data:
    return {
        "piece": clip.piece,
        "from_rim_mm": _number(clip.from_rim_mm),
        "position": None if clip.position_mm is None else _vector(clip.position_mm),
    }


def _clearance(each: Clearance) -> Data:
    return {
        "name": each.name,
        "kind": each.kind,
        "clearance_mm": _number(each.asked_mm),
        "left_mm": None if each.left_mm is None else _number(each.left_mm),
        "piece": each.piece,
    }


def _as_cut(cut: AsCut) -> Data:
    return {
        "piece": cut.piece,
        "length_mm": _number(cut.length_mm),
        "off_mm": _number(cut.off_mm),
        "start_mm": None if cut.start_mm is None else _number(cut.start_mm),
        "end_mm": None if cut.end_mm is None else _number(cut.end_mm),
        "moved_mm": _number(cut.moved_mm),
    }


def _end(blank: SawnBlank, which: int) -> Data:
    end = blank.piece.ends[which]
    return {
        "at": blank.piece.tube.ports[which],
        "flare": end.flare,
        "nut": end.nut,
        "ready": blank.ready[which],
        "consumed_mm": _number(blank.consumed_mm[which]),
        "seat_mm": _number(end.seat_mm),
        "diameter_mm": _number(end.diameter_mm),
    }


def _bend(mark: BendMark) -> Data:
    return {
        "number": mark.number,
        "start_mm": None if mark.start_mm is None else _number(mark.start_mm),
        "angle_deg": _degrees(mark.angle_rad),
        "set_deg": _degrees(mark.set_rad),
        "rotation_deg": None if mark.rotation_rad is None else _degrees(mark.rotation_rad),
        "radius_mm": _number(mark.radius_mm),
        "former_radius_mm": _number(mark.former_radius_mm),
    }


def _measurements(plan: Plan) -> Data | None:
    """What the tape came to; null where nothing was taped. ``sure_mm``: 95 %, in the worst direction."""
    if plan.job.taped is None:
        return None
    measured, worth = plan.job.taped.measured, plan.next_reading
    return {
        "points": [
            {"name": point.name, "at_mm": _vector(point.at_mm), "sure_mm": _number(point.sure_mm)}
            for point in measured.points
        ],
        "readings": [
            {
                "from": each.reading.start or None,
                "to": each.reading.end,
                "kind": each.reading.kind,
                "read_mm": _number(each.reading.value_mm),
                "residual_mm": _number(each.residual_mm),
                "checked": _number(each.checked),
                "doubtful": each.doubtful,
            }
            for each in measured.readings
        ],
        "spare": measured.spare,
        "next": None
        if worth is None
        else {
            "from": worth.start,
            "to": worth.end,
            "piece": worth.piece,
            "sure_now_mm": _number(worth.sure_now_mm),
            "sure_then_mm": _number(worth.sure_then_mm),
        },
    }


def _learned(plan: Plan) -> list[Data]:
    """What the shop's trials say of this job's tube; ``sure``: degrees of a bend or mm of a flare, 95 % either way."""
    job, trials = plan.job, plan.shop.trial_flares
    found: list[Data] = []
    bends = springback_of(job.tube, job.former, plan.shop)
    if bends.trials:
        sure = None if bends.sure_rad is None else _degrees(bends.sure_rad)
        shares = _number(bends.proportional), _degrees(bends.fixed_rad)
        found.append(_taught("springback", job.tube.stock, job.former.name, bends.trials, *shares, None, sure))
    for kind in ("single", "double"):
        flares = learned(job.tube, kind, trials)
        if flares is not None:
            sure = None if flares.sure_mm is None else _number(flares.sure_mm)
            mean = _number(flares.mean_mm)
            found.append(_taught(kind, job.tube.stock, None, flares.trials, None, None, mean, sure))
    return found


def _taught(*values: object) -> Data:
    keys = ("what", "tube", "former", "trials", "proportional", "fixed_deg", "consumes_mm", "sure")
    return dict(zip(keys, values, strict=True))


def _work(plan: Plan) -> list[Data]:
    words = Words(plan, "mm")
    ids = {piece.id for piece in plan.pieces}
    return [
        {
            "does": step.does.value,
            "piece": step.thing if step.thing in ids else None,
            "thing": step.thing,
            "at": step.at or None,
            "text": words.said([step]),
            "after": list(step.after),
        }
        for step in plan.work
    ]


def _ports(box: PlacedBox) -> Data:
    return {
        "name": box.name,
        "heading": _vector(box.heading),
        "side": SIDE_NAMES[box.side],
        "groove_in": _vector(box.groove_in_mm),
        "groove_out": _vector(box.groove_out_mm),
    }


def _bar(bar: Bar) -> Data:
    return {
        "size": bar.stock.size,
        "stock_mm": _number(bar.stock.length_mm),
        "from": "shelf" if bar.stock.on_shelf else "new",
        "count": bar.count,
        "pieces": list(bar.items),
        "lengths_mm": [_number(length) for length in bar.lengths_mm],
        "marks_mm": [_number(mark) for mark in bar.marks_mm],
        "left_mm": _number(bar.left_mm),
        "kept": bar.kept,
        "price": money_text(bar.stock.price_cents),
        "ready_ends_used": len(bar.saved_ends),
        "shelf_number": bar.stock.number,
        "offcut_number": bar.offcut_number,
    }


def _drive(drive: Drive) -> Data:
    pull = drive.pull
    return {
        "stroke_mm": _number(drive.stroke_mm),
        "crank_mm": _number(drive.crank_mm),
        "rack_mm": _number(drive.rack.length_mm),
        "rack_least_mm": _number(drive.rack.least_mm),
        "rack_teeth": drive.rack.teeth,
        "rack_cut_mm": _number(drive.rack.to_gap_mm),
        "tail_in_mm": _number(drive.tail.tail_in_mm),
        "tail_out_mm": _number(drive.tail.tail_out_mm),
        "tail_tube_mm": _number(drive.tail.length_mm),
        "overhang_mm": _number(drive.rack.overhang.length_mm),
        "pull_n": None if pull.needed_n is None else _number(pull.needed_n),
        "pull_rating_n": _number(pull.rating_n),
        "pull_why": pull.why,
        "pull_wet_n": None if pull.wet_n is None else _number(pull.wet_n),
        "pull_dry_n": None if pull.dry_n is None else _number(pull.dry_n),
        "bends": [
            {
                "piece": cost.bend.piece,
                "number": cost.bend.number,
                "angle_deg": _number(deg(cost.bend.turn)),
                "pull_share": _number(cost.share),
            }
            for cost in pull.bends
        ],
        "motion": _motion(drive.motion),
        "park": {"side": drive.park.side, "at": drive.park.at},
        "boxes": [_box(box, drive) for box in drive.boxes],
    }


def _motion(motion: Motion) -> Data:
    """The crank's turn from pushed out, 0, to pulled in, 180 degrees; speeds outwards positive."""

    def point(at: MotionPoint) -> Data:
        return {
            "crank_deg": _degrees(at.crank_rad),
            "rack_mm": _number(at.rack_mm),
            "arm_deg": _degrees(at.spindle_rad),
            "rack_mm_s": _number(at.rack_mm_per_s),
            "arm_deg_s": _degrees(at.arm_rad_per_s),
        }

    return {
        "rate_per_min": _number(motion.rate_per_min),
        "rod_mm": None if motion.rod_mm is None else _number(motion.rod_mm),
        "points": [point(at) for at in motion.on_the_way_in()],
        "fastest": point(motion.fastest),
    }


def _box(box: BoxDrive, drive: Drive) -> Data:
    arm = next(arm for arm in drive.park.arms if arm.name == box.name)
    share = next((pull.share for pull in drive.pull.boxes if pull.name == box.name), None)
    tip, needs = box.tip_movement_mm, box.hole.nut_needs_mm
    return {
        "name": box.name,
        "path_turn_deg": _degrees(box.turn_rad),
        "pull_ratio": _number(box.pull_ratio),
        "sweep_deg": _degrees(box.sweep_rad),
        "pull_share": None if share is None else _number(share),
        "lost_motion_deg": _degrees(box.lost_motion_rad),
        "lost_at_tip_mm": None if tip is None else _number(tip),
        "lean_deg": _degrees(box.hole.lean_rad),
        "slot_mm": {
            "width": _number(box.hole.width_mm),
            "length": _number(box.hole.length_mm),
            "offset": _number(box.hole.offset_mm),
        },
        "stem_mm": {
            "left": _number(box.hole.stem_left_mm),
            "for_nut": _number(box.hole.nut_room_mm),
            "nut_and_washer": None if needs is None else _number(needs),
        },
        "teeth": {"in": box.teeth_in, "out": box.teeth_out},
        "parks": arm.parks,
        "turns_to_park": arm.turns,
        "crank_hand": arm.crank_hand,
    }


def _cost_line(line: CostLine) -> Data:
    return {
        "what": line.what,
        "quantity": tidy(line.quantity),
        "unit": line.unit,
        "each": line.each_text,
        "amount": line.amount_text,
        "source": line.source,
    }
