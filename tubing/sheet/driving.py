"""Drive, motion, holes and park as tables."""

from __future__ import annotations

import math
from typing import Literal

from tubing.drive import Drive, Motion
from tubing.plan import Plan
from tubing.sheet.records import Cell, Column, Measure, Show, Table
from tubing.sheet.words import DEAD_END, angle_text, length_text, listed, way_text
from tubing.units import deg, mm, rounded

FIGURES = (Column("what"), Column("figure"), Column("remark"))
Row = tuple[Cell | Measure, ...]
COSTLIEST = 3  # bends that are named by what they cost
NO_SHARE = 0.005  # of the pull: nothing, once it is rounded
CHOSEN_ON_GLASS = "lengths left free are chosen on the glass, by the command sweep: write those you fit into the job"


def drive_table(plan: Plan) -> Table:
    """Rack, tail and pull."""
    drive, rack = plan.drive, plan.drive.rack
    tail_start = "from the groove's centre in the last wheelbox to its plain end, along the tube"
    needs = f"{rounded(mm(plan.shop.drive.engagement), 1)} mm"
    rows: list[Row] = [
        ("stroke of the rack", Measure(drive.stroke_mm, "mm"), "between its dead ends"),
        ("throw of the motor's crank", Measure(drive.crank_mm, "mm"), "half the stroke"),
        ("rack, length wanted", Measure(rack.length_mm, "mm"), "from its fixed end to its tip"),
        ("rack, least that reaches", Measure(rack.least_mm, "mm"), "any shorter, it leaves the last gear"),
        ("rack, to count", Measure(rack.teeth, "teeth", 0), f"of {_pitch(plan)} pitch, from its fixed end"),
        ("rack, length to cut", Measure(rack.to_gap_mm, "mm"), "in the gap after that tooth"),
        (
            "rack past the last box's end face",
            Measure(rack.past_end_face_mm, "mm"),
            "pulled in: cut here when the rack is threaded" if rack.past_end_face_mm > 0 else "pulled in: inside it",
        ),
        ("tail pulled in", Measure(drive.tail.tail_in_mm, "mm"), f"beyond the last spindle; the gear needs {needs}"),
        ("tail pushed out", Measure(drive.tail.tail_out_mm, "mm"), "beyond the last spindle"),
        ("tail tube", Measure(drive.tail.length_mm, "mm"), tail_start),
        (
            "tail tube past the rack's tip",
            Measure(rack.past_tip_mm, "mm"),
            "pushed out; common practice: a little longer than the rack",
        ),
        (
            f"overhang, {DEAD_END[rack.overhang.at]}",
            Measure(rack.overhang.length_mm, "mm"),
            f"beyond the last box's end face; common practice {_usual(drive)}: {rack.overhang.verdict}",
        ),
        ("fixed end, pulled in", Measure(rack.fixed_end_in_mm, "mm"), "behind the nose's seat"),
        ("fixed end, pushed out", Measure(rack.fixed_end_out_mm, "mm"), "behind the nose's seat"),
    ]
    return Table("Drive", FIGURES, (*rows, *_pull_rows(plan)))


def _pitch(plan: Plan) -> str:
    return f"{rounded(mm(plan.shop.rack.tooth_pitch), 2)} mm"


def _usual(drive: Drive) -> str:
    least, most = (rounded(length_mm, 0) for length_mm in drive.rack.overhang.usual_mm)
    return f"{least} to {most} mm"


def _pull_rows(plan: Plan) -> list[Row]:
    """The pull against the motor's rating, and what costs most of it."""
    pull = plan.drive.pull
    rows: list[Row] = [("motor's rated pull", Measure(pull.rating_n, "N", 0), "")]
    if pull.needed_n is None:
        # The glass chooses an arm for such a box. Without this sentence pull and glass would seem to disagree.
        chosen = "" if plan.job.screen is None else f"; {CHOSEN_ON_GLASS}"
        rows.append(("pull needed", None, f"not worked out: {pull.why}{chosen}"))
        return rows
    computed = "by the capstan relation, an estimate"
    if pull.why == "as measured":
        margin = _to_spare(pull.rating_n - pull.needed_n)
        rows.append(("pull needed, as measured", Measure(pull.needed_n, "N", 0), margin))
        computed = "for comparison, by the capstan relation"
    for rubber, force in (("dry", pull.dry_n), ("wet", pull.wet_n)):
        if force is not None:
            said = f"{computed}; {_to_spare(pull.rating_n - force)}"
            rows.append((f"pull needed, rubber {rubber}", Measure(force, "N", 0), said))
    if pull.costliest_box is not None and len(pull.boxes) > 1:
        box = pull.costliest_box
        rows.append(("wheelbox that costs most pull", box.name, f"{rounded(100 * box.share, 0)} % of the pull"))
    for cost in pull.bends[:COSTLIEST]:
        if cost.share >= NO_SHARE:
            place = f"{cost.bend.piece}, bend {cost.bend.number}"
            said = f"{angle_text(deg(cost.bend.turn))}; without it {rounded(100 * cost.share, 0)} % less pull"
            rows.append(("bend that costs most pull" if cost is pull.bends[0] else "and next", place, said))
    return rows


def _to_spare(margin_n: float) -> str:
    return f"{rounded(abs(margin_n), 0)} N {'to spare' if margin_n >= 0 else 'too much for the motor'}"


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
    shares = {box.name: 100 * box.share for box in drive.pull.boxes}
    return Table(
        "Wheelboxes, in order from the motor",
        (
            Column("box"),
            Column("turn so far", "deg"),
            Column("pull ratio", "", 2),
            *([Column("of the pull", "%", 0)] if shares else []),
            Column("sweep", "deg"),
            Column("lost motion", "deg"),
            Column("at the blade's tip", "mm"),
            Column("teeth in mesh, in / out"),
        ),
        tuple(
            (
                box.name,
                math.degrees(box.turn_rad),
                box.pull_ratio,
                *([shares[box.name]] if shares else []),
                math.degrees(box.sweep_rad),
                math.degrees(box.lost_motion_rad),
                box.tip_movement_mm,
                f"{box.teeth_in} / {box.teeth_out}",
            )
            for box in drive.boxes
        ),
        after=(
            "Lost motion: the spindle stands still so far at each reversal, while the rack goes over from the inside "
            "of the bends to their outside; the blade's tip wipes so much less at the two ends together. In / out: "
            "rack pulled in, rack pushed out.",
        ),
    )


def _rod_text(motion: Motion, show: Show) -> str:
    return (
        "a long connecting rod" if motion.rod_mm is None else f"a connecting rod of {length_text(motion.rod_mm, show)}"
    )


def motion_table(drive: Drive, show: Show) -> Table:
    """Rack and arms through one turn of the motor's crank."""
    motion = drive.motion
    boxes = [box for k, box in enumerate(drive.boxes) if box.sweep_rad not in [b.sweep_rad for b in drive.boxes[:k]]]
    alike = len(boxes) == 1
    ratios = [box.sweep_rad / drive.boxes[0].sweep_rad for box in boxes]
    rows: list[Row] = [
        (
            math.degrees(point.crank_rad),
            point.rack_mm,
            *(math.degrees(point.spindle_rad) * ratio for ratio in ratios),
            abs(point.rack_mm_per_s),
            abs(math.degrees(point.arm_rad_per_s)),
        )
        for point in motion.on_the_way_in()
    ]
    fastest = motion.fastest
    fastest_deg = math.degrees(min(fastest.crank_rad, 2 * math.pi - fastest.crank_rad))
    arms = [f"{rounded(math.degrees(box.fastest_arm_rad_per_s), 0)} deg/s" for box in boxes]
    each = [f"{box.name} {speed}" for box, speed in zip(boxes, arms, strict=True)]
    speeds = f"{arms[0]} at the arms" if alike else f"arms {listed(each)}"
    return Table(
        "Motion over half a turn of the motor's crank",
        (
            Column("crank", "deg", 0),
            Column("rack", "mm"),
            *([Column("arms", "deg")] if alike else [Column(f"arm {box.name}", "deg") for box in boxes]),
            Column("rack's speed", "mm/s", 0),
            Column("arms' speed" if alike else f"speed of arm {boxes[0].name}", "deg/s", 0),
        ),
        tuple(rows),
        before=(
            f"At {rounded(motion.rate_per_min, 0)} cycles/min and with {_rod_text(motion, show)}. Crank: 0 pushed "
            "out, 180 pulled in; the way back is the same backwards. Rack and arms: from where they stand pulled in, "
            "lost motion not counted.",
        ),
        after=(
            f"Fastest {rounded(fastest_deg, 0)} deg of the crank from pushed out: rack "
            f"{rounded(fastest.rack_mm_per_s, 0)} mm/s, {speeds}.",
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
            Column("nut and washer", "mm"),
        ),
        tuple(
            (
                box.name,
                math.degrees(box.hole.lean_rad) if box.hole.lean_known else None,
                box.hole.width_mm,
                box.hole.length_mm,
                box.hole.offset_mm,
                box.hole.stem_left_mm,
                box.hole.nut_room_mm,
                box.hole.nut_needs_mm,
            )
            for box in drive.boxes
        ),
        after=tuple(_hole_words(drive)),
    )


def _hole_words(drive: Drive) -> list[str]:
    said = [
        "Centre off: from where the spindle's axis leaves the outer face to the slot's centre. Stem left outside: past "
        "inner spacer and panel. Of that for nut: what a wedge spacer outside leaves, if it is no wider than the bush."
    ]
    unknown = [box.name for box in drive.boxes if box.hole.nut_needs_mm is None]
    if unknown:
        said.append(f"{listed(unknown)}: nut and washer are not given; hold them against the stem before drilling.")
    for box in drive.boxes:
        hole = box.hole
        if not hole.lean_known:
            said.append(f"{box.name}: no panel is given, so its lean counts as nothing: check it before drilling.")
            continue
        if hole.offset_toward is not None and math.degrees(hole.lean_rad) >= 0.05:
            off = math.degrees(hole.wedge_off_rad)
            wedge = f"A wedge spacer has to be cut to {angle_text(math.degrees(hole.lean_rad))}"
            usual = f"the usual {rounded(math.degrees(hole.wedge_rad), 0)} deg"
            fits = f"{usual} fits" if abs(off) < 0.05 else f"{usual} is {angle_text(abs(off))} off"
            said.append(
                f"{box.name}: the slot runs along the lean, its centre lies {way_text(hole.offset_toward)}. "
                f"{wedge}; {fits}."
            )
        else:
            said.append(f"{box.name}: the spindle stands square to the panel: a round hole.")
    return said


def crank_hand(crank_deg: float, parks: Literal["left", "right"]) -> Literal["left", "right"]:
    """The side to which a blade's outer end leans with the arm up the glass, as the driver sits.

    A positive crank leans it to the side where the arm parks.

    >>> crank_hand(4, "left"), crank_hand(-4, "left"), crank_hand(4, "right")
    ('left', 'right', 'right')
    """
    return "left" if (crank_deg >= 0) == (parks == "left") else "right"


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
            f"To park {drive.other_park.side} the motor must stop with the {drive.other_park.motor_gear}, and the arms "
            f"must be cranked the other way.",
        ),
    )
