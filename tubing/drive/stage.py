"""The drive as one stage: facts of a run in, all figures of the drive out."""

from __future__ import annotations

import math

from msgspec import Struct

from tubing.drive.hole import Hole, hole
from tubing.drive.motion import LEAST_FAST_RATE, Motion, arm_speed, motion
from tubing.drive.park import Park, doubt, park
from tubing.drive.pull import ROUGH, Pull, lost_motion, pull, pull_ratio, tip_movement, tip_reach
from tubing.drive.rack import RackCut, TailTube, crank_radius, cut_rack, mesh_at, sweep_of, tail_tube
from tubing.drive.records import DriveFacts, PathToBox
from tubing.errors import DriveError
from tubing.units import Quantity, deg, mm, quantity, rad, rounded

SLOW = (  # 49 CFR 571.104 S4.1.1; Regulation (EU) 1008/2010 Annex III 1.1
    "the working speed is {:.6g} cycles/min; 49 CFR 571.104 and Regulation (EU) 1008/2010 both ask for one speed of at "
    "least 45: a comparison, which approves nothing"
)


class BoxDrive(Struct, frozen=True):
    """What the drive does at one wheelbox."""

    name: str
    turn_rad: float  # total, from the nose to this box
    pull_ratio: float
    sweep_rad: float  # its own
    lost_motion_rad: float
    tip_movement_mm: float | None  # of the blade's farther tip, by the lost motion; None: its arm is not given
    teeth_in: int  # in mesh, pulled in
    teeth_out: int  # and pushed out
    fastest_arm_rad_per_s: float  # greatest speed of its arm at the working speed
    hole: Hole


class Drive(Struct, frozen=True):
    """All figures of the drive."""

    stroke_mm: float
    crank_mm: float  # its throw
    tail: TailTube
    rack: RackCut
    pull: Pull
    park: Park  # as the job asks
    other_park: Park  # as it would be on the other side
    boxes: tuple[BoxDrive, ...]  # in order from the motor
    motion: Motion
    notes: tuple[str, ...]  # what was taken for granted, and comparisons
    warnings: tuple[str, ...]  # what the fitter has to settle


def drive(facts: DriveFacts) -> Drive:
    """Everything about rack, pull, holes and park of one run.

    Raises DriveError: a rack that does not go into the tube, leaves a gear, strikes an end or is drawn into the
    nose; an own sweep of 0 or of 360 degrees and more; a stem that ends in its panel; a rod no longer than the crank.
    """
    _check_rack_goes_in(facts)
    tail = tail_tube(facts.sweep, facts.boxes[0].model, facts.boxes[-1].model, facts.settings)
    cut = cut_rack(facts.motor, facts.rack, facts.boxes, tail)
    travel = quantity(tail.stroke_mm, "mm")
    crank = crank_radius(travel)
    moving = motion(crank, facts.rod, facts.boxes[0].model.pitch_radius, facts.rate)
    fastest = quantity(moving.fastest.rack_mm_per_s, "mm/s")
    boxes = tuple(_box(facts, box, tail, fastest) for box in facts.boxes)
    pulled = pull(facts)
    return Drive(
        stroke_mm=tail.stroke_mm,
        crank_mm=mm(crank),
        tail=tail,
        rack=cut,
        pull=pulled,
        park=park(facts.park, facts.boxes),
        other_park=park("left" if facts.park == "right" else "right", facts.boxes),
        boxes=boxes,
        motion=moving,
        notes=tuple(_notes(facts, pulled)),
        warnings=tuple(_warnings(boxes, pulled, cut)),
    )


def _check_rack_goes_in(facts: DriveFacts) -> None:
    if mm(facts.rack.diameter) >= mm(facts.bore):
        raise DriveError(
            "rack",
            f"its diameter is {mm(facts.rack.diameter):.6g} mm",
            f"it must be below the tube's bore, {mm(facts.bore):.6g} mm",
            "take a tube with a larger bore, or check the rack's diameter in the shop file",
        )


def _box(facts: DriveFacts, box: PathToBox, tail: TailTube, fastest_rack: Quantity) -> BoxDrive:
    own_sweep = sweep_of(quantity(tail.stroke_mm, "mm"), box.model.pitch_radius)
    if not 0 < deg(own_sweep) < 360:
        raise DriveError(
            f"wheelbox {box.name!r}",
            f"its own sweep is {deg(own_sweep):.6g} deg",
            "it must be above 0 and below 360 deg",
            "ask for another sweep, or take a wheelbox with a larger pitch radius",
        )
    lost = lost_motion(facts.bore, facts.rack.diameter, box.turn, box.model.pitch_radius)
    reach = next((tip_reach(arm) for arm in facts.arms if arm.on == box.name), None)
    return BoxDrive(
        name=box.name,
        turn_rad=rad(box.turn),
        pull_ratio=pull_ratio(facts.settings.friction, box.turn),
        sweep_rad=rad(own_sweep),
        lost_motion_rad=rad(lost),
        tip_movement_mm=None if reach is None else mm(tip_movement(lost, reach)),
        teeth_in=mesh_at("in", box, facts, tail),
        teeth_out=mesh_at("out", box, facts, tail),
        fastest_arm_rad_per_s=float(arm_speed(fastest_rack, box.model.pitch_radius).to("rad/s").magnitude),
        hole=hole(box, facts.wedge),
    )


def _notes(facts: DriveFacts, pulled: Pull) -> list[str]:
    """What was taken for granted, and comparisons with what is usual."""
    notes = []
    if pulled.needed_n is None:
        notes.append(f"the pull is not worked out: {pulled.why}")
    elif facts.settings.measured_pull is None:
        notes.append(ROUGH)
    notes += [
        f"wheelbox {box.name!r}: no panel is given, so its lean counts as 0" for box in facts.boxes if box.panel is None
    ]
    if facts.rate is None:
        rate = LEAST_FAST_RATE.to("cycle/min").magnitude
        notes.append(f"speeds are for {rate} cycles/min, the least fast speed of 49 CFR 571.104")
    elif facts.rate.to("cycle/min").magnitude < LEAST_FAST_RATE.to("cycle/min").magnitude:
        notes.append(SLOW.format(float(facts.rate.to("cycle/min").magnitude)))
    if facts.rod is None:
        notes.append("no connecting rod is given; the motion is that of a long one")
    return notes + [text for box in facts.boxes if (text := doubt(box.name, box.spindle)) is not None]


def _warnings(boxes: tuple[BoxDrive, ...], pulled: Pull, cut: RackCut) -> list[str]:
    """What the fitter has to settle."""
    warnings = [] if cut.overhang.verdict == "usual" else [str(cut.overhang)]
    if cut.past_tip_mm < 0:
        warnings.append(
            f"the rack, cut in the gap between two teeth, strikes the end of the tail tube by "
            f"{rounded(-cut.past_tip_mm, 1)} mm when it is pushed out; raise tip_clearance in [drive] of the shop "
            "file to a tooth's pitch at least"
        )
    if pulled.needed_n is not None and pulled.needed_n > pulled.rating_n:
        wet = ""
        if pulled.wet_n is not None and pulled.why != "as measured":
            enough = "within" if pulled.wet_n <= pulled.rating_n else "beyond it as well"
            wet = f"; wet it is {rounded(pulled.wet_n, 0)} N, {enough}"
        warnings.append(
            f"the motor has to pull {rounded(pulled.needed_n, 0)} N ({pulled.why}) and is rated at "
            f"{rounded(pulled.rating_n, 0)} N{wet}"
        )
    return warnings + [text for box in boxes if (text := _short_stem(box)) is not None]


def _short_stem(box: BoxDrive) -> str | None:
    """What is wrong with a stem that is too short for its nut; None: nothing."""
    hole, leans = box.hole, box.hole.lean_rad > 0
    if hole.nut_room_mm <= 0:
        left = "nothing for washer and nut"
    elif hole.nut_needs_mm is not None and hole.nut_spare_mm is not None and hole.nut_spare_mm < 0:
        left = f"{rounded(hole.nut_room_mm, 1)} mm for washer and nut, which take {rounded(hole.nut_needs_mm, 1)} mm"
    else:
        return None
    what = f"a wedge for {rounded(math.degrees(hole.lean_rad), 1)} deg leaves {left}" if leans else f"there are {left}"
    return (
        f"wheelbox {box.name!r}: of {rounded(hole.stem_left_mm, 1)} mm of stem outside the panel {what}; take a "
        "thinner inner spacer or a longer stem"
    )
