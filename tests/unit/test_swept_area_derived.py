"""The area that a blade sweeps, in closed form: derived, no published source."""

import math

import pytest
import shapely

from tubing.glass.blade import Blade
from tubing.glass.surface import swept


@pytest.mark.parametrize("sweep_deg", [1, 90, 110, 140, 200, 359])
@pytest.mark.parametrize("crank_deg", [0, 8, -25])
def test_a_segment_sweeps_an_annular_sector(sweep_deg, crank_deg):
    """sweep/2 (R2^2 - R1^2), derived; a crank changes the radii and not the formula."""
    blade = Blade("b", (40.0, -30.0), 320.0, 300.0, math.radians(crank_deg), 0.3, math.radians(sweep_deg), 1)
    inner, outer = (math.dist(blade.pivot_mm, end) for end in blade.ends_mm(0.25))
    region = swept(blade)
    assert region.is_valid
    bound = 2 / 3 * 0.01 * blade.sweep_rad * (outer + inner)
    assert region.area == pytest.approx(blade.sweep_rad / 2 * (outer**2 - inner**2), abs=bound + 1e-6)


def test_a_radial_blade_has_the_radii_of_its_arm():
    """Arm 300, blade 280, 110 degrees: 55 pi / 180 (440^2 - 160^2) = 161 268.4 mm2."""
    blade = Blade("b", (0.0, 0.0), 300.0, 280.0, 0.0, 0.5, math.radians(110), -1)
    assert swept(blade).area == pytest.approx(161_268.4, abs=8)
    assert isinstance(swept(blade), shapely.Polygon)
