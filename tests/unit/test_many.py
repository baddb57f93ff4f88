"""The quick look at many tubes gives the same answers as laying each of them."""

import math
from random import Random

import pytest

from tubing.centreline.between import Bending, PortAt, tube_between
from tubing.centreline.develop import point_at
from tubing.errors import GeometryError
from tubing.geometry.quick_look import BEND_RAD, Looks, Rules, least_rad
from tubing.geometry.solids import Ball, Keepout
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
    looks = Looks(starts, ends, RULES)
    bound_rad = least_rad([looks])
    looks.settle()
    assert least_rad([looks]) >= bound_rad
    seen, costs = set(), []
    for i, (p, u) in enumerate(starts):
        for j, (q, v) in enumerate(ends):
            look = looks.at(i, j)
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
            costs.append((look.bends, look.turn_rad, look.length_mm))
    assert seen
    assert [(k.bends, k.turn_rad, k.length_mm) for k in (looks.at(i, j) for i, j in looks.cheapest())] == sorted(costs)
    assert least_rad([looks]) == pytest.approx(min(bends * BEND_RAD + turn for bends, turn, _ in costs))


@pytest.mark.long
def test_what_enters_a_ball_is_what_points_along_the_laid_tubes_enter():
    """A tube called entering has a point too near; one that is not has none at the looked-at places, 16 mm apart."""
    random = Random(3)
    starts = [((0.0, 0.0, 0.0), scattered(random, (1.0, 0.0, 0.0), 0.3)) for _ in range(12)]
    ends = [((400.0, 0.0, 0.0), scattered(random, (1.0, 0.0, 0.0), 0.3)) for _ in range(12)]
    looks = Looks(starts, ends, RULES)
    looks.settle()
    pairs = looks.cheapest()
    centre, needed_mm = (200.0, 25.0, 0.0), 30.0
    said = looks.entering(pairs, Keepout([Ball(centre, 20.0)], [needed_mm - 20.0]))
    for (i, j), entering in zip(pairs, said, strict=True):
        line = tube_between(PortAt("a", *starts[i], 40.0), PortAt("b", *ends[j], 25.0), BENDING, thorough=False).line
        nearest_mm = min(math.dist(point_at(line, line.length_mm * k / 2000), centre) for k in range(2001))
        assert nearest_mm < needed_mm if entering else nearest_mm > needed_mm - 16.0**2 / (8 * needed_mm) - 0.1
    assert len(set(said)) == 2
