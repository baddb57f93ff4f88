"""Student's t and trials that lie off the others, held against another library and remembered tables."""

import math
import random

import pytest
from scipy.integrate import quad
from scipy.stats import t as students_t

from tubing.inputs.shop_file import read_shop
from tubing.springback import estimated
from tubing.trial_statistics import off_the_line, off_the_mean, student
from tubing.units import mm, quantity

# Critical values of Grubbs's test, both sides, 5 %: value from memory.
GRUBBS = {3: 1.1543, 4: 1.4812, 5: 1.7150, 6: 1.8871, 7: 2.0200, 8: 2.1266, 9: 2.2150, 10: 2.2900}


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 9, 10, 17, 40])
@pytest.mark.parametrize("risk", [0.1, 0.05, 0.01, 0.001])
def test_students_t_is_scipys(freedom, risk):
    assert student(freedom, risk) == pytest.approx(students_t.ppf(1 - risk / 2, freedom), rel=1e-9)


@pytest.mark.parametrize("count", GRUBBS)
def test_a_value_is_off_the_mean_from_grubbss_critical_value_on(count):
    """One value at G standard deviations from the mean of all, the others alike on either side of nothing."""

    def is_off(g):
        low, high = 1.0, 1e6
        for _ in range(200):
            middle = (low + high) / 2
            values = [*others, middle]
            mean = sum(values) / count
            sd = math.sqrt(sum((v - mean) ** 2 for v in values) / (count - 1))
            low, high = (middle, high) if (middle - mean) / sd < g else (low, middle)
        return off_the_mean([*others, low], 0.0) == count - 1

    others = [(-1.0) ** k for k in range(count - 1)]
    assert not is_off(GRUBBS[count] - 2e-4)
    assert is_off(GRUBBS[count] + 2e-4)


def test_one_absurd_trial_among_ten_is_named():
    """Nine trials within two tenths of a degree of a line, and one five degrees off it."""
    noise = random.Random(4)
    points = [(x, 1.5 + 0.05 * x + noise.uniform(-0.2, 0.2)) for x in range(10, 110, 10)]
    assert off_the_line(points, 0.14) is None
    points[6] = (70, 1.5 + 0.05 * 70 + 5)
    assert off_the_line(points, 0.14) == 6


def test_what_a_protractor_cannot_read_is_not_off():
    """Nine trials on a line to the last digit; the tenth half a degree off, which a protractor hardly shows."""
    points = [(float(x), 1.0 + 0.04 * x) for x in range(10, 100, 10)]
    assert off_the_line([*points, (100.0, 5.5)], 0.14) is None
    assert off_the_line([*points, (100.0, 5.5)], 0.0) == 9


def test_fewer_than_four_trials_of_a_line_and_three_of_a_mean_tell_nothing():
    assert off_the_line([(1.0, 1.0), (2.0, 2.0), (3.0, 30.0)], 0.0) is None
    assert off_the_mean([1.0, 30.0], 0.0) is None


@pytest.mark.parametrize("name", ["steel-8", "steel-4.76", "steel-9.53"])
def test_the_elastic_estimate_by_integration_over_the_section(name):
    """The plastic moment over the section by quadrature, and with it the curvature that comes back.

    Derived: a fibre at height y carries the yield stress; what comes back is M / (E I) of the curvature 1 / R.
    """
    shop = read_shop(None)
    tube, former = shop.catalogue.tubes[name], shop.catalogue.formers["sheave-230"]
    outer, inner = mm(tube.diameter) / 2, mm(tube.bore) / 2

    def width(y):
        whole = 2 * math.sqrt(outer**2 - y**2)
        return whole - (2 * math.sqrt(inner**2 - y**2) if abs(y) < inner else 0.0)

    moment = 250.0 * 2 * quad(lambda y: y * width(y), 0, outer, points=[inner])[0]
    second = 2 * quad(lambda y: y * y * width(y), 0, outer, points=[inner])[0]
    stays = 1 - mm(former.radius) * moment / (205000.0 * second)
    assert estimated(tube, former) == pytest.approx(1 / stays - 1, rel=1e-6)


def test_the_elastic_estimate_of_a_small_steel_tube():
    """7.94 x 0.71 mm, 250 MPa, 205 GPa: 9.8 % of a bend on 229 mm comes back, 2.6 % on 60 mm. Derived value."""
    shop = read_shop(None)
    tube, former = shop.catalogue.tubes["steel-7.94"], shop.catalogue.formers["sheave-230"]
    for radius, share in (("229", 0.098), ("60", 0.026)):
        found = estimated(tube, type(former)("f", quantity(float(radius), "mm"), former.grip, "derived", "I"))
        assert 1 - 1 / (1 + found) == pytest.approx(share, abs=5e-4)
