"""Rack, pull and the stage as a whole, on an invented twin whose sums are done by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest
from msgspec.structs import replace

from tests.drive_facts import FIRST, SECOND, USUAL, angle, arm, box, facts, force, length, path, settings
from tubing.drive import drive, tail_tube
from tubing.drive.pull import ROUGH
from tubing.drive.rack import overhang, teeth_in_mesh
from tubing.errors import DriveError
from tubing.units import quantity

STROKE_MM = math.pi / 2 * 20  # 90 degrees on a pitch radius of 20 mm


def refusal(changed: dict[str, Any]) -> str:
    with pytest.raises(DriveError) as error:
        drive(facts(**changed))
    assert error.value.exit_status == 3
    return str(error.value)


def test_stroke_crank_and_tail():
    """Stroke 31.416, crank half of it; tail 25 + 60 pulled in, a stroke more pushed out; tube 10 longer, less 25."""
    d = drive(facts())
    assert d.stroke_mm == pytest.approx(STROKE_MM)
    assert d.crank_mm == pytest.approx(STROKE_MM / 2)
    assert d.tail.tail_in_mm == 85
    assert d.tail.tail_out_mm == pytest.approx(85 + STROKE_MM)
    assert d.tail.length_mm == pytest.approx(85 + STROKE_MM - 25 + 10)


def test_rack_is_cut_for_the_pulled_in_dead_end():
    """110 + half a stroke behind the seat, 1000 to the last spindle, 85 beyond it; that is 40 beyond the end face."""
    rack = drive(facts()).rack
    assert rack.length_mm == pytest.approx(110 + STROKE_MM / 2 + 1000 + 85)
    assert rack.teeth == math.ceil((1195 + STROKE_MM / 2) / 2.5)
    assert rack.to_gap_mm == pytest.approx(rack.teeth * 2.5)
    assert 0 <= rack.to_gap_mm - rack.length_mm < 2.5
    more = rack.to_gap_mm - rack.length_mm
    assert rack.past_end_face_mm == pytest.approx(40 + more)
    assert rack.past_tip_mm == pytest.approx(10 - more)
    assert rack.fixed_end_in_mm - rack.fixed_end_out_mm == pytest.approx(STROKE_MM)


def test_tail_tube_can_be_had_before_the_run_is_bent():
    """The same figures from the two models alone."""
    assert tail_tube(angle("90"), box(), box(), settings()) == drive(facts()).tail


def test_each_box_sweeps_by_its_own_pitch_radius():
    """Half the radius, twice the sweep; the first box sets the stroke."""
    d = drive(facts(boxes=(path("near"), path("far", model=box(pitch_radius=length("10"))))))
    assert [math.degrees(b.sweep_rad) for b in d.boxes] == pytest.approx([90, 180])
    assert d.stroke_mm == pytest.approx(STROKE_MM)


def test_teeth_in_mesh_at_both_dead_ends():
    """25 mm each side of a spindle hold ten teeth of 2.5 mm, at every box, whichever way the rack stands."""
    assert [(b.teeth_in, b.teeth_out) for b in drive(facts()).boxes] == [(20, 20), (20, 20)]


def test_the_gear_needs_no_margin_beyond_its_engagement():
    """A margin of 0 leaves the last gear exactly what it needs, and that is enough."""
    d = drive(
        facts(settings=settings(margin=length("0")), boxes=(path("near"), path("far", centreline=length("1000.1"))))
    )
    assert d.boxes[-1].teeth_in == 20


def test_rounding_does_not_take_a_tooth():
    """22.4 / 1.6 is below 14 in floating point; fourteen teeth are there all the same. -60 mm of rack hold none."""
    mesh = quantity(22.4, "mm"), length("22.4"), length("1.6")
    assert 22.4 / 1.6 < 14
    assert teeth_in_mesh(length("90"), *mesh) == 28
    assert teeth_in_mesh(length("90"), length("-60"), *mesh[1:]) == 0


@pytest.mark.parametrize(
    ("margin", "beyond_face", "verdict"),
    [("60", 40, "shorter than usual"), ("90", 70, "usual"), ("120", 100, "longer than usual")],
)
def test_overhang_is_compared_pushed_out(margin, beyond_face, verdict):
    """Common practice, no source: 100 to 125 mm beyond the last wheelbox. A comparison; it changes no length."""
    d = drive(facts(settings=settings(margin=length(margin))))
    out_mm = beyond_face + STROKE_MM
    assert d.rack.overhang.length_mm == pytest.approx(out_mm)
    said = (
        f"pushed out, {out_mm:.1f} mm of rack stand beyond the last wheelbox's end face ({out_mm + 45:.1f} mm beyond "
        f"its spindle); common practice is 100 to 125 mm ({verdict})"
    )
    assert str(d.rack.overhang) == said
    assert [text for text in d.warnings if "common practice" in text] == ([] if verdict == "usual" else [said])


def test_without_a_margin_the_rack_stands_out_as_is_usual():
    """Common practice, no source: 100 to 125 mm; the middle, 112.5 mm, beyond the end face, 45 mm from the spindle.

    45 + 112.5 - 31.416 = 126.084 mm pulled in; the gear needs 25, so 101.084 mm are to spare. The rack is 110 + 15.708
    + 1000 + 126.084 = 1251.792 mm; with nothing to spare 1150.708.
    """
    d = drive(facts(settings=settings(margin=None)))
    assert d.tail.tail_in_mm == pytest.approx(126.0841, abs=5e-5)
    assert d.rack.overhang.length_mm == pytest.approx(112.5)
    assert d.rack.overhang.verdict == "usual"
    assert d.rack.length_mm == pytest.approx(1251.7920, abs=5e-5)
    assert d.rack.least_mm == pytest.approx(1150.7080, abs=5e-5)
    assert not [text for text in d.warnings if "common practice" in text]


def test_a_long_stroke_takes_the_gear_s_need_before_what_is_usual():
    """90 deg on a pitch radius of 100 mm is 157.08 mm of stroke: pulled in, the 25 mm that the gear needs are left."""
    far = replace(path("far"), model=box(pitch_radius=length("100")))
    near = replace(path("near"), model=box(pitch_radius=length("100")))
    motor = replace(facts().motor, fixed_end=length("150"))
    d = drive(facts(settings=settings(margin=None), boxes=(near, far), motor=motor, rod=None))
    assert d.tail.tail_in_mm == pytest.approx(25)
    assert d.rack.overhang.length_mm == pytest.approx(25 + 157.0796 - 45, abs=5e-5)
    assert d.rack.overhang.verdict == "longer than usual"


@pytest.mark.parametrize(
    ("tail", "verdict"),
    [("144.9", "shorter than usual"), ("145", "usual"), ("170", "usual"), ("170.1", "longer than usual")],
)
def test_the_usual_overhang_has_both_its_ends(tail, verdict):
    """100 and 125 mm beyond an end face that is 45 mm from the spindle."""
    assert overhang(float(tail), box()).verdict == verdict


def test_pull_by_hand():
    """20 N/m x 0.25 m x 1 x 300/20 = 75 N at each box, dry; exp(0.2 x 30 deg) and exp(0.2 x 90 deg) to the motor."""
    p = drive(facts()).pull
    ratios = [math.exp(0.2 * math.pi / 6), math.exp(0.2 * math.pi / 2)]
    assert [b.ratio for b in p.boxes] == pytest.approx(ratios)
    assert [b.dry_n for b in p.boxes] == pytest.approx([75, 75])
    assert [b.wet_n for b in p.boxes] == pytest.approx([30, 30])
    assert p.needed_n == p.dry_n == pytest.approx(75 * sum(ratios))
    assert p.rating_n - p.needed_n == p.rating_n - p.dry_n == pytest.approx(450 - 75 * sum(ratios))
    assert p.rating_n - p.wet_n == pytest.approx(450 - 30 * sum(ratios))
    assert p.why == "capstan relation, dry rubber"
    assert ROUGH in drive(facts()).notes


def test_costliest_box_and_bends():
    """Equal blades: the far box costs more. The first bend is passed by both pulls, the second by one."""
    p = drive(facts()).pull
    near, far = math.exp(0.2 * math.pi / 6), math.exp(0.2 * math.pi / 2)
    assert p.costliest_box is not None
    assert p.costliest_box.name == "far"
    assert [cost.bend for cost in p.bends] == [SECOND, FIRST]
    second = far / (near + far) * (1 - math.exp(-0.2 * math.pi / 3))
    assert [cost.share for cost in p.bends] == pytest.approx([second, 1 - math.exp(-0.2 * math.pi / 6)])


def test_measured_pull_wins():
    """What a spring balance said is what the motor is held against; the formula's figures stay beside it."""
    d = drive(facts(settings=settings(measured_pull=force("180"))))
    assert (d.pull.needed_n, d.pull.rating_n - d.pull.needed_n, d.pull.why) == (180, 270, "as measured")
    assert d.pull.dry_n == drive(facts()).pull.dry_n
    assert ROUGH not in d.notes


@pytest.mark.parametrize("incomplete", [(), (arm("near"), arm("far", blade=None))])
def test_pull_without_arms_is_not_guessed(incomplete):
    """No arm, or one without its blade's length: no pull, and the reason; the ratios are there all the same."""
    d = drive(facts(arms=incomplete))
    who = "near, far" if not incomplete else "far"
    assert (d.pull.needed_n, d.pull.boxes, d.pull.costliest_box) == (None, (), None)
    assert d.pull.why == f"no arm and blade with their lengths are given for {who}"
    assert f"the pull is not worked out: {d.pull.why}" in d.notes
    assert d.boxes[-1].pull_ratio == pytest.approx(math.exp(0.2 * math.pi / 2))
    assert d.boxes[-1].tip_movement_mm is None


def test_measured_pull_needs_no_arms():
    """A measured pull stands by itself."""
    p = drive(facts(arms=(), settings=settings(measured_pull=force("180")))).pull
    assert (p.needed_n, p.rating_n - p.needed_n, p.wet_n, p.dry_n) == (180, 270, None, None)


def test_a_weak_motor_is_a_warning():
    """Above its rating dry, within it wet; the plan is still a plan."""
    weak = replace(facts().motor, pull=force("100"))
    assert drive(facts(motor=weak, settings=settings(margin=USUAL))).warnings == (
        "the motor has to pull 186 N (capstan relation, dry rubber) and is rated at 100 N; wet it is 74 N, within",
    )
    weaker = replace(weak, pull=force("70"))
    assert drive(facts(motor=weaker, settings=settings(margin=USUAL))).warnings == (
        "the motor has to pull 186 N (capstan relation, dry rubber) and is rated at 70 N; wet it is 74 N, beyond it "
        "as well",
    )
    measured = facts(motor=weak, settings=settings(margin=USUAL, measured_pull=force("101")))
    assert drive(measured).warnings == ("the motor has to pull 101 N (as measured) and is rated at 100 N",)


def test_lost_motion_by_hand():
    """0.8 mm of play over 30 and 90 degrees, on 20 mm: 1.2 and 3.6 degrees; the tip is 300 + 125 mm out."""
    near, far = drive(facts()).boxes
    assert [math.degrees(near.lost_motion_rad), math.degrees(far.lost_motion_rad)] == pytest.approx([1.2, 3.6])
    assert far.tip_movement_mm == pytest.approx(math.radians(3.6) * 425)


def test_a_cranked_blades_tip_is_nearer():
    """Half a blade of 125 at right angles to an arm of 300: its tip is 325 from the spindle."""
    far = drive(facts(arms=(arm("near"), arm("far", crank=angle("90"))))).boxes[1]
    assert far.tip_movement_mm == pytest.approx(math.radians(3.6) * 325)


def test_notes_say_what_was_taken_for_granted():
    """Speed, rod and lean, each only where it was not given."""
    assert drive(facts()).notes == (ROUGH,)
    untold = drive(facts(rod=None, rate=None, boxes=(path("near", panel=None), path("far")))).notes
    assert untold[1:] == (
        "wheelbox 'near': no panel is given, so its lean counts as 0",
        "speeds are for 45 cycles/min, the least fast speed of 49 CFR 571.104",
        "no connecting rod is given; the motion is that of a long one",
    )


def test_a_slow_working_speed_is_set_beside_the_rules():
    """49 CFR 571.104 S4.1.1, Regulation (EU) 1008/2010 Annex III 1.1: one speed of at least 45 cycles a minute."""
    slow = "the working speed is 44.5 cycles/min; 49 CFR 571.104 and Regulation (EU) 1008/2010 both ask for one speed "
    assert drive(facts(rate=quantity(44.5, "cycle/min"))).notes[-1] == (
        slow + "of at least 45: a comparison, which approves nothing"
    )
    assert drive(facts(rate=quantity(45, "cycle/min"))).notes[-1] == ROUGH


def test_a_rack_cut_in_the_gap_may_strike_the_end_of_a_tail_tube_without_clearance():
    """1240.708 mm are 497 teeth of 2.5, 1.792 too many for a tail tube that ends at the rack's tip."""
    assert drive(facts(settings=settings(margin=USUAL, tip_clearance=length("0")))).warnings == (
        "the rack, cut in the gap between two teeth, strikes the end of the tail tube by 1.8 mm when it is pushed out; "
        "raise tip_clearance in [drive] of the shop file to a tooth's pitch at least",
    )
    assert drive(facts(settings=settings(margin=USUAL, tip_clearance=length("2.5")))).warnings == ()


def test_fixed_end_drawn_into_the_nose():
    """Half the stroke is 15.708 mm; a fixed end 15 mm back would be drawn in."""
    short = replace(facts().motor, fixed_end=length("15"))
    assert refusal({"motor": short}) == (
        "motor 'motor': pushed out, the rack's fixed end is -0.707963 mm behind the nose's seat (fixed_end 15 mm less "
        "half the stroke, 15.708 mm); it must stay behind the seat; choose a smaller sweep, a first wheelbox with a "
        "smaller pitch radius, or another motor"
    )


@pytest.mark.parametrize("diameter", ["6.4", "7"])
def test_rack_thicker_than_the_bore(diameter):
    """A rack as thick as the bore does not run either."""
    thick = replace(facts().rack, diameter=length(diameter))
    assert refusal({"rack": thick}) == (
        f"rack: its diameter is {diameter} mm; it must be below the tube's bore, 6.4 mm; take a tube with a larger "
        "bore, or check the rack's diameter in the shop file"
    )


def test_no_tail_pulled_in():
    """A negative margin that eats the engagement."""
    assert refusal({"settings": settings(margin=length("-25"))}) == (
        "tail pulled in: engagement and margin make 0 mm; it must be above 0, or the rack leaves the last gear; "
        "raise engagement or margin in [drive] of the shop file"
    )


def test_too_little_tail_for_the_gear():
    """A margin below 0 leaves some tail, but less than the gear needs."""
    assert refusal({"settings": settings(margin=length("-5"), tip_clearance=length("40"))}) == (
        "wheelbox 'far': pulled in, 20 mm of rack lie beyond its spindle; the gear needs 25 mm on both sides; "
        "raise margin in [drive] of the shop file"
    )


def test_too_little_rack_before_the_first_gear():
    """Pushed out, 110 - 15.7 mm behind the seat and 400 before it; pulled in it would do."""
    assert refusal({"settings": settings(engagement=length("500"))}) == (
        "wheelbox 'near': pushed out, 494.292 mm of rack lie before its spindle; the gear needs 500 mm on both sides; "
        "move the box away from the motor"
    )


def test_rack_that_strikes_the_end_of_the_tail_tube():
    """A tip clearance below 0 ends the tube before the rack."""
    assert refusal({"settings": settings(tip_clearance=length("-1"))}) == (
        "tail tube: tip_clearance is -1 mm; it must not be below 0, or the rack strikes the end of the tail tube; "
        "raise tip_clearance in [drive] of the shop file"
    )


def test_tail_tube_that_does_not_leave_the_box():
    """10 + 4 + 31.4 - 45 + 10 is 10.4 mm from the groove, and the box holds 20."""
    deep = box(groove_offset=length("45"), mouth_offset=length("65"))
    assert refusal(
        {"settings": settings(engagement=length("10"), margin=length("4")), "boxes": (path("far", model=deep),)}
    ) == (
        "tail tube: from the groove it is 10.4159 mm long; it must be longer than the 20 mm that the wheelbox holds; "
        "raise margin or tip_clearance in [drive] of the shop file"
    )


@pytest.mark.parametrize(("radius", "shown"), [("5", "360"), ("4", "450")])
def test_an_arm_cannot_go_all_round(radius, shown):
    """A small gear behind a large one turns its arm through a whole circle."""
    assert refusal({"boxes": (path("near"), path("far", model=box(pitch_radius=length(radius))))}) == (
        f"wheelbox 'far': its own sweep is {shown} deg; it must be above 0 and below 360 deg; ask for another sweep, "
        "or take a wheelbox with a larger pitch radius"
    )


def test_a_sweep_of_nothing():
    """A sweep of 0 is no sweep."""
    assert refusal({"sweep": angle("0")}) == (
        "wheelbox 'near': its own sweep is 0 deg; it must be above 0 and below 360 deg; ask for another sweep, or take "
        "a wheelbox with a larger pitch radius"
    )


def test_friction_beyond_all_numbers():
    """A slip of the decimal point in the friction is said so, not a traceback."""
    assert refusal({"settings": settings(friction=2000.0)}) == (
        "pull: friction 2000 over 30 deg of turn; no motor could pull it; take a run with less turn, or check "
        "friction in [drive] of the shop file"
    )


def test_rod_no_longer_than_the_crank():
    """Such a rod cannot pass its dead centre."""
    assert refusal({"rod": length("15")}) == (
        "connecting rod: it is 15 mm; it must be longer than the crank's throw, 15.708 mm; measure the rod between "
        "its two pins"
    )


def test_no_working_speed():
    """A speed of 0 moves no arm."""
    assert refusal({"rate": quantity(0, "cycle/min")}) == (
        "working speed: it is 0 cycles/min; it must be above 0; give the cycles per minute"
    )


def test_motion_at_the_dead_ends_and_at_a_quarter():
    """Pushed out at 0, pulled in at 180; at 90 the rod's slant takes l - sqrt(l^2 - r^2) off the half stroke."""
    moving = drive(facts()).motion
    r, rod = STROKE_MM / 2, 80.0
    out, quarter, within = (moving.at(angle(a)) for a in ("0", "90", "180"))
    assert [out.rack_mm, within.rack_mm] == pytest.approx([STROKE_MM, 0], abs=1e-9)
    assert quarter.rack_mm == pytest.approx(r - rod + math.sqrt(rod**2 - r**2))
    assert math.degrees(out.spindle_rad) == pytest.approx(90)
    assert out.rack_mm_per_s == pytest.approx(0, abs=1e-9)
    assert quarter.rack_mm_per_s == pytest.approx(-r * 2 * math.pi)  # 60 cycles a minute
    assert quarter.arm_rad_per_s == pytest.approx(-r * 2 * math.pi / 20)
    points = moving.on_the_way_in()
    assert [math.degrees(p.crank_rad) for p in points] == pytest.approx([30.0 * n for n in range(7)])
    back = moving.at(angle("330"))
    assert (back.rack_mm, -back.rack_mm_per_s) == pytest.approx((points[1].rack_mm, points[1].rack_mm_per_s))


def test_each_arms_greatest_speed_goes_with_its_sweep():
    """Half the pitch radius, twice the speed."""
    d = drive(facts(boxes=(path("near"), path("far", model=box(pitch_radius=length("10"))))))
    near, far = (b.fastest_arm_rad_per_s for b in d.boxes)
    assert far == pytest.approx(2 * near)
    assert near == pytest.approx(d.motion.fastest.arm_rad_per_s)
