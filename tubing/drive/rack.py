"""How far the rack goes, how long it is cut, and the tail tube that takes its end. Every formula on pint quantities.

Pulled in, pushed out: the two dead ends of the rack's stroke.
Tail:       rack beyond the last spindle.
Engagement: rack that has to lie beyond a spindle for the gear to be in full mesh.
Mesh zone:  the engagement on both sides of a spindle; teeth that lie in it are in mesh.
Overhang:   rack beyond the last wheelbox's end face, where a fitter can see and measure it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from msgspec import Struct

from tubing.drive.records import DriveFacts, PathToBox
from tubing.errors import DriveError
from tubing.inputs.catalogue import Motor, Wheelbox
from tubing.inputs.records import DriveSettings, Rack
from tubing.units import RAD, Quantity, checked, mm, number, quantity, rounded

DeadEnd = Literal["in", "out"]  # pulled in, pushed out

USUAL_OVERHANG = (quantity(100, "mm"), quantity(125, "mm"))  # common practice, no source


@checked("mm", sweep="rad", pitch_radius="mm")
def stroke(sweep: Quantity, pitch_radius: Quantity) -> Quantity:
    """Travel of the rack between its dead ends: the sweep laid off on the first box's pitch circle; exact.

    >>> round(mm(stroke(quantity(90, "deg"), quantity(20, "mm"))), 4)
    31.4159
    """
    result: Quantity = sweep.to("rad") * pitch_radius / RAD
    return result


@checked("rad", travel="mm", pitch_radius="mm")
def sweep_of(travel: Quantity, pitch_radius: Quantity) -> Quantity:
    """Angle that a box turns when the rack travels: each box its own, by its pitch radius; exact.

    >>> round(sweep_of(quantity(30, "mm"), quantity(40, "mm")).to("rad").magnitude, 9)
    Fraction(3, 4)
    """
    result: Quantity = travel / pitch_radius * RAD
    return result


@checked("mm", travel="mm")
def crank_radius(travel: Quantity) -> Quantity:
    """Throw of the motor's crank: half the stroke, when the crank's centre lies in line with the rack."""
    result: Quantity = travel / 2
    return result


@checked("mm", engagement="mm", margin="mm")
def tail_pulled_in(engagement: Quantity, margin: Quantity) -> Quantity:
    """Rack beyond the last spindle at the pulled-in dead end, the shorter one: what the gear needs, and a margin."""
    result: Quantity = engagement + margin
    return result


@checked("mm", engagement="mm", travel="mm", mouth_offset="mm")
def tail_by_practice(engagement: Quantity, travel: Quantity, mouth_offset: Quantity) -> Quantity:
    """Rack beyond the last spindle, pulled in, so that pushed out it stands out of the box as is usual.

    Pushed out, the middle of ``USUAL_OVERHANG`` lies beyond the box's end face, ``mouth_offset`` from the spindle. A
    long stroke takes more than that out of the gear: then it is what the gear needs.

    >>> [round(mm(tail_by_practice(*(quantity(x, "mm") for x in (25, travel, 45)))), 3) for travel in (40, 140)]
    [117.5, 25.0]
    """
    least, most = USUAL_OVERHANG
    result: Quantity = max(mouth_offset + (least + most) / 2 - travel, engagement)
    return result


@checked("mm", pulled_in="mm", travel="mm")
def tail_pushed_out(pulled_in: Quantity, travel: Quantity) -> Quantity:
    """Rack beyond the last spindle at the pushed-out dead end."""
    result: Quantity = pulled_in + travel
    return result


@checked("mm", pushed_out="mm", groove_offset="mm", tip_clearance="mm")
def tail_tube_length(pushed_out: Quantity, groove_offset: Quantity, tip_clearance: Quantity) -> Quantity:
    """Tail tube from the groove's centre to its plain end, along its centre line."""
    result: Quantity = pushed_out - groove_offset + tip_clearance
    return result


@checked("mm", fixed_end="mm", travel="mm", centreline="mm", pulled_in="mm")
def rack_length(fixed_end: Quantity, travel: Quantity, centreline: Quantity, pulled_in: Quantity) -> Quantity:
    """Length of the rack from its fixed end to its tip, as it lies pulled in.

    ``fixed_end``: the nose's seat back to the rack's fixed end, at mid-stroke; ``centreline``: nose's seat to
    the last spindle.
    """
    result: Quantity = fixed_end + travel / 2 + centreline + pulled_in
    return result


@checked("", before="mm", beyond="mm", engagement="mm", tooth_pitch="mm")
def teeth_in_mesh(before: Quantity, beyond: Quantity, engagement: Quantity, tooth_pitch: Quantity) -> int:
    """Whole teeth of the rack in the mesh zone of a spindle with so much rack before it and beyond it.

    >>> [teeth_in_mesh(*(quantity(x, "mm") for x in (900, beyond, 20, 3))) for beyond in (90, 20, 7, -4)]
    [12, 12, 8, 4]
    """
    pitches = [number(min(side.to("mm"), engagement.to("mm")) / tooth_pitch) for side in (before, beyond)]
    # What floating point takes off a whole pitch is not a tooth. A rack that does not come near the spindle has no
    # tooth in the zone, not less than none.
    return max(sum(math.floor(round(pitch, 9)) for pitch in pitches), 0)


class TailTube(Struct, frozen=True):
    """What has to be known before the tail tube is bent."""

    stroke_mm: float
    tail_in_mm: float  # rack beyond the last spindle, pulled in
    tail_out_mm: float  # and pushed out
    length_mm: float  # groove's centre to the plain end, along the centre line
    spare_in_mm: float  # of ``tail_in_mm``, what the last gear does not need


class Overhang(Struct, frozen=True):
    """The comparison with common practice: so much rack beyond the last wheelbox."""

    at: DeadEnd  # the dead end that the comparison is made at
    tail_mm: float  # beyond the last spindle
    length_mm: float  # beyond the box's end face; this is what is compared
    usual_mm: tuple[float, float]
    verdict: Literal["shorter than usual", "usual", "longer than usual"]

    def __str__(self) -> str:
        """One sentence for the sheet."""
        where = "pushed out" if self.at == "out" else "pulled in"
        least, most = (f"{length_mm:g}" for length_mm in self.usual_mm)
        return (
            f"{where}, {rounded(self.length_mm, 1)} mm of rack stand beyond the last wheelbox's end face "
            f"({rounded(self.tail_mm, 1)} mm beyond its spindle); common practice is {least} to {most} mm "
            f"({self.verdict})"
        )


class RackCut(Struct, frozen=True):
    """The rack as it is cut."""

    length_mm: float  # fixed end to tip
    least_mm: float  # fixed end to tip, with nothing to spare beyond what the last gear needs
    teeth: int  # whole tooth pitches that hold the length: cut at the gap after this tooth
    to_gap_mm: float  # fixed end to that gap: what is cut, less than a pitch longer than ``length_mm``
    past_end_face_mm: float  # pulled in, where that gap is, from the last box's end face; below 0: inside the box
    past_tip_mm: float  # tail tube beyond that gap when the rack is pushed out; below 0 the rack strikes its end
    fixed_end_in_mm: float  # nose's seat back to the fixed end, pulled in
    fixed_end_out_mm: float  # and pushed out
    overhang: Overhang


def tail_tube(sweep: Quantity, first: Wheelbox, last: Wheelbox, settings: DriveSettings) -> TailTube:
    """Stroke, tail and tail tube, from the sweep, the first and the last box's models and the shop's allowances.

    The shop's margin decides how much rack lies beyond what the last gear needs; without one, common practice does.

    Raises DriveError: no tail pulled in; a tube that ends before the rack's tip; one too short to leave the box.
    """
    travel = stroke(sweep, first.pitch_radius)
    if settings.margin is None:
        pulled_in = tail_by_practice(settings.engagement, travel, last.mouth_offset)
    else:
        pulled_in = tail_pulled_in(settings.engagement, settings.margin)
    pushed_out = tail_pushed_out(pulled_in, travel)
    length = tail_tube_length(pushed_out, last.groove_offset, settings.tip_clearance)
    if mm(pulled_in) <= 0:
        raise DriveError(
            "tail pulled in",
            f"engagement and margin make {mm(pulled_in):.6g} mm",
            "it must be above 0, or the rack leaves the last gear",
            "raise engagement or margin in [drive] of the shop file",
        ).of_shop()
    if mm(settings.tip_clearance) < 0:
        raise DriveError(
            "tail tube",
            f"tip_clearance is {mm(settings.tip_clearance):.6g} mm",
            "it must not be below 0, or the rack strikes the end of the tail tube",
            "raise tip_clearance in [drive] of the shop file",
        ).of_shop()
    if mm(length) <= mm(last.holds):
        raise DriveError(
            "tail tube",
            f"from the groove it is {mm(length):.6g} mm long",
            f"it must be longer than the {mm(last.holds):.6g} mm that the wheelbox holds",
            "raise margin or tip_clearance in [drive] of the shop file",
        ).of_shop()
    return TailTube(mm(travel), mm(pulled_in), mm(pushed_out), mm(length), mm(pulled_in - settings.engagement))


def cut_rack(motor: Motor, rack: Rack, boxes: Sequence[PathToBox], tail: TailTube) -> RackCut:
    """The rack's length, where to cut it, and how its overhang compares with common practice.

    The overhang is compared pushed out, where it is greatest: that is the length the tail tube has to be "a
    little longer" than by the same practice.

    Raises DriveError: pushed out, the fixed end would be drawn into the nose.
    """
    last = boxes[-1]
    fixed_mm, half_mm = mm(motor.fixed_end), tail.stroke_mm / 2
    if fixed_mm - half_mm <= 0:
        raise DriveError(
            f"motor {motor.name!r}",
            f"pushed out, the rack's fixed end is {fixed_mm - half_mm:.6g} mm behind the nose's seat"
            f" (fixed_end {fixed_mm:.6g} mm less half the stroke, {half_mm:.6g} mm)",
            "it must stay behind the seat",
            "choose a smaller sweep, a first wheelbox with a smaller pitch radius, or another motor",
        )
    travel, pulled_in = quantity(tail.stroke_mm, "mm"), quantity(tail.tail_in_mm, "mm")
    length_mm = mm(rack_length(motor.fixed_end, travel, last.centreline, pulled_in))
    pitch_mm = mm(rack.tooth_pitch)
    teeth = math.ceil(round(length_mm / pitch_mm, 9))
    more_mm = teeth * pitch_mm - length_mm
    return RackCut(
        length_mm=length_mm,
        least_mm=length_mm - tail.spare_in_mm,
        teeth=teeth,
        to_gap_mm=teeth * pitch_mm,
        past_end_face_mm=tail.tail_in_mm - mm(last.model.mouth_offset) + more_mm,
        past_tip_mm=tail.length_mm - (tail.tail_out_mm - mm(last.model.groove_offset)) - more_mm,
        fixed_end_in_mm=fixed_mm + half_mm,
        fixed_end_out_mm=fixed_mm - half_mm,
        overhang=overhang(tail.tail_out_mm, last.model),
    )


def overhang(tail_out_mm: float, last: Wheelbox) -> Overhang:
    """Rack beyond the last wheelbox's end face, pushed out, beside what is usual."""
    length_mm = tail_out_mm - mm(last.mouth_offset)
    least_mm, most_mm = (mm(length) for length in USUAL_OVERHANG)
    verdict: Literal["shorter than usual", "usual", "longer than usual"] = "usual"
    if length_mm < least_mm:
        verdict = "shorter than usual"
    elif length_mm > most_mm:
        verdict = "longer than usual"
    return Overhang("out", tail_out_mm, length_mm, (least_mm, most_mm), verdict)


def mesh_at(at: DeadEnd, box: PathToBox, facts: DriveFacts, tail: TailTube) -> int:
    """Teeth in mesh at a box when the rack stands at a dead end.

    Raises DriveError: fewer than a mesh zone full of them.
    """
    half_mm = tail.stroke_mm / 2
    engagement, tooth_pitch = facts.settings.engagement, facts.rack.tooth_pitch
    before_mm = mm(box.centreline) + mm(facts.motor.fixed_end) + (half_mm if at == "in" else -half_mm)
    # From the tail, not from the rack's length: at the last box it is then exactly the tail.
    beyond_mm = tail.tail_in_mm if at == "in" else tail.tail_out_mm
    beyond_mm += mm(facts.boxes[-1].centreline) - mm(box.centreline)
    found = teeth_in_mesh(quantity(before_mm, "mm"), quantity(beyond_mm, "mm"), engagement, tooth_pitch)
    full = teeth_in_mesh(engagement, engagement, engagement, tooth_pitch)
    if found < full:
        side = "beyond" if beyond_mm < before_mm else "before"
        error = DriveError(
            f"wheelbox {box.name!r}",
            f"{'pulled in' if at == 'in' else 'pushed out'}, {min(beyond_mm, before_mm):.6g} mm of rack lie {side} its "
            "spindle",
            f"the gear needs {mm(engagement):.6g} mm on both sides",
            "raise margin in [drive] of the shop file" if side == "beyond" else "move the box away from the motor",
        )
        raise error.of_shop() if side == "beyond" else error
    return found
