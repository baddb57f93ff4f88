"""Areas against points sampled, distances against brute force, clearances and parks against a hand's drawing."""

import itertools
import json
import math

import numpy as np
import pytest

from tests.glass_facts import ON_OFFER, SCREEN, arm, glass, wiper
from tubing.errors import FitError, JobError
from tubing.glass import as_data, at_sweep, best_sweep, pivots, sweep_table
from tubing.glass.arms import options
from tubing.glass.blade import Blade
from tubing.glass.nearness import keep_apart, least_distance_mm, segment_distance_mm
from tubing.glass.plane import plane_through
from tubing.glass.surface import surface, swept
from tubing.inputs.records import Screen
from tubing.units import quantity

# Wiped area


def wiped_points(blade, x, y):
    """Which points the blade passes over: where on the blade such a radius is, and whether the arm turns so far."""
    x, y = x - blade.pivot_mm[0], y - blade.pivot_mm[1]
    cos, sin = math.cos(blade.crank_rad), math.sin(blade.crank_rad)
    squared = x**2 + y**2 - (blade.arm_mm * sin) ** 2
    wiped = np.zeros(x.shape, dtype=bool)
    for sign in (1, -1):
        along = -blade.arm_mm * cos + sign * np.sqrt(np.where(squared >= 0, squared, np.nan))
        turned = np.arctan2(y, x) - np.arctan2(along * sin, blade.arm_mm + along * cos) - blade.parked_rad
        wiped |= (np.abs(along) <= blade.blade_mm / 2) & (np.mod(turned * blade.turning, 2 * np.pi) <= blade.sweep_rad)
    return wiped


@pytest.mark.parametrize("crank_deg", [0, 8, 30, 60])
@pytest.mark.parametrize("turning", [1, -1])
def test_the_union_of_three_blades_is_what_sampled_points_say(crank_deg, turning):
    """Middles of squares of 1 mm, each asked on its own; at crank 60 a blade is nearest the pivot between its tips."""
    blades = [
        Blade(n, (x, -30.0), 300.0, 400.0, math.radians(crank_deg), start, math.radians(115), turning)
        for n, x, start in (("a", -250.0, 0.6), ("b", 60.0, 0.3), ("c", 330.0, 0.9))
    ]
    x, y = np.meshgrid(np.arange(-639.5, 640), np.arange(0.5, 500))
    on_glass = np.abs(x) <= 640 - 80 * y / 500
    in_zone = (y >= 80) & (y <= 380) & (np.abs(x) <= 350 - 0.1 * (y - 80))
    wiped = np.logical_or.reduce([wiped_points(blade, x, y) for blade in blades])
    on = surface(SCREEN)
    screen_percent, zones = on.percents(on.wiped(swept(blade) for blade in blades))
    assert screen_percent == pytest.approx(100 * (wiped & on_glass).sum() / on_glass.sum(), abs=0.05)
    assert zones["A"] == pytest.approx(100 * (wiped & in_zone).sum() / in_zone.sum(), abs=0.08)
    assert 5 < screen_percent < 95


def test_what_hangs_over_the_edge_wipes_no_glass():
    """A half turn of a radial blade about the middle of the lower edge of a half-plane's worth of glass."""
    screen = Screen(((-500.0, 0.0), (500.0, 0.0), (500.0, 500.0), (-500.0, 500.0)))
    blade = Blade("b", (0.0, 0.0), 250.0, 300.0, 0.0, -math.pi / 2, math.pi * 1.5, 1)
    on = surface(screen)
    assert on.wiped([swept(blade)]).area == pytest.approx(math.pi / 2 * (400**2 - 100**2), abs=12)


# Distance of blades


def blade(x, start_deg, turning=1, sweep_deg=110.0, length=300.0, long=280.0, lost_deg=0.0, crank_deg=6.0, y=0.0):
    """A blade with its pivot at x."""
    crank, start, sweep, lost = (math.radians(a) for a in (crank_deg, start_deg, sweep_deg, lost_deg))
    return Blade(f"at {x}", (x, y), length, long, crank, start, sweep, turning, lost)


def brute_distance(first, second, steps=400, lags=8):
    """Both strokes; each arm lags behind the rack by 0 to its lost motion and stays within its dead ends."""
    least = math.inf
    fractions = [k / steps for k in range(steps + 1)]
    for fraction, one, two, way in itertools.product(fractions, range(lags + 1), range(lags + 1), (1, -1)):
        at = []
        for b, lag in ((first, one), (second, two)):
            own = fraction - way * b.lost_rad / b.sweep_rad * lag / lags
            at.append(b.ends_mm(min(1.0, max(0.0, own))))
        least = min(least, segment_distance_mm(*at))
    return least


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (blade(0, 30), blade(420, 30)),
        (blade(0, 30, sweep_deg=90), blade(420, 20, sweep_deg=125, length=250, long=240)),
        (blade(0, 160, turning=-1, y=40), blade(500, 150, turning=-1, long=200)),
        (blade(0, 150, turning=-1, sweep_deg=80), blade(900, 30, sweep_deg=80)),
    ],
)
def test_distance_of_blades_is_that_of_many_positions(first, second):
    """Brute force over 4001 positions, no lost motion: never less than 0.1 mm below what is given, nor above it."""
    brute = min(segment_distance_mm(first.ends_mm(k / 4000), second.ends_mm(k / 4000)) for k in range(4001))
    assert brute > 1
    assert least_distance_mm(first, second) == pytest.approx(brute, abs=0.25)


def test_distance_counts_the_worst_lag_of_each():
    """Brute force over positions and lags of both blades in both strokes."""
    first = blade(0, 30, lost_deg=3)
    second = blade(420, 30, lost_deg=5, length=250)
    brute = brute_distance(first, second, steps=150, lags=6)
    assert least_distance_mm(first, second) == pytest.approx(brute, abs=0.5)
    stiff = least_distance_mm(blade(0, 30), blade(420, 30, length=250))
    assert brute < stiff - 3


def test_blades_that_cross_have_no_distance():
    """Opposed blades that part at park and cross at the other dead end."""
    first, second = blade(0, 170, turning=-1), blade(300, 10, turning=1)
    assert segment_distance_mm(first.ends_mm(0.0), second.ends_mm(0.0)) > 300
    assert least_distance_mm(first, second) == 0.0


@pytest.mark.parametrize("off_mm", [-20, -1, 1, 20])
def test_keeping_apart_agrees_with_the_distance(off_mm):
    """The quick question answers as the exact one."""
    first, second = blade(0, 30, lost_deg=2), blade(420, 30, length=250, lost_deg=2)
    assert keep_apart(first, second, least_distance_mm(first, second) + off_mm) is (off_mm < 0)


# Clearance to the edge


def test_clearance_of_tips_as_drawn_by_hand():
    """Radial blade 100 to 400 about (0, -30), 30 to 150 degrees: the outer tip is nearest the top when upright."""
    screen = Screen(((-450.0, 0.0), (450.0, 0.0), (450.0, 380.0), (-450.0, 380.0)))
    row = at_sweep(
        glass([wiper(sweep=120)], [arm(length=250, blade=300, crank=0, parked=30)], screen), quantity(120, "deg")
    )
    fitted = row.fitted[0]
    assert fitted.outer_tip_mm == pytest.approx(380 + 30 - 400, abs=0.011)
    assert fitted.inner_tip_mm == pytest.approx(100 * math.sin(math.radians(30)) - 30, abs=0.011)
    assert fitted.clearance_mm == pytest.approx(10, abs=0.011)
    assert row.breaks == ()


def test_a_tip_over_the_edge_is_negative_by_how_far():
    """The same with the top 25 mm lower, and the message says so."""
    screen = Screen(((-450.0, 0.0), (450.0, 0.0), (450.0, 355.0), (-450.0, 355.0)))
    row = at_sweep(
        glass([wiper(sweep=120)], [arm(length=250, blade=300, crank=0, parked=30)], screen), quantity(120, "deg")
    )
    assert row.fitted[0].outer_tip_mm == pytest.approx(-15, abs=0.02)
    assert row.breaks == ("the blade on 'near' goes 15.0 mm over the edge",)


def test_a_blade_over_a_bay_is_over_the_edge_though_its_tips_are_not():
    """A notch of 40 mm in the lower edge under the middle of a parked blade."""
    screen = Screen(
        ((-500.0, 0.0), (-300.0, 0.0), (-290.0, 40.0), (-280.0, 0.0), (500.0, 0.0), (500.0, 500.0), (-500.0, 500.0))
    )
    row = at_sweep(glass([wiper(at=(0.0, 10.0))], [arm(length=290, crank=0, parked=0)], screen), quantity(110, "deg"))
    assert row.fitted[0].outer_tip_mm == pytest.approx(10, abs=0.011)
    assert row.fitted[0].clearance_mm == pytest.approx(-30 * 10 / math.hypot(10, 40), abs=0.3)


# Park


@pytest.mark.parametrize(("turning", "direction"), [(-1, 172), (1, 8)])
def test_by_default_the_parked_blade_lies_along_the_lower_edge(turning, direction):
    """A level edge: the arm stands up from it by the crank, on the side where it parks."""
    row = at_sweep(glass([wiper(turning=turning)]), quantity(110, "deg"))
    assert row.fitted[0].parked_deg == pytest.approx(direction)
    assert row.fitted[0].raised_deg == 0
    height = 300 * math.sin(math.radians(8)) - 30
    assert row.fitted[0].inner_tip_mm == pytest.approx(height, abs=0.011)


def test_a_sloping_lower_edge_turns_the_parked_blade_with_it():
    """An edge that falls 1 in 10 to the right of a pivot lowers an arm that parks right by atan 0.1."""
    screen = Screen(((-600.0, 0.0), (0.0, 0.0), (600.0, -60.0), (600.0, 500.0), (-600.0, 500.0)))
    row = at_sweep(glass([wiper(turning=1)], screen=screen), quantity(110, "deg"))
    assert row.fitted[0].parked_deg == pytest.approx(8 - math.degrees(math.atan(0.1)))


def test_a_blade_that_would_park_off_the_glass_is_raised_until_it_is_on_it():
    """Without crank it would lie 30 mm under the edge; 160 sin a must be 35 mm: 12.64, in steps of 1/2: 13."""
    row = at_sweep(glass(arms=[arm(crank=0)]), quantity(110, "deg"))
    assert math.degrees(math.asin(35 / 160)) == pytest.approx(12.64, abs=0.005)
    assert row.fitted[0].raised_deg == 13
    assert row.fitted[0].parked_deg == pytest.approx(180 - 13)


@pytest.mark.parametrize(
    ("turning", "parked", "direction"), [(-1, 2, 178), (-1, 178, 178), (1, 2, 2), (1, -3, 357), (-1, -3, 183)]
)
def test_the_angle_at_park_counts_from_the_side_where_the_arm_parks(turning, parked, direction):
    """Less than a right angle: upwards from the x axis on that side; otherwise as it is."""
    row = at_sweep(glass([wiper(turning=turning)], [arm(parked=parked)]), quantity(110, "deg"))
    assert row.fitted[0].parked_deg == pytest.approx(direction)


def test_no_edge_to_park_along_is_an_error():
    """A pivot in the upper half needs its angle."""
    with pytest.raises(JobError) as error:
        at_sweep(glass([wiper(at=(0.0, 520.0))]), quantity(110, "deg"))
    assert str(error.value) == (
        "arm on 'near': 'parked' is not given and its pivot is in the upper half of the screen; the parked blade must "
        "lie along the lower edge, or at an angle of its own; give 'parked', the arm's angle at park from the "
        "screen's x axis"
    )


# Sweeps beside each other


def test_each_wheelbox_sweeps_by_its_own_pitch_radius():
    """Boxes of 110 and 88 degrees on one rack sweep 100 and 80 at the offered 100."""
    row = at_sweep(
        glass([wiper(at=(-200.0, -30.0)), wiper("far", (250.0, -30.0), sweep=88)], [arm(), arm("far")]),
        quantity(100, "deg"),
    )
    assert [(f.name, f.sweep_deg) for f in row.fitted] == [("near", 100), ("far", pytest.approx(80))]


def test_the_best_sweep_is_the_most_wiped_that_keeps_clear():
    """One arm parked left at 20 degrees: 140 leaves 20 on the other side as well; more would go over the lower edge."""
    subject = glass(arms=[arm(length=300, blade=200, crank=0, parked=20)], clearance=30)
    table = sweep_table(subject, [quantity(a, "deg") for a in (150, 90, 120, 140)])
    assert [row.sweep_deg for row in table.sweeps] == [90, 120, 140, 150]
    assert [bool(row.breaks) for row in table.sweeps] == [False, False, False, True]
    assert best_sweep(table) is table.sweeps[2]
    wiped = [math.radians(a) / 2 * (400**2 - 200**2) for a in (90, 120, 140)]
    assert [row.wiped_mm2 for row in table.sweeps[:3]] == pytest.approx(wiped, abs=10)
    percent = 100 * wiped[2] / (500 * 1200)
    assert table.reason == (
        f"140 deg wipes {percent:.1f} % of the screen, the most of those that keep 30 mm everywhere; "
        f"150 deg would wipe {table.sweeps[3].screen_percent:.1f} %, but "
        "the blade on 'near' comes within 4.7 mm of the edge"
    )


def test_nothing_that_fits_is_an_error_that_names_what_comes_nearest():
    """Blades far too long for the screen; the table is there all the same."""
    table = sweep_table(glass(arms=[arm(length=500, blade=300, crank=0, parked=20)]))
    assert table.best is None
    assert len(table.sweeps) == 6
    assert all(row.screen_percent > 0 for row in table.sweeps)
    with pytest.raises(FitError) as error:
        best_sweep(table)
    assert error.value.exit_status == 3
    assert str(error.value) == (
        "sweep: no sweep on offer keeps 5 mm everywhere; at 90 deg, which comes nearest, the blade on 'near' goes "
        "120.0 mm over the edge; every blade must keep 5 mm to the edge and to its neighbour; choose shorter blades, "
        "move a pivot, or ask for less clearance"
    )


@pytest.mark.parametrize(
    ("apart_mm", "crank_deg", "clearance_mm"), [(250, 8, 5), (250, 20, 5), (130, 8, 5), (130, 0, 30), (190, 20, 30)]
)
def test_lengths_left_free_are_the_best_of_all_that_keep_clear(apart_mm, crank_deg, clearance_mm):
    """Every pair of arms on offer tried one by one gives nothing better than the search."""
    wipers = [wiper(at=(-apart_mm / 2, -30.0), lost=1), wiper("far", (apart_mm / 2, -30.0), lost=1)]

    def row(one, two):
        arms = [
            arm(on, length, None if length is None else length - 20, crank_deg)
            for on, length in (("near", one), ("far", two))
        ]
        return at_sweep(glass(wipers, arms, clearance=clearance_mm), quantity(110, "deg"))

    every = [(row(one, two), one, two) for one, two in itertools.product((200, 250, 300, 350), repeat=2)]
    tried = [(tried.wiped_mm2, one, two) for tried, one, two in every if not tried.breaks]
    assert 0 < len(tried) < 16
    found = row(None, None)
    assert found.breaks == ()
    assert found.wiped_mm2 == pytest.approx(max(tried)[0], abs=1)
    assert tuple(f.arm_mm for f in found.fitted) == max(tried)[1:]


def test_half_the_lost_motion_goes_at_each_dead_end():
    """What is left of the sweep has the same middle."""
    whole = blade(0, 170, turning=-1, lost_deg=4)
    left = whole.lagging()
    assert math.degrees(left.sweep_rad) == pytest.approx(106)
    assert left.arm_rad(0.5) == pytest.approx(whole.arm_rad(0.5))
    assert left.arm_rad(0) == pytest.approx(math.radians(168))


def test_blades_on_offer_with_an_arm_of_that_length_are_tried_too():
    """280 mm is not one of the steps, and the arms of other lengths bring none."""
    tried = [option.blade_mm for option in options(arm(length=300, blade=None), ON_OFFER)]
    assert tried == sorted([*range(150, 601, 25), 280])


def test_a_blade_left_free_is_tried_by_inches_and_an_arm_left_free_by_the_table():
    """25 mm steps from 150; arms of the table that carry the blade."""
    free_blade = at_sweep(glass(arms=[arm(length=300, blade=None)]), quantity(110, "deg")).fitted[0]
    steps = [*range(150, 601, 25), 280]
    wiped = {b: at_sweep(glass(arms=[arm(length=300, blade=b)]), quantity(110, "deg")) for b in steps}
    assert free_blade.blade_mm == max((b for b in steps if not wiped[b].breaks), key=lambda b: wiped[b].wiped_mm2)
    free_arm = at_sweep(glass(arms=[arm(length=None, blade=450)]), quantity(110, "deg"))
    assert free_arm.fitted[0].arm_mm in (250, 300, 350)
    assert free_arm.fitted[0].blade_mm == 450


def test_an_arm_left_free_needs_one_on_offer():
    """The table's longest arm carries no blade of 800 mm."""
    with pytest.raises(FitError) as error:
        at_sweep(glass(arms=[arm(length=None, blade=800)]), quantity(110, "deg"))
    assert str(error.value) == (
        "arm on 'near': its length is left free for its blade of 800 mm and the longest arm on offer is 350 mm; an arm "
        "must be at least half as long as its blade; give 'length' in the job, or add an arm to the table of arms"
    )
    with pytest.raises(FitError) as error:
        at_sweep(glass(arms=[], on_offer=()), quantity(110, "deg"))
    assert "its length is left free and no arm is on offer" in str(error.value)
    with pytest.raises(FitError) as error:
        at_sweep(glass(arms=[arm(length=60, blade=None)]), quantity(110, "deg"))
    assert str(error.value) == (
        "arm on 'near': its arm of 60 mm takes no blade of 150 mm or more; half a blade may not be longer than its "
        "arm; give the blade's length too, or a longer arm"
    )


def test_the_plans_data_is_plain_and_complete():
    """It survives JSON; one blade has no neighbour; two have one distance each pair."""
    row = at_sweep(
        glass([wiper(at=(-200.0, -30.0), lost=3), wiper("far", (250.0, -30.0))], [arm(), arm("far")]),
        quantity(110, "deg"),
    )
    data = as_data(row, {"near": 1.5, "far": -2.0})
    assert json.loads(json.dumps(data)) == data
    assert data["wiped_percent"]["screen"] == row.screen_percent
    assert data["lagging_percent"]["screen"] < data["wiped_percent"]["screen"]
    assert data["arms"][0]["tip_clearance_mm"] == {
        "outer": row.fitted[0].outer_tip_mm,
        "inner": row.fitted[0].inner_tip_mm,
    }
    assert data["least_blade_distance_mm"] == row.gaps[0].least_mm == data["blade_distances"][0]["least_mm"]
    assert data["misfit_mm"] == {"near": 1.5, "far": -2.0}
    assert [one["zone"] for one in data["comparisons"]] == ["A", "A"]
    assert as_data(at_sweep(glass(), quantity(110, "deg")), {})["least_blade_distance_mm"] is None


def test_lost_motion_takes_its_angle_off_the_wiped_sector():
    """Half at each dead end: the wiped sector is that of 107 degrees where 3 are lost, of none where all are."""

    def lagging(lost):
        row = at_sweep(
            glass([wiper(lost=lost)], [arm(length=300, blade=200, crank=0, parked=35)]), quantity(110, "deg")
        )
        return row.lagging_screen_percent * 6000

    assert lagging(3) == pytest.approx(math.radians(107) / 2 * (400**2 - 200**2), abs=10)
    assert lagging(110) == 0


# Bad input


@pytest.mark.parametrize("sweep_deg", [0, -10, 360, 400])
def test_a_sweep_that_cannot_be(sweep_deg):
    """0 moves nothing, 360 and more runs over its own start."""
    with pytest.raises(JobError) as error:
        sweep_table(glass(), [quantity(sweep_deg, "deg")])
    assert error.value.exit_status == 2
    assert str(error.value) == (
        f"sweep of 'near': it is {sweep_deg} deg; it must be more than 0 and less than 360 deg; "
        "choose one such as '110 deg'"
    )


def test_a_blade_longer_than_its_arm_allows():
    """Its inner end would pass the pivot; exactly twice the arm is still allowed."""
    with pytest.raises(JobError) as error:
        at_sweep(glass(arms=[arm(length=200, blade=401)]), quantity(110, "deg"))
    assert error.value.exit_status == 2
    assert str(error.value) == (
        "arm on 'near': a blade of 401 mm on an arm of 200 mm would pass the pivot; this arm takes at most 400 mm; "
        "choose a shorter blade or a longer arm"
    )
    assert at_sweep(glass(arms=[arm(length=200, blade=400)]), quantity(110, "deg")).screen_percent > 0


def test_lengths_that_are_none():
    """An arm of 0 mm."""
    with pytest.raises(JobError) as error:
        at_sweep(glass(arms=[arm(length=0, blade=0)]), quantity(110, "deg"))
    assert str(error.value) == (
        "arm on 'near': its arm is 0 mm and its blade 0 mm long; both must be at least 10 mm; "
        "give the lengths as measured"
    )


def test_a_crank_that_is_none():
    """At 61 degrees the blade no longer lies along its arm."""
    with pytest.raises(JobError) as error:
        at_sweep(glass(arms=[arm(crank=-61, parked=0)]), quantity(110, "deg"))
    assert str(error.value) == (
        "arm on 'near': its crank is 61 deg; it must be at most 60 deg either way; "
        "measure the angle of the blade to the arm"
    )


@pytest.mark.parametrize(
    ("outline", "sentence"),
    [
        (
            ((0.0, 0.0), (100.0, 100.0), (100.0, 0.0), (0.0, 100.0)),
            "screen, outline: its edges cross at (50.0, 50.0) mm; no edge may cross another; "
            "give its corners in order round the edge",
        ),
        (
            ((0.0, 0.0), (100.0, 100.0), (0.0, 0.0)),
            "screen, outline: it has 2 different points; it must have 3 or more; "
            "give its corners in order round the edge",
        ),
        (
            ((0.0, 0.0), (100.0, 0.0), (50.0, 0.001)),
            "screen, outline: its area is 0.05 mm2; it must have an area; measure its corners again",
        ),
    ],
)
def test_an_outline_that_is_none(outline, sentence):
    """Crossing itself, too few points, no area."""
    with pytest.raises(JobError) as error:
        surface(Screen(outline))
    assert error.value.exit_status == 2
    assert str(error.value) == sentence


def test_an_outline_may_be_closed_by_its_first_point():
    """As a drawing program gives it."""
    closed = (*SCREEN.outline_mm, SCREEN.outline_mm[0])
    assert surface(Screen(closed)).outline.area == surface(SCREEN).outline.area == 500 * 1200


def test_a_zone_off_the_glass():
    """A zone's corner outside, and a zone whose corners are on the glass but whose middle bridges a bay."""
    with pytest.raises(JobError) as error:
        surface(Screen(SCREEN.outline_mm, {"B": ((0.0, 100.0), (100.0, 100.0), (50.0, 512.0))}))
    assert str(error.value) == (
        "screen, zone 'B': it reaches 12 mm outside the outline; a zone must lie on the glass; "
        "measure the zone and the outline from one origin"
    )
    bay = ((0.0, 0.0), (100.0, 0.0), (200.0, 200.0), (300.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0))
    with pytest.raises(JobError) as error:
        surface(Screen(bay, {"A": ((50.0, 10.0), (350.0, 10.0), (350.0, 250.0), (50.0, 250.0))}))
    assert "it bridges a bay in the outline" in str(error.value)


# Pivots


HOLES = {"near": (-300.0, 10.0, -20.0), "far": (300.0, 10.0, -20.0)}
PLANE = ((0.0, 0.0, 0.0), (500.0, 0.0, 0.0), (100.0, 300.0, 300.0))  # rises at 45 degrees, forward and up


def test_holes_come_into_the_plane_of_the_glass_with_their_misfit():
    """At 45 degrees (y, z) = (10, -20) is -10 / sqrt 2 up the glass and 30 / sqrt 2 off it, away from the driver."""
    placed = pivots(Screen(SCREEN.outline_mm, plane_mm=PLANE), HOLES)
    assert placed.points_mm["near"] == pytest.approx((-300, -10 / math.sqrt(2)))
    assert placed.points_mm["far"] == pytest.approx((300, -10 / math.sqrt(2)))
    assert placed.misfits_mm == pytest.approx(dict.fromkeys(("near", "far"), -30 / math.sqrt(2)))


def test_pivots_in_the_plane_are_taken_as_they_are():
    """Those of the layout only, and no misfit."""
    placed = pivots(Screen(SCREEN.outline_mm, pivots_mm={"near": (1.0, 2.0), "other": (3.0, 4.0)}), {"near": (9, 9, 9)})
    assert placed.points_mm == {"near": (1.0, 2.0)}
    assert placed.misfits_mm == {}


@pytest.mark.parametrize(
    ("screen", "sentence"),
    [
        (
            Screen(SCREEN.outline_mm, pivots_mm={"far": (0.0, 0.0)}),
            "screen, pivots: there is none for the wheelbox 'near'; each wheelbox of the layout needs one; "
            "add 'near = [point]', or give 'plane' and leave 'pivots' out",
        ),
        (
            Screen(SCREEN.outline_mm),
            "screen: neither 'pivots' nor 'plane' is given; the blades must turn about something; "
            "give the pivots in the plane of the glass, or three points of that plane",
        ),
        (
            Screen(SCREEN.outline_mm, pivots_mm={"near": (0.0, -301.0)}),
            "screen, pivot 'near': it lies 301 mm outside the outline; a pivot must lie within 300 mm of the glass; "
            "measure it from the outline's origin, x to the driver's right, y up the glass",
        ),
        (
            Screen(SCREEN.outline_mm, plane_mm=((0.0, 350.0, 0.0), (500.0, 350.0, 0.0), (0.0, 350.0, 300.0))),
            "screen, pivot 'near': its hole lies 340 mm off the plane of the glass; a pivot must lie within 300 mm of "
            "the glass; measure it from the outline's origin, x to the driver's right, y up the glass",
        ),
        (
            Screen(SCREEN.outline_mm, plane_mm=((0.0, -350.0, 0.0), (500.0, -350.0, 0.0), (0.0, -350.0, 300.0))),
            "screen, pivot 'near': its hole lies 360 mm off the plane of the glass; a pivot must lie within 300 mm of "
            "the glass; measure it from the outline's origin, x to the driver's right, y up the glass",
        ),
        (
            Screen(SCREEN.outline_mm, plane_mm=((0.0, 0.0, 0.0), (5.0, 5.0, 0.0), (10.0, 10.0, 0.0))),
            "screen, plane: its first three points lie in one line; the first must be the outline's origin, the second "
            "to the driver's right, the third up the glass; measure three points of the glass in that order",
        ),
        (
            Screen(SCREEN.outline_mm, plane_mm=(PLANE[1], PLANE[0], PLANE[2])),
            "screen, plane: its second point lies to the left of its first; the first must be the outline's origin, "
            "the second to the driver's right, the third up the glass; measure three points of the glass in that order",
        ),
        (
            Screen(SCREEN.outline_mm, plane_mm=(PLANE[0], PLANE[1], (0.0, -300.0, -300.0))),
            "screen, plane: its third point lies below the line through the first two; the first must be the outline's "
            "origin, the second to the driver's right, the third up the glass; measure three points of the glass in "
            "that order",
        ),
    ],
)
def test_pivots_that_cannot_be(screen, sentence):
    """None, far away, or a plane that is none."""
    with pytest.raises(JobError) as error:
        pivots(screen, {"near": (0.0, 10.0, -20.0)})
    assert error.value.exit_status == 2
    assert str(error.value) == sentence


def points_of_a_bent_glass(seed, bow_mm):
    """A frame anywhere in space with its first axis to the right and its second up, and points near its plane."""
    random = np.random.default_rng(seed)
    x, up = np.array([1.0, *random.uniform(-0.4, 0.4, 2)]), np.array([*random.uniform(-0.4, 0.4, 2), 1.0])
    x /= np.linalg.norm(x)
    up -= (up @ x) * x
    up /= np.linalg.norm(up)
    flat = np.array([(0, 0), (1100, 0), (30, 420), *random.uniform(0, 1, (6, 2)) * (1200, 450)])
    heights = random.uniform(-bow_mm, bow_mm, len(flat))
    origin = random.uniform(-500, 500, 3)
    return origin + flat[:, :1] * x + flat[:, 1:] * up + heights[:, None] * np.cross(x, up)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("bow_mm", [0.0, 4.0, 40.0])
def test_the_best_plane_is_that_of_the_least_squares(seed, bow_mm):
    """Of many points the plane by singular values: the direction of least spread, through their middle."""
    points = points_of_a_bent_glass(seed, bow_mm)
    plane = plane_through([tuple(map(float, p)) for p in points])
    middle = points.mean(0)
    normal = np.linalg.svd(points - middle)[2][2]
    assert abs(normal @ plane.inwards) == pytest.approx(1.0, abs=1e-12)
    assert plane.misfit_mm == pytest.approx(np.abs((points - middle) @ normal).max(), abs=1e-6)
    assert (np.array(plane.origin_mm) - middle) @ normal == pytest.approx(0.0, abs=1e-6)
    (x, y), off = plane.on_glass_mm(tuple(map(float, points[1])))
    assert (x > 0, y) == (True, pytest.approx(0.0, abs=1e-9))
    assert abs(off) <= plane.misfit_mm + 1e-9


def test_three_points_of_the_glass_lie_on_it():
    """And a fourth off it tilts the plane, by hand: (0,0) (900,0) (0,600) (900,600) in a square, one corner up by 8."""
    corners = [(0.0, 0.0, 0.0), (900.0, 0.0, 0.0), (0.0, 0.0, 600.0)]
    assert plane_through(corners).misfit_mm == 0.0
    assert plane_through([*corners, (900.0, 8.0, 600.0)]).misfit_mm == pytest.approx(2.0, abs=0.001)
