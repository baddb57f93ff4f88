"""Distances of blades against brute force, and clearances to the edge as drawn by hand."""

import itertools
import math

import pytest

from tests.glass_facts import arm, glass, wiper
from tubing.glass import at_sweep
from tubing.glass.blade import Blade
from tubing.glass.nearness import keep_apart, least_distance_mm, segment_distance_mm
from tubing.inputs.records import Screen
from tubing.units import quantity


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


def test_half_the_lost_motion_goes_at_each_dead_end():
    """What is left of the sweep has the same middle."""
    whole = blade(0, 170, turning=-1, lost_deg=4)
    left = whole.lagging()
    assert math.degrees(left.sweep_rad) == pytest.approx(106)
    assert left.arm_rad(0.5) == pytest.approx(whole.arm_rad(0.5))
    assert left.arm_rad(0) == pytest.approx(math.radians(168))
