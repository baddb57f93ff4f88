"""Positions from a tape: what must hold of every network."""

import math
from random import Random

import numpy as np
import pytest
from msgspec.structs import replace

from tests.taped_networks import network, places
from tubing.measuring import Network, Reading, measured
from tubing.measuring.adjustment import Unknowns, adjusted


def read(net):
    return {judged.reading.called: judged.residual_mm for judged in measured(net, "job").readings}


@pytest.mark.parametrize("seed", range(8))
def test_readings_without_noise_give_the_places_and_no_residuals(seed):
    net, true = network(seed)
    found = measured(net, "job")
    for name, place in true.items():
        assert found.at_mm(name) == pytest.approx(place, abs=1e-6)
    assert max(abs(j.residual_mm) for j in found.readings) < 1e-9
    assert not any(j.doubtful for j in found.readings)


@pytest.mark.parametrize("seed", range(5))
def test_renumbering_and_turning_readings_round_changes_no_residual(seed):
    net, _ = network(seed, noise_mm=0.7)
    order = list(net.readings)
    Random(seed).shuffle(order)
    turned = tuple(replace(r, start=r.end, end=r.start) for r in order)
    other = replace(net, points=tuple(reversed(net.points)), readings=turned)
    by_pair = {frozenset((j.reading.start, j.reading.end)): j.residual_mm for j in measured(other, "job").readings}
    for judged in measured(net, "job").readings:
        pair = frozenset((judged.reading.start, judged.reading.end))
        assert by_pair[pair] == pytest.approx(judged.residual_mm, abs=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_the_frame_that_is_chosen_changes_no_residual_and_no_distance(seed):
    """Another three marks as frame: the vehicle is turned, moved and perhaps mirrored, nothing else."""
    net, _ = network(seed, noise_mm=0.7)
    other = replace(
        net,
        frame=replace(net.frame, origin="right", right="left", third="slam"),
        about_mm={"strut": (1200.0, 300.0, 260.0)},
    )
    one, two = measured(net, "job"), measured(other, "job")
    for a, b in zip(one.readings, two.readings, strict=True):
        assert a.residual_mm == pytest.approx(b.residual_mm, abs=1e-6)
        assert a.checked == pytest.approx(b.checked, abs=1e-6)
    for name in net.points:
        apart = [math.dist(found.at_mm("p0"), found.at_mm(name)) for found in (one, two)]
        assert apart[0] == pytest.approx(apart[1], abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_the_mirror_image_has_the_same_residuals(seed):
    """Guessed below instead of above, every point stands as far below the level plane; no residual changes."""
    net, _ = network(seed, noise_mm=0.7)
    x, y, z = net.about_mm["strut"]
    one, two = measured(net, "job"), measured(replace(net, about_mm={"strut": (x, y, -z)}), "job")
    for name in net.points:
        right, forward, up = one.at_mm(name)
        assert two.at_mm(name) == pytest.approx((right, forward, -up), abs=1e-6)
    for a, b in zip(one.readings, two.readings, strict=True):
        assert a.residual_mm == pytest.approx(b.residual_mm, abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_redundancies_add_up_to_what_is_to_spare(seed):
    net, _ = network(seed, noise_mm=0.7)
    found = measured(net, "job")
    assert sum(j.checked for j in found.readings) == pytest.approx(found.spare, abs=1e-6)
    assert found.spare == len(net.readings) - (3 * len(net.points) - 6)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(25))
def test_a_reading_spoilt_by_15_mm_is_named_where_the_others_check_it(seed):
    """Of those whose redundancy lets a mistake of 15 mm show: found, told by how much, and no other accused."""
    net, _ = network(seed, points=4, noise_mm=0.4)
    fit = measured(net, "job").fit
    checked = [k for k, share in enumerate(fit.redundancy) if share > 0.2]
    spoilt = checked[seed % len(checked)]
    readings = list(net.readings)
    readings[spoilt] = replace(readings[spoilt], value_mm=readings[spoilt].value_mm + (15 if seed % 2 else -15))
    found = measured(replace(net, readings=tuple(readings)), "job")
    named = [k for k, judged in enumerate(found.readings) if judged.doubtful]
    assert spoilt in named
    if not found.one_of:
        assert named == [spoilt]
        assert found.readings[spoilt].blunder_mm == pytest.approx(15 if seed % 2 else -15, abs=5)


@pytest.mark.long
def test_the_stated_spread_is_that_of_repeated_measuring():
    """800 times the same vehicle is taped with the stated error; the spread of each coordinate is what is stated.

    The sample's variance over the stated one, times 799, is chi-square with 799 degrees: for 99.99 % of one coordinate
    the ratio lies within 0.81 and 1.21, worked out from its quantiles.
    """
    net, _ = network(3)
    fit = measured(net, "job").fit
    random, found = Random(11), []
    for _ in range(800):
        readings = tuple(replace(r, value_mm=r.value_mm + random.gauss(0, r.sigma_mm)) for r in net.readings)
        found.append(adjusted(fit.unknowns, fit.x, readings).x)
    spread = np.var(np.array(found), axis=0, ddof=1)
    stated = np.diag(fit.cofactors)
    free = fit.unknowns.free
    assert (spread[free] / stated[free]).min() > 0.81
    assert (spread[free] / stated[free]).max() < 1.21


# Tetrahedra whose six edges are whole numbers and whose volume is too: derived from coordinates that are whole.
TETRAHEDRA = [
    {"a": (0, 0, 0), "b": (3, 4, 0), "c": (0, 12, 9), "d": (12, 0, 5)},
    {"a": (0, 0, 0), "b": (6, 8, 0), "c": (15, 0, 8), "d": (0, 24, 7)},
]


@pytest.mark.parametrize("corners", TETRAHEDRA)
def test_the_volume_of_a_tetrahedron_from_its_edges(corners):
    """Cayley and Menger: 288 V^2 is the determinant of the squared edges; the placed corners span that volume."""
    names = list(corners)
    pairs = [(a, b) for i, a in enumerate(names) for b in names[i + 1 :]]
    edges = {frozenset(p): math.dist(corners[p[0]], corners[p[1]]) for p in pairs}
    matrix = np.ones((5, 5)) - np.eye(5)
    for i, a in enumerate(names):
        for k, b in enumerate(names):
            matrix[i + 1, k + 1] = edges[frozenset((a, b))] ** 2 if a != b else 0.0
    volume = math.sqrt(np.linalg.det(matrix) / 288)
    readings = tuple(Reading(a, b, "taped", 100 * edges[frozenset((a, b))], 1.0) for a, b in pairs)
    start = np.array([c * 100 + k % 3 for k, c in enumerate(c for p in corners.values() for c in p)], dtype=float)
    fit = adjusted(Unknowns(Network(tuple(names), readings)), start, readings)
    a, b, c, d = (np.array(fit.place_mm(name)) / 100 for name in names)
    assert abs(np.linalg.det(np.array([b - a, c - a, d - a]))) / 6 == pytest.approx(volume, rel=1e-9)


def test_places_are_made_up_by_chance_but_always_the_same():
    assert places(1, 3) == places(1, 3)
