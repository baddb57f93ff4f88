"""Holes for leaning spindles, stems, and which way everything parks."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from tests.drive_facts import USUAL, angle, box, facts, length, path, settings
from tubing.drive import drive
from tubing.drive.hole import hole
from tubing.drive.park import doubt, park
from tubing.errors import DriveError

FLAT = (0.0, 0.0, 1.0)


def leaning(degrees: float) -> tuple[float, float, float]:
    """A spindle that leans forward from a flat panel."""
    return (0.0, math.sin(math.radians(degrees)), math.cos(math.radians(degrees)))


def test_square_to_the_panel_the_hole_is_round():
    """No lean: a round hole of the bush, where the axis is; the stem passes 6 + 1.2 and keeps 24.8."""
    made = hole(path("near", spindle=FLAT, panel=FLAT), angle("45"))
    assert (made.width_mm, made.length_mm, made.offset_mm, made.offset_toward) == (16, 16, 0, None)
    assert (made.stem_taken_mm, made.stem_left_mm, made.nut_room_mm) == pytest.approx((7.2, 24.8, 24.8))
    assert made.lean_known


def test_a_lean_of_45_degrees_by_hand():
    """16 x root 2 + 1.2 long, 0.6 off, against the lean: backwards. A wedge of 45 degrees is right."""
    made = hole(path("near", spindle=leaning(45), panel=FLAT), angle("45"))
    assert made.width_mm == 16
    assert made.length_mm == pytest.approx(16 * math.sqrt(2) + 1.2)
    assert made.offset_mm == pytest.approx(0.6)
    assert made.offset_toward == pytest.approx((0, -1, 0))
    assert math.degrees(made.wedge_off_rad) == pytest.approx(0)
    assert made.stem_taken_mm == pytest.approx(6 + 1.2 * math.sqrt(2))
    assert made.nut_room_mm == pytest.approx(32 - 6 - 1.2 * math.sqrt(2) - 8)


def test_a_wedge_that_is_off_says_by_how_much():
    """A lean of 40 degrees on wedges of 45, and on the shop's own of 30."""
    assert math.degrees(
        hole(path("near", spindle=leaning(40), panel=FLAT), angle("45")).wedge_off_rad
    ) == pytest.approx(-5)
    assert math.degrees(
        hole(path("near", spindle=leaning(40), panel=FLAT), angle("30")).wedge_off_rad
    ) == pytest.approx(10)


def test_without_a_panel_the_lean_counts_as_nothing():
    """And the record says that it was not known."""
    made = hole(path("near", spindle=leaning(40), panel=None), angle("45"))
    assert (math.degrees(made.lean_rad), made.lean_known, made.length_mm) == (0, False, 16)


@pytest.mark.parametrize("spacer", ["26", "22"])
def test_a_stem_that_ends_in_the_panel(spacer):
    """Spacer and 10 of panel on a stem of 32: one that ends inside, and one flush with the outer face."""
    with pytest.raises(DriveError) as error:
        hole(path("near", panel=None, spacer=length(spacer), panel_thickness=length("10")), angle("45"))
    assert str(error.value) == (
        f"wheelbox 'near': inner spacer and panel take {10 + int(spacer)} mm of its stem; the stem is 32 mm and must "
        "come out of the panel; take a thinner inner spacer, or a wheelbox with a longer stem"
    )


@pytest.mark.parametrize(("panel", "lean"), [((0.0, 0.6, -0.8), "143.1"), ((0.0, 1.0, 0.0), "90")])
def test_a_panel_that_faces_the_other_way(panel, lean):
    """A normal that points inwards, and one along the panel."""
    with pytest.raises(DriveError) as error:
        hole(path("near", spindle=FLAT, panel=panel), angle("45"))
    assert str(error.value) == (
        f"wheelbox 'near': its spindle leans {lean} deg from the panel's normal; it must be less than 90 deg; "
        "give both pointing out of the panel"
    )


def test_no_room_for_the_nut_is_a_warning():
    """60 degrees on a bush of 16: the wedge takes 13.9 of the 13.6 mm that stand out."""
    steep = path("near", spindle=leaning(60), panel=FLAT, spacer=length("16"))
    assert drive(facts(boxes=(steep,), settings=settings(margin=USUAL))).warnings == (
        "wheelbox 'near': of 13.6 mm of stem outside the panel a wedge for 60.0 deg leaves nothing for washer and nut; "
        "take a thinner inner spacer or a longer stem",
    )


@pytest.mark.parametrize(("nut", "washer", "spare"), [("20", "1.5", "3.3"), ("24", None, "0.8")])
def test_thread_beyond_the_nut_by_hand(nut, washer, spare):
    """24.8 of stem stand outside a panel of 1.2 behind a spacer of 6; without a washer the nut is all that it takes."""
    model = box(nut=length(nut), washer=None if washer is None else length(washer))
    made = hole(path("near", model=model, spindle=FLAT, panel=FLAT), angle("45"))
    assert made.nut_spare_mm == pytest.approx(float(spare))


def test_a_nut_that_is_not_known_is_not_guessed():
    """A box without the figures keeps what is left for it, and no verdict."""
    made = hole(path("near"), angle("45"))
    assert (made.nut_needs_mm, made.nut_spare_mm) == (None, None)


def test_a_stem_too_short_for_its_nut_is_a_warning():
    """16 outside less 8 of wedge at 45 degrees on a bush of 16, for a nut of 8 on a washer of 1.5; flat, 16 for 17."""
    lean = path("near", model=box(nut=length("8"), washer=length("1.5")), spindle=leaning(45), panel=FLAT)
    lean = replace(lean, spacer=length("14"), panel_thickness=length("1.4142135623730951"))
    assert drive(facts(boxes=(lean,), settings=settings(margin=USUAL))).warnings == (
        "wheelbox 'near': of 16.0 mm of stem outside the panel a wedge for 45.0 deg leaves 8.0 mm for washer and nut, "
        "which take 9.5 mm; take a thinner inner spacer or a longer stem",
    )
    flat = path("near", model=box(nut=length("17")), spindle=FLAT, panel=FLAT, spacer=length("14.8"))
    assert drive(facts(boxes=(flat,), settings=settings(margin=USUAL))).warnings == (
        "wheelbox 'near': of 16.0 mm of stem outside the panel there are 16.0 mm for washer and nut, which take "
        "17.0 mm; take a thinner inner spacer or a longer stem",
    )


@pytest.mark.parametrize(
    ("box_side", "parks", "at", "turns"),
    [
        (1, "left", "in", "clockwise"),
        (1, "right", "out", "counter-clockwise"),
        (-1, "left", "out", "clockwise"),
        (-1, "right", "in", "counter-clockwise"),
    ],
)
def test_park_of_one_box(box_side, parks, at, turns):
    """Rack on the right: pushed out is the driver's right. Seen from outside his right is counter-clockwise."""
    parked = park(parks, [path("near", side=box_side)])
    assert (parked.side, parked.at) == (parks, at)
    (arm,) = parked.arms
    assert (arm.parks, arm.turns, arm.crank_hand) == (parks, turns, parks)
    assert arm.rack_on == ("right" if box_side == 1 else "left")


def test_tandem_arms_park_alike_and_opposed_ones_do_not():
    """One side, one park; sides that alternate park one arm on each side, and its crank is of that hand."""
    tandem = park("left", [path("near"), path("far")])
    assert [(arm.name, arm.parks) for arm in tandem.arms] == [("near", "left"), ("far", "left")]
    opposed = park("left", [path("near"), path("far", side=-1)])
    assert [(arm.parks, arm.crank_hand, arm.turns) for arm in opposed.arms] == [
        ("left", "left", "clockwise"),
        ("right", "right", "counter-clockwise"),
    ]


def test_both_parks_are_given():
    """The job's, and the other one, which stops at the other dead end."""
    d = drive(facts(park="right"))
    assert (d.park.side, d.park.at, d.other_park.side, d.other_park.at) == ("right", "out", "left", "in")
    assert d.park.motor_gear == "rack pushed out: the crank pin on the side of the nose"
    assert d.other_park.motor_gear == "rack pulled in: the crank pin on the far side from the nose"


def test_a_rear_screen_is_the_drivers_left_and_right_too():
    """A spindle that points to the rear: pushing out moves the arm to the driver's left, and the sheet says so."""
    rear = path("near", spindle=(0.0, -0.6, 0.8), panel=None)
    assert park("left", [rear]).at == "out"
    assert drive(facts(boxes=(rear,))).notes[-1] == (
        "wheelbox 'near': its spindle points to the rear; left and right are the driver's as he sits facing forward"
    )


@pytest.mark.parametrize("spindle", [(1.0, 0.0, 0.0), (-0.99, -0.1, 0.1), (0.0, -0.1, 0.995)])
def test_a_spindle_that_does_not_say_which_way_is_up(spindle):
    """Sideways, or nearly straight up: left and right are as facing the glass, and to be tried by hand."""
    assert park("right", [path("near", spindle=spindle)]).at == "out"
    assert doubt("near", spindle) == (
        "wheelbox 'near': its spindle does not say which way is up the glass; left and right are as seen from inside, "
        "facing the glass; try the direction by hand"
    )


@pytest.mark.parametrize(("forward", "out_parks"), [(0.3, "right"), (-0.3, "left")])
def test_a_spindle_may_look_aside_and_still_say_which_way(forward, out_parks):
    """Its level part 53 degrees off straight ahead, or off straight back: the sign of its y still counts."""
    spindle = (0.4, forward, math.sqrt(0.75))
    assert park(out_parks, [path("near", spindle=spindle)]).at == "out"
    assert (doubt("near", spindle) is None) == (forward > 0)


def test_a_side_must_be_settled():
    """A run decides each side before anything can be parked."""
    with pytest.raises(DriveError) as error:
        park("left", [path("near", side=0, model=box())])
    assert str(error.value) == "wheelbox 'near': its side is 0; it must be 1 or -1; settle its side first"
