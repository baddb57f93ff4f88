"""Drive, holes and park as tables."""

from __future__ import annotations

from tubing.drive import Drive
from tubing.plan import Plan
from tubing.sheet.records import Cell, Column, Measure, Table
from tubing.sheet.words import DEAD_END, angle_text, rounded, way_text
from tubing.units import deg, mm, newton

FIGURES = (Column("what"), Column("figure"), Column("remark"))
Row = tuple[Cell | Measure, ...]


def drive_table(plan: Plan) -> Table:
    """Rack, tail and pull."""
    drive, rack = plan.drive, plan.drive.rack
    tail_start = "from the groove's centre in the last wheelbox to its plain end, along the tube"
    rows: list[Row] = [
        ("stroke of the rack", Measure(mm(drive.stroke), "mm"), "between its dead ends"),
        ("throw of the motor's crank", Measure(mm(drive.crank), "mm"), "half the stroke"),
        ("rack, length to cut", Measure(mm(rack.length), "mm"), "from its fixed end to its tip"),
        ("rack, to count", Measure(rack.teeth, "teeth", 0), f"cut in the gap after this tooth; pitch {_pitch(plan)}"),
        (
            "rack past the last box's end face",
            Measure(mm(rack.past_end_face), "mm"),
            "pulled in: cut here when the rack is threaded" if mm(rack.past_end_face) > 0 else "pulled in: inside it",
        ),
        ("tail pulled in", Measure(mm(drive.tail.tail_in), "mm"), "rack beyond the last spindle"),
        ("tail pushed out", Measure(mm(drive.tail.tail_out), "mm"), "rack beyond the last spindle"),
        ("tail tube", Measure(mm(drive.tail.length), "mm"), tail_start),
        (
            f"overhang, {DEAD_END[rack.overhang.at]}",
            Measure(mm(rack.overhang.length), "mm"),
            f"beyond the last box's end face; common practice {_usual(drive)}: {rack.overhang.verdict}",
        ),
        ("fixed end, pulled in", Measure(mm(rack.fixed_end_in), "mm"), "behind the nose's seat"),
        ("fixed end, pushed out", Measure(mm(rack.fixed_end_out), "mm"), "behind the nose's seat"),
    ]
    return Table("Drive", FIGURES, (*rows, *_pull_rows(drive)))


def _pitch(plan: Plan) -> str:
    return f"{rounded(mm(plan.shop.rack.tooth_pitch), 2)} mm"


def _usual(drive: Drive) -> str:
    least, most = (rounded(mm(length), 0) for length in drive.rack.overhang.usual)
    return f"{least} to {most} mm"


def _pull_rows(drive: Drive) -> list[Row]:
    """The pull against the motor's rating, and what costs most of it."""
    pull = drive.pull
    rows: list[Row] = [("motor's rated pull", Measure(newton(pull.rating), "N", 0), "")]
    if pull.needed is None:
        rows.append(("pull needed", None, f"not worked out: {pull.why}"))
        return rows
    margin = newton(pull.rating) - newton(pull.needed)
    verdict = f"{rounded(abs(margin), 0)} N {'to spare' if margin >= 0 else 'too much for the motor'}"
    rows.append(("pull needed", Measure(newton(pull.needed), "N", 0), f"{pull.why}; {verdict}"))
    if pull.wet is not None:
        rows.append(("pull with wet rubber", Measure(newton(pull.wet), "N", 0), "capstan relation"))
    if pull.costliest_box is not None and len(pull.boxes) > 1:
        box = pull.costliest_box
        rows.append(("wheelbox that costs most pull", box.name, f"{rounded(100 * box.share, 0)} % of the pull"))
    if pull.bends and pull.bends[0].share >= 0.005:
        cost = pull.bends[0]
        place = f"{cost.bend.piece}, bend {cost.bend.number}"
        rows.append(("bend that costs most pull", place, f"{rounded(100 * cost.share, 0)} % of the pull"))
    return rows


def ports_table(plan: Plan) -> Table:
    """Where the grooves come on the vehicle, for setting the boxes by."""
    rows: list[Row] = []
    for box in plan.run.boxes:
        rows.append((f"{box.name}, groove in", *box.groove_in_mm))
        rows.append((f"{box.name}, groove out", *box.groove_out_mm))
    return Table(
        "Where the grooves come",
        (Column("port"), Column("x", "mm"), Column("y", "mm"), Column("z", "mm")),
        tuple(rows),
        before=("Centres of the grooves on the rack's centre line: x to the right, y forward, z up, as measured.",),
        after=tuple(f"{box.name}: the rack goes {way_text(box.heading)}." for box in plan.run.boxes),
    )


def boxes_table(drive: Drive) -> Table:
    """Turn, pull ratio, sweep, lost motion and mesh, by wheelbox."""
    return Table(
        "Wheelboxes, in order from the motor",
        (
            Column("box"),
            Column("turn so far", "deg"),
            Column("pull ratio", "", 2),
            Column("sweep", "deg"),
            Column("lost motion", "deg"),
            Column("at the blade's tip", "mm"),
            Column("teeth in mesh, in / out"),
        ),
        tuple(
            (
                box.name,
                deg(box.turn),
                box.pull_ratio,
                deg(box.sweep),
                deg(box.lost_motion),
                None if box.tip_movement is None else mm(box.tip_movement),
                f"{box.teeth_in} / {box.teeth_out}",
            )
            for box in drive.boxes
        ),
        after=(
            "Lost motion: the spindle stands still so far at each reversal, while the rack goes over from the inside "
            "of the bends to their outside. In / out: rack pulled in, rack pushed out.",
        ),
    )


def holes_table(drive: Drive) -> Table:
    """The slot, its place and the stem, by wheelbox."""
    return Table(
        "Holes in the panel",
        (
            Column("box"),
            Column("lean", "deg"),
            Column("slot wide", "mm"),
            Column("slot long", "mm"),
            Column("centre off", "mm"),
            Column("stem left outside", "mm"),
            Column("of that for nut", "mm"),
        ),
        tuple(
            (
                box.name,
                deg(box.hole.lean) if box.hole.lean_known else None,
                mm(box.hole.width),
                mm(box.hole.length),
                mm(box.hole.offset),
                mm(box.hole.stem_left),
                mm(box.hole.nut_room),
            )
            for box in drive.boxes
        ),
        after=tuple(_hole_words(drive)),
    )


def _hole_words(drive: Drive) -> list[str]:
    said = ["Centre off: from where the spindle's axis leaves the outer face to the slot's centre."]
    for box in drive.boxes:
        hole = box.hole
        if not hole.lean_known:
            said.append(f"{box.name}: no panel is given, so its lean counts as nothing: check it before drilling.")
            continue
        if hole.offset_toward is not None and deg(hole.lean) >= 0.05:
            off = deg(hole.wedge_off)
            wedge = f"A wedge spacer has to be cut to {angle_text(deg(hole.lean))}"
            usual = f"the usual {rounded(deg(hole.wedge), 0)} deg"
            fits = f"{usual} fits" if abs(off) < 0.05 else f"{usual} is {angle_text(abs(off))} off"
            said.append(
                f"{box.name}: the slot runs along the lean, its centre lies {way_text(hole.offset_toward)}. "
                f"{wedge}; {fits}."
            )
        else:
            said.append(f"{box.name}: the spindle stands square to the panel: a round hole.")
    return said


def park_table(drive: Drive) -> Table:
    """Where each arm parks, which way it goes there, and the hand of its crank."""
    park = drive.park
    return Table(
        f"Park {park.side}: rack {DEAD_END[park.at]}",
        (
            Column("box"),
            Column("rack passes on the"),
            Column("arm parks on the"),
            Column("turns to park"),
            Column("crank's hand"),
        ),
        tuple((arm.name, arm.rack_on, arm.parks, arm.turns, arm.crank_hand) for arm in park.arms),
        before=(
            "Arms: left and right as the driver sits. The rack's side and the turning are seen from outside, facing "
            "the panel.",
        ),
        after=(
            f"Set the motor's gear so that its park switch opens with the {park.motor_gear}.",
            f"To park {drive.other_park.side} the motor must stop with the {drive.other_park.motor_gear}.",
        ),
    )
