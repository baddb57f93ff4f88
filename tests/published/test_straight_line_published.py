"""The straight line through trials, against certified fits.

GUM: Guide to the Expression of Uncertainty in Measurement (JCGM 100:2008), example H.3, thermometer calibration, read
in texts that quote it. Norris, NoInt1: NIST Statistical Reference Datasets, linear regression; likewise.
"""

import pytest

from tubing.trial_statistics import slope_through_origin, straight_line

READ = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
CORRECTION = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)
NORRIS = """
.2,.1 337.4,338.8 118.2,118.1 884.6,888.0 10.1,9.2 226.5,228.1 666.3,668.5 996.3,998.5 448.6,449.1 777.0,778.9
558.2,559.2 .4,.3 .6,.1 775.5,778.1 666.9,668.8 338.0,339.3 447.5,448.9 11.6,10.8 556.0,557.7 228.1,228.3 995.8,998.0
887.6,888.8 120.2,119.6 .3,.3 .3,.6 556.8,557.6 339.1,339.3 887.2,888.0 999.0,998.5 779.0,778.9 11.1,10.2 118.3,117.6
229.2,228.9 669.1,668.4 448.9,449.2 .5,.2
"""


def test_the_gums_thermometer():
    """Intercept at 20 degrees, slope, their deviations and correlation, and the correction at 30 degrees."""
    line = straight_line([(t - 20, b) for t, b in zip(READ, CORRECTION, strict=True)])
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.intercept_sd == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.slope_sd == pytest.approx(0.00067, abs=5e-6)
    assert line.correlation == pytest.approx(-0.930, abs=5e-4)
    assert line.residual_sd == pytest.approx(0.0035, abs=5e-5)
    assert line.at(10) == pytest.approx(-0.1494, abs=5e-5)
    assert line.sd_at(10) == pytest.approx(0.0041, abs=5e-5)


def test_norris_to_the_certified_digits():
    pairs = [pair.split(",") for pair in NORRIS.split()]
    assert len(pairs) == 36
    line = straight_line([(float(x), float(y)) for x, y in pairs])
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.intercept_sd == pytest.approx(0.232818234301152, rel=1e-11)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.slope_sd == pytest.approx(0.429796848199937e-03, rel=1e-11)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-11)


def test_noint1_through_the_origin():
    slope = slope_through_origin([(float(x), float(x + 70)) for x in range(60, 71)])
    assert slope == pytest.approx(2.07438016528926, rel=1e-14)
