"""Drive, motion, holes and park as tables."""

from __future__ import annotations

from typing import Literal

from tubing.drive import Drive
from tubing.plan import Plan
from tubing.sheet.records import Cell, Column, Measure, Show, Table
from tubing.sheet.words import DEAD_END, angle_text, length_text, listed, way_text
from tubing.units import deg, mm, newton, rounded

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
        ("stroke of the rack", Measure(mm(drive.stroke), "mm"), "between its dead ends"),
        ("throw of the motor's crank", Measure(mm(drive.crank), "mm"), "half the stroke"),
        ("rack, length wanted", Measure(mm(rack.length), "mm"), "from its fixed end to its tip"),
        ("rack, least that reaches", Measure(mm(rack.least), "mm"), "any shorter, it leaves the last gear"),
        ("rack, to count", Measure(rack.teeth, "teeth", 0), f"of {_pitch(plan)} pitch, from its fixed end"),
        ("rack, length to cut", Measure(mm(rack.to_gap), "mm"), "in the gap after that tooth"),
        (
            "rack past the last box's end face",
            Measure(mm(rack.past_end_face), "mm"),
            "pulled in: cut here when the rack is threaded" if mm(rack.past_end_face) > 0 else "pulled in: inside it",
        ),
        ("tail pulled in", Measure(mm(drive.tail.tail_in), "mm"), f"beyond the last spindle; the gear needs {needs}"),
        ("tail pushed out", Measure(mm(drive.tail.tail_out), "mm"), "beyond the last spindle"),
        ("tail tube", Measure(mm(drive.tail.length), "mm"), tail_start),
        (
            "tail tube past the rack's tip",
            Measure(mm(rack.past_tip), "mm"),
            "pushed out; common practice: a little longer than the rack",
        ),
        (
            f"overhang, {DEAD_END[rack.overhang.at]}",
            Measure(mm(rack.overhang.length), "mm"),
            f"beyond the last box's end face; common practice {_usual(drive)}: {rack.overhang.verdict}",
        ),
        ("fixed end, pulled in", Measure(mm(rack.fixed_end_in), "mm"), "behind the nose's seat"),
        ("fixed end, pushed out", Measure(mm(rack.fixed_end_out), "mm"), "behind the nose's seat"),
    ]
    return Table("Drive", FIGURES, (*rows, *_pull_rows(plan)))


def _pitch(plan: Plan) -> str:
    return f"{rounded(mm(plan.shop.rack.tooth_pitch), 2)} mm"


def _usual(drive: Drive) -> str:
    least, most = (rounded(mm(length), 0) for length in drive.rack.overhang.usual)
    return f"{least} to {most} mm"


def _pull_rows(plan: Plan) -> list[Row]:
    """The pull against the motor's rating, and what costs most of it."""
    pull = plan.drive.pull
    rows: list[Row] = [("motor's rated pull", Measure(newton(pull.rating), "N", 0), "")]
    if pull.needed is None:
        # The glass names arms and blades for such a box: without this the two would seem to disagree.
        chosen = "" if plan.job.screen is None else f"; {CHOSEN_ON_GLASS}"
        rows.append(("pull needed", None, f"not worked out: {pull.why}{chosen}"))
        return rows
    computed = "by the capstan relation, an estimate"
    if pull.why == "as measured":
        margin = _to_spare(newton(pull.rating) - newton(pull.needed))
        rows.append(("pull needed, as measured", Measure(newton(pull.needed), "N", 0), margin))
        computed = "for comparison, by the capstan relation"
    for rubber, force in (("dry", pull.dry), ("wet", pull.wet)):
        if force is not None:
            said = f"{computed}; {_to_spare(newton(pull.rating) - newton(force))}"
            rows.append((f"pull needed, rubber {rubber}", Measure(newton(force), "N", 0), said))
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
                deg(box.turn),
                box.pull_ratio,
                *([shares[box.name]] if shares else []),
                deg(box.sweep),
                deg(box.lost_motion),
                None if box.tip_movement is None else mm(box.tip_movement),
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


def motion_table(drive: Drive, show: Show) -> Table:
    """Rack and arms through one turn of the motor's crank."""
    motion = drive.motion
    boxes = [box for k, box in enumerate(drive.boxes) if deg(box.sweep) not in [deg(b.sweep) for b in drive.boxes[:k]]]
    alike = len(boxes) == 1
    ratios = [deg(box.sweep) / deg(drive.boxes[0].sweep) for box in boxes]
    rows: list[Row] = [
        (
            deg(point.crank),
            mm(point.rack),
            *(deg(point.spindle) * ratio for ratio in ratios),
            abs(float(point.rack_speed.to("mm/s").magnitude)),
            abs(float(point.arm_speed.to("deg/s").magnitude)),
        )
        for point in motion.on_the_way_in()
    ]
    fastest = motion.fastest
    arms = [f"{rounded(float(box.fastest_arm.to('deg/s').magnitude), 0)} deg/s" for box in boxes]
    each = [f"{box.name} {speed}" for box, speed in zip(boxes, arms, strict=True)]
    speeds = f"{arms[0]} at the arms" if alike else f"arms {listed(each)}"
    rate = float(motion.rate.to("cycle/min").magnitude)
    rod = "a long connecting rod" if motion.rod is None else f"a connecting rod of {length_text(mm(motion.rod), show)}"
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
            f"At {rounded(rate, 0)} cycles/min and with {rod}. Crank: 0 pushed out, 180 pulled in; the way back is the "
            "same backwards. Rack and arms: from where they stand pulled in, lost motion not counted.",
        ),
        after=(
            f"Fastest {rounded(min(deg(fastest.crank), 360 - deg(fastest.crank)), 0)} deg of the crank from pushed "
            f"out: rack {rounded(float(fastest.rack_speed.to('mm/s').magnitude), 0)} mm/s, {speeds}.",
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
                deg(box.hole.lean) if box.hole.lean_known else None,
                mm(box.hole.width),
                mm(box.hole.length),
                mm(box.hole.offset),
                mm(box.hole.stem_left),
                mm(box.hole.nut_room),
                None if box.hole.nut_needs is None else mm(box.hole.nut_needs),
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
    unknown = [box.name for box in drive.boxes if box.hole.nut_needs is None]
    if unknown:
        said.append(f"{listed(unknown)}: nut and washer are not given; hold them against the stem before drilling.")
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
