"""Adjusted networks of distances against worked examples.

Strang and Borre 1997, example 12.4; Ghilani, Adjustment Computations, 5th edition, example 14.5; Benning 2011, examples
8-2 and 8-8; Hoepke 1980, example 35.5; Wolf 1979, p. 87; Blankenbach and Willert 2009: as collected in Krumm, Geodetic
Network Adjustment Examples, revision 3.5 (2020), read with the results of an open program. Tolerance: half of the last
digit printed. Standard deviations are those of the fit itself (s0), as the sources print them.
"""

import math

import numpy as np
import pytest

from tubing.measuring import AXES, ORIGIN, Frame, Network, Reading, measured
from tubing.measuring.adjustment import Unknowns, adjusted
from tubing.measuring.doubt import snooped

HELD = 1e-5  # a point that is held may be out by so much


def flat(name):
    """A point of a plane network stays in its plane."""
    return Reading(ORIGIN, name, "up", 0.0, HELD)


def held(points):
    """Points whose coordinates are given."""
    return [
        Reading(ORIGIN, name, axis, value, HELD)
        for name, place in points.items()
        for axis, value in zip(AXES, (*place, 0.0)[:3], strict=True)
    ]


def taped(text, sigma):
    """Readings from a text such as '1-P 100.01, 2-P 100.02'."""
    found = []
    for each in text.split(","):
        ends, value = each.split()
        start, end = ends.rsplit("-", 1)
        found.append(Reading(start, end, "taped", float(value), 2 * sigma))
    return found


def fit_of(start, readings):
    """The fit of a network from its start coordinates."""
    unknowns = Unknowns(Network(tuple(start), tuple(readings)))
    return adjusted(unknowns, np.array([c for place in start.values() for c in (*place, 0.0)[:3]]), readings)


def s0(fit):
    """Standard deviation of unit weight, by the fit."""
    return math.sqrt(fit.squares / fit.spare)


def sds(fit, name, count=2):
    """Standard deviations of a point's coordinates, by the fit."""
    k = fit.unknowns.place[name]
    return [s0(fit) * math.sqrt(fit.cofactors[k + i, k + i]) for i in range(count)]


def test_strang_and_borre_fixed():
    points = {"1": (170.71, 270.71), "2": (100.0, 100.0), "3": (241.42, 100.0)}
    readings = [*taped("1-P 100.01, 2-P 100.02, 3-P 100.03", 0.01), *held(points), flat("P")]
    fit = fit_of({**points, "P": (170.71, 170.71)}, readings)
    assert fit.place_mm("P")[:2] == pytest.approx((170.7029, 170.7234), abs=6e-5)
    assert sds(fit, "P") == pytest.approx((0.03303, 0.02335), abs=1e-5)
    assert fit.redundancy[:3] == pytest.approx([0.5, 0.25, 0.25], abs=1e-3)
    assert s0(fit) * 0.01 == pytest.approx(0.03303, abs=1e-5)


def test_strang_and_borre_free():
    """All four points adjusted: the free network of least shifts from its start."""
    points = {"1": (170.71, 270.71), "2": (100.0, 100.0), "3": (241.42, 100.0), "P": (170.71, 170.71)}
    text = "1-P 100.01, 2-P 100.02, 3-P 100.03, 1-2 184.785, 2-3 141.44, 1-3 184.805"
    fit = fit_of(points, [*taped(text, 0.01), *map(flat, points)])
    printed = {
        "P": (170.7123, 170.7185, 0.01079, 0.00682),
        "1": (170.7032, 270.7213, 0.00810, 0.00551),
        "2": (99.9912, 99.9971, 0.00641, 0.00705),
        "3": (241.4333, 99.9830, 0.00640, 0.00705),
    }
    for name, (x, y, sd_x, sd_y) in printed.items():
        assert fit.place_mm(name)[:2] == pytest.approx((x, y), abs=6e-5)
        assert sds(fit, name) == pytest.approx((sd_x, sd_y), abs=1e-5)
    assert s0(fit) * 0.01 == pytest.approx(0.011764, abs=1e-6)
    assert fit.redundancy[:6] == pytest.approx([0.374, 0.187, 0.187, 0.110, 0.032, 0.110], abs=6e-4)


def test_ghilani():
    """One reading to spare: a misfit is seen, and every reading looks equally wrong."""
    points = {"Badger": (2410000.0, 390000.0), "Bucky": (2411820.0, 386881.222)}
    text = "Badger-Wisconsin 5870.302, Badger-Campus 7297.588, Wisconsin-Campus 3616.434, "
    text += "Wisconsin-Bucky 5742.878, Campus-Bucky 5123.760"
    start = {**points, "Wisconsin": (2415776.819, 391043.461), "Campus": (2416892.670, 387603.450)}
    fit = fit_of(start, [*taped(text, 1.0), *held(points), flat("Wisconsin"), flat("Campus")])
    assert fit.place_mm("Wisconsin")[:2] == pytest.approx((2415776.9044, 391043.2945), abs=6e-5)
    assert fit.place_mm("Campus")[:2] == pytest.approx((2416892.6955, 387603.2551), abs=6e-5)
    assert sds(fit, "Wisconsin") == pytest.approx((0.14879, 0.22061), abs=1e-5)
    assert sds(fit, "Campus") == pytest.approx((0.10378, 0.27054), abs=1e-5)
    assert s0(fit) == pytest.approx(0.1359, abs=6e-5)
    assert fit.redundancy[:5] == pytest.approx([0.162, 0.338, 0.073, 0.206, 0.221], abs=6e-4)
    assert np.abs(fit.deviations()[:5]) == pytest.approx([abs(fit.deviations()[0])] * 5, rel=1e-6)


def test_benning():
    points = {"1": (0.0, 1000.0), "2": (1000.0, 1000.0)}
    text = "1-3 1000.02, 1-4 1414.20, 2-3 1414.24, 2-4 999.98, 3-4 1000.00"
    start = {**points, "3": (0.0, 0.0), "4": (1000.0, 0.0)}
    fit = fit_of(start, [*taped(text, 0.01), *held(points), flat("3"), flat("4")])
    assert fit.place_mm("3")[:2] == pytest.approx((-0.0096, -0.0226), abs=6e-5)
    assert fit.place_mm("4")[:2] == pytest.approx((999.9930, 0.0174), abs=6e-5)
    assert fit.redundancy[:5] == pytest.approx([1 / 7, 2 / 7, 2 / 7, 1 / 7, 1 / 7], abs=1e-4)
    centre = {"1": (3000.0, 2000.0), "2": (1000.0, 2000.0), "3": (3000.0, 2100.0), "4": (1000.0, 2100.0)}
    centre["5"] = (2000.0, 1000.0)
    text = "6-1 1000, 6-2 1000, 6-3 1005, 6-4 1005, 6-5 1000"
    fit = fit_of({**centre, "6": (2000.0, 2000.0)}, [*taped(text, 0.02), *held(centre), flat("6")])
    assert fit.place_mm("6")[:2] == pytest.approx((2000.0, 1999.9976), abs=6e-5)
    assert sds(fit, "6") == pytest.approx((0.00504, 0.00996), abs=1e-5)
    assert fit.redundancy[4] == pytest.approx(0.019, abs=6e-4)


SATTENHAUSEN = {
    "20": (3579041.416, 5707194.412),
    "75": (3575403.277, 5707682.612),
    "86": (3575322.061, 5708700.952),
    "87": (3576581.778, 5709938.106),
    "1006": (3578284.289, 5708758.641),
    "1011": (3577052.332, 5708103.204),
    "1059": (3576852.894, 5706633.642),
    "1087": (3576213.699, 5709199.889),
}
LENGTHS = """86-1006 2962.832, 86-87 1765.657, 86-1087 1021.768, 86-75 1021.536, 86-1011 1830.646, 86-20 4012.921,
86-1059 2572.516, 1087-87 824.863, 1087-20 3466.722, 1087-1059 2644.789, 1087-75 1720.130, 1087-1006 2117.134,
1087-1011 1380.633, 1006-75 3075.373, 1006-20 1737.824, 1006-1059 2562.134, 1006-1011 1395.459, 1006-87 2071.154,
1011-87 1894.263, 1011-75 1701.824, 1011-1059 1483.088, 1011-20 2186.853, 1059-20 2259.167, 1059-75 1789.449,
1059-87 3315.630, 20-87 3684.782, 20-75 3670.735"""


def test_hoepkes_free_network():
    fit = fit_of(SATTENHAUSEN, [*taped(LENGTHS, 0.001), *map(flat, SATTENHAUSEN)])
    printed = {
        "20": (3579041.4042, 5707194.4039, 2.09, 2.65),
        "75": (3575403.2853, 5707682.6565, 2.32, 2.65),
        "86": (3575322.0203, 5708700.9554, 2.11, 2.40),
        "87": (3576581.7857, 5709938.0995, 2.79, 2.26),
        "1006": (3578284.2920, 5708758.6275, 2.03, 2.68),
        "1011": (3577052.3287, 5708103.2070, 2.40, 2.73),
        "1059": (3576852.9606, 5706633.5764, 2.47, 2.12),
        "1087": (3576213.6691, 5709199.9319, 2.41, 2.27),
    }
    for name, (x, y, sd_x, sd_y) in printed.items():
        assert fit.place_mm(name)[:2] == pytest.approx((x, y), abs=6e-5)
        assert [1000 * sd for sd in sds(fit, name)] == pytest.approx([sd_x, sd_y], abs=0.006)
    assert fit.spare == 14
    assert s0(fit) == pytest.approx(4.954, abs=6e-4)
    assert fit.squares == pytest.approx(343.644, abs=6e-4)


def test_hoepkes_blunder_is_found_and_no_other_reading_accused():
    """The book's list prints 1789.499 for 1789.449; the place and the size of the mistake are the source's."""
    readings = [*taped(LENGTHS.replace("1789.449", "1789.499"), 0.005), *map(flat, SATTENHAUSEN)]
    fit = fit_of(SATTENHAUSEN, readings)
    deviations = fit.deviations()
    assert deviations[23] == pytest.approx(-6.85, abs=6e-3)
    assert fit.redundancy[23] == pytest.approx(0.467, abs=6e-4)
    assert -fit.residuals_mm[23] / fit.redundancy[23] == pytest.approx(0.0501, abs=6e-5)
    clean, aside, unplaced = snooped(fit, fit.readings)
    assert [reading.called for reading in aside] == ["tape from 1059 to 75"]
    assert unplaced == []
    assert np.abs(clean.deviations()[:26]).max() == pytest.approx(2.52, abs=6e-3)


def test_wolf_in_space():
    points = {"1": (1200.0, 900.0, 900.0), "2": (900.0, 600.0, 900.0)}
    points |= {"3": (600.0, 900.0, 900.0), "4": (900.0, 1200.0, 900.0)}
    readings = [*taped("1-P 499.99, 2-P 500.00, 3-P 500.01, 4-P 500.02", 0.01), *held(points)]
    fit = fit_of({**points, "P": (900.0, 900.0, 1300.0)}, readings)
    assert fit.place_mm("P") == pytest.approx((900.0167, 899.9833, 1300.0062), abs=6e-5)
    assert sds(fit, "P", 3) == pytest.approx((0.01179, 0.01179, 0.00625), abs=1e-5)
    assert fit.redundancy[:4] == pytest.approx([0.25] * 4, abs=1e-4)
    assert np.abs(fit.residuals_mm[:4]) == pytest.approx([0.005] * 4, abs=6e-5)


def test_two_blunders_of_blankenbach_and_willert():
    """Plain least squares lies off; snooping finds both readings that the source marks, and no other."""
    points = {"51": (-8.62, 27.42, 10.29), "37": (-4.95, 27.30, 10.04), "31": (-4.85, 20.69, 10.51)}
    points |= {"102": (0.52, 22.59, 9.77), "331": (-6.12, 25.48, 10.92), "35": (0.45, 27.39, 10.75)}
    points |= {"103": (0.61, 17.19, 9.71), "101": (-7.88, 22.45, 10.16)}
    text = "51-MS 8.20, 37-MS 3.85, 31-MS 4.35, 102-MS 3.51, 331-MS 3.98, 35-MS 4.37, 103-MS 8.17, 101-MS 5.73"
    fit = fit_of({**points, "MS": (-2.59, 24.22, 9.62)}, [*taped(text, 0.05), *held(points)])
    assert fit.place_mm("MS") == pytest.approx((-2.3042, 24.3101, 9.5248), abs=6e-5)
    assert sds(fit, "MS", 3) == pytest.approx((0.299, 0.332, 1.194), abs=6e-4)
    clean, aside, unplaced = snooped(fit, fit.readings)
    assert {reading.start for reading in aside} == {"51", "103"}
    assert unplaced == []
    assert clean.place_mm("MS") == pytest.approx((-2.5077, 24.3202, 9.7753), abs=6e-5)


def test_norrdine():
    """Example B of the author's own program: the true point lies within three deviations each way."""
    points = {"P37": (27.297, -4.953, 1.47), "P31": (20.693, -4.849, 1.93), "P102": (22.590, 0.524, 1.20)}
    points |= {"P43": (17.113, -3.003, 2.17), "P208": (22.554, 4.727, 1.77), "P101": (22.447, -7.880, 1.60)}
    text = "P37-X 3.652, P31-X 7.036, P102-X 4.586, P43-X 9.960, P208-X 7.542, P101-X 7.883"
    fit = fit_of({**points, "X": (26.0, -1.0, 1.0)}, [*taped(text, 0.05), *held(points)])
    for found, true, sd in zip(fit.place_mm("X"), (26.759, -1.342, 1.13), sds(fit, "X", 3), strict=True):
        assert abs(found - true) < 3 * sd


# OEIS A272388, tetrahedra with whole edges, faces and volume: edges AB AC BC CD BD AD, areas ABC ABD ACD BCD, volume.
TETRAHEDRA = [
    ((117, 84, 51, 52, 53, 80), (1890, 1800, 2016, 1170), 18144),
    ((160, 153, 25, 39, 56, 120), (1872, 2688, 1404, 420), 8064),
    ((203, 195, 148, 203, 195, 148), (13650, 13650, 13650, 13650), 611520),
    ((225, 200, 65, 119, 156, 87), (6300, 4914, 2436, 3570), 35280),
]


@pytest.mark.parametrize(("edges", "areas", "volume"), TETRAHEDRA)
def test_whole_tetrahedra_from_their_edges(edges, areas, volume):
    """Taped edges alone, in the frame of A, B and C; faces and volume by vectors from the places found."""
    pairs = ("A-B", "A-C", "B-C", "C-D", "B-D", "A-D")
    readings = tuple(
        Reading(*pair.split("-"), "taped", float(edge), 0.1) for pair, edge in zip(pairs, edges, strict=True)
    )
    about = {"D": (0.0, 0.0, 100.0)}
    found = measured(Network(("A", "B", "C", "D"), readings, Frame("A", "B", "C"), about), "job")
    a, b, c, d = (np.array(found.at_mm(name)) for name in "ABCD")
    faces = ((a, b, c), (a, b, d), (a, c, d), (b, c, d))
    assert [float(np.linalg.norm(np.cross(q - p, r - p))) / 2 for p, q, r in faces] == pytest.approx(areas, rel=1e-9)
    assert abs(float(np.linalg.det(np.array([b - a, c - a, d - a])))) / 6 == pytest.approx(volume, rel=1e-9)


# Seven points in a plane, all distances whole: Kreisel and Kurz 2008 (digits from memory; they are of rank 2).
HEPTAGON = """1-2 22270, 1-3 22098, 1-4 16637, 1-5 9248, 1-6 8908, 1-7 8636, 2-3 21488, 2-4 11397, 2-5 15138, 2-6 20698,
2-7 13746, 3-4 10795, 3-5 14450, 3-6 13430, 3-7 20066, 4-5 7395, 4-6 11135, 4-7 11049, 5-6 5780, 5-7 5916, 6-7 10744"""


def heptagon(lengths):
    """The seven points, placed from nothing."""
    names = tuple("1234567")
    readings = (*taped(lengths, 0.5), *map(flat, names))
    about = {"1": (0.0, 0.0, 0.0), "2": (22000.0, 0.0, 0.0), "3": (10000.0, 20000.0, 0.0)}
    readings += tuple(Reading(ORIGIN, "1", axis, 0.0, HELD) for axis in AXES[:2])
    readings += (Reading(ORIGIN, "2", "forward", 0.0, HELD),)
    return measured(Network(names, readings, None, about), "job")


def test_seven_points_with_whole_distances():
    found = heptagon(HEPTAGON)
    assert max(abs(judged.residual_mm) for judged in found.readings) < 1e-6
    for reading in taped(HEPTAGON, 0.5):
        apart = math.dist(found.at_mm(reading.start), found.at_mm(reading.end))
        assert apart == pytest.approx(reading.value_mm, abs=1e-6)


@pytest.mark.parametrize("pair", ["1-5 9248", "3-6 13430", "6-7 10744"])
def test_one_of_the_seven_points_distances_spoilt_is_named(pair):
    ends, length = pair.split()
    found = heptagon(HEPTAGON.replace(pair, f"{ends} {int(length) + 15}"))
    assert [judged.reading.called for judged in found.readings if judged.doubtful] == [
        f"tape from {ends[0]} to {ends[2]}"
    ]


def test_a_square_with_both_diagonals():
    """Derived: of sides 1/8, of diagonals 1/4 is checked; a diagonal not taped has the variance 3, taped too 3/4."""
    corners = {"a": (0.0, 0.0), "b": (1000.0, 0.0), "c": (1000.0, 1000.0), "d": (0.0, 1000.0)}
    side, across = 1000.0, 1000.0 * math.sqrt(2)
    text = f"a-b {side}, b-c {side}, c-d {side}, d-a {side}, a-c {across:.12f}, b-d {across:.12f}"
    fit = fit_of(corners, [*taped(text, 1.0), *map(flat, corners)])
    assert fit.redundancy[:6] == pytest.approx([1 / 8] * 4 + [1 / 4] * 2, abs=1e-6)
    for lengths, variance in ((text.rsplit(",", 1)[0], 3.0), (text, 3 / 4)):
        fit = fit_of(corners, [*taped(lengths, 1.0), *map(flat, corners)])
        row = fit.unknowns.system(fit.x, taped("b-d 1414", 1.0))[1][0]
        free = fit.unknowns.free
        assert row @ fit.cofactors[np.ix_(free, free)] @ row == pytest.approx(variance, rel=1e-6)
