"""What blades wipe of the glass: areas against points that are sampled."""

import math

import numpy as np
import pytest

from tests.glass_facts import SCREEN, arm, glass, wiper
from tubing.glass import at_sweep
from tubing.glass.blade import Blade
from tubing.glass.surface import surface, swept
from tubing.inputs.records import Screen
from tubing.units import quantity


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


@pytest.mark.long
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


def test_lost_motion_takes_its_angle_off_the_wiped_sector():
    """Half at each dead end: the wiped sector is that of 107 degrees where 3 are lost, of none where all are."""

    def lagging(lost):
        row = at_sweep(
            glass([wiper(lost=lost)], [arm(length=300, blade=200, crank=0, parked=35)]), quantity(110, "deg")
        )
        return row.lagging_screen_percent * 6000

    assert lagging(3) == pytest.approx(math.radians(107) / 2 * (400**2 - 200**2), abs=10)
    assert lagging(110) == 0
