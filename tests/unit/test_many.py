"""The quick look at many tubes gives the same answers as laying each of them."""

import math
from random import Random

import pytest

from tubing.centreline.between import Bending, PortAt, tube_between
from tubing.errors import GeometryError
from tubing.geometry.many import Rules, quick_look
from tubing.geometry.vectors import add, unit

BENDING = Bending(radius_mm=120.0, grip_mm=10.0, fit_up_mm=3.0, fit_up_rad=math.radians(2))
RULES = Rules(120.0, 40.0, 10.0, 25.0, 3.0, math.radians(2))


def scattered(random, around, spread):
    """A direction near another."""
    return unit(add(around, tuple(random.uniform(-spread, spread) for _ in range(3))))


@pytest.mark.parametrize("spread", [0.01, 0.05, 0.3, 1.2])
def test_many_at_once_are_as_one_by_one(spread):
    """Bends, turn and length agree, and so does what does not fit, in line, nearly in line and anyhow."""
    random = Random(7)
    way = (1.0, 0.0, 0.0)
    starts = [((0.0, random.uniform(-2, 2), 0.0), scattered(random, way, spread)) for _ in range(12)]
    ends = [((400.0, random.uniform(-2, 2), 0.0), scattered(random, way, spread)) for _ in range(12)]
    looks = quick_look(starts, ends, RULES)
    seen = set()
    for i, (p, u) in enumerate(starts):
        for j, (q, v) in enumerate(ends):
            look = looks[i][j]
            try:
                laid = tube_between(PortAt("a", p, u, 40.0), PortAt("b", q, v, 25.0), BENDING, thorough=False)
            except GeometryError:
                assert look is None
                continue
            assert look is not None
            assert look.bends == len(laid.line.bends)
            assert look.turn_rad == pytest.approx(laid.line.turn_rad + laid.pull_in.angle_rad, abs=1e-9)
            assert look.length_mm == pytest.approx(laid.line.length_mm, abs=1e-6)
            seen.add(look.bends)
    assert seen
