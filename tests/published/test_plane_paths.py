"""Tubes of two bends in one plane against the closed forms of shortest paths of bounded curvature.

Source: L. E. Dubins, On curves of minimal length with a constraint on average curvature, American Journal of
Mathematics 79 (1957), theorem I: between poses that lie far apart the shortest path is a curve, a straight and a
curve. The four closed forms are written here anew, by the tangents of the circles beside the poses.
"""

import math
from typing import NamedTuple

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tubing.centreline.between import Bending, PortAt, tube_between
from tubing.centreline.develop import develop
from tubing.errors import GeometryError
from tubing.geometry.two_bends import shortest
from tubing.geometry.two_reaches import TwoPorts, corners_mm

RADIUS_MM = 230.0
SHARPEST_RAD = math.radians(170)  # of a bend that the program adds
LEFT, RIGHT = 1, -1


class Path(NamedTuple):
    """One path of two arcs and the straight between them."""

    word: str
    first_rad: float
    straight_mm: float
    second_rad: float

    @property
    def length_mm(self):
        """Along all three parts."""
        return RADIUS_MM * (self.first_rad + self.second_rad) + self.straight_mm


def dubins(start, start_rad, end, end_rad):
    """The paths LSL, RSR, LSR and RSL between two poses in the plane, as far as they exist."""
    found = []
    for first, second in ((LEFT, LEFT), (RIGHT, RIGHT), (LEFT, RIGHT), (RIGHT, LEFT)):
        centre = start + first * RADIUS_MM * np.array([-math.sin(start_rad), math.cos(start_rad)])
        other = end + second * RADIUS_MM * np.array([-math.sin(end_rad), math.cos(end_rad)])
        gap = math.dist(centre, other)
        along_rad = math.atan2(*(other - centre)[::-1])
        if first == second:
            straight_mm = gap
        elif gap < 2 * RADIUS_MM:
            continue
        else:  # the tangent crosses the line of centres
            straight_mm = math.sqrt(gap**2 - 4 * RADIUS_MM**2)
            along_rad += first * math.asin(2 * RADIUS_MM / gap)
        turns = [(first * (along_rad - start_rad)) % math.tau, (second * (end_rad - along_rad)) % math.tau]
        turns = [0.0 if math.tau - turn < 1e-12 else turn for turn in turns]
        found.append(Path({1: "L", -1: "R"}[first] + "S" + {1: "L", -1: "R"}[second], turns[0], straight_mm, turns[1]))
    return found


def walked(start, start_rad, path):
    """Where a path ends and how it points there, arc by arc."""
    place, heading = np.array(start, dtype=float), start_rad
    for hand, turn in ((path.word[0], path.first_rad), (None, 0.0), (path.word[2], path.second_rad)):
        if hand is None:
            place = place + path.straight_mm * np.array([math.cos(heading), math.sin(heading)])
            continue
        side = LEFT if hand == "L" else RIGHT
        chord = 2 * RADIUS_MM * math.sin(turn / 2)
        halfway = heading + side * turn / 2
        place = place + chord * np.array([math.cos(halfway), math.sin(halfway)])
        heading += side * turn
    return place, heading


def poses(seed):
    """Two poses far apart in the plane, and the straights that must be left at them and between."""
    random = np.random.default_rng(seed)
    away_rad, start_rad, end_rad = random.uniform(0, math.tau, 3)
    far_mm = RADIUS_MM * random.uniform(4.5, 9.0)  # beyond four radii no path of three arcs is the shortest
    least = random.choice([0.0, 10.0, 39.0], 3)
    return np.array([math.cos(away_rad), math.sin(away_rad)]) * far_mm, start_rad, end_rad, least


def in_any_plane(seed):
    """A rotation that stands the plane anyhow in space."""
    return Rotation.from_quat(np.random.default_rng(seed).normal(size=4))


def direction(angle_rad):
    """Unit vector of the plane."""
    return np.array([math.cos(angle_rad), math.sin(angle_rad)])


def in_space(turn, v):
    """A point or direction of the plane as the program takes it, the plane standing anyhow in space."""
    return tuple(float(c) for c in turn.apply([*v, 0.0]))


def found_mm(gap, start_rad, end_rad, least, turn):
    """Length of the program's shortest tube of two bends; None: it finds none."""
    ports = TwoPorts(
        in_space(turn, gap), in_space(turn, direction(start_rad)), in_space(turn, direction(end_rad)), *least
    )
    reaches = shortest(ports, RADIUS_MM)
    if reaches is None:
        return None
    return develop([(0.0, 0.0, 0.0), *corners_mm(ports, reaches), ports.gap_mm], RADIUS_MM).length_mm


def test_the_closed_forms_arrive():
    """Guards this file: every path of the four words, walked arc by arc, ends in the second pose."""
    words = set()
    for seed in range(70):
        gap, start_rad, end_rad, _ = poses(seed)
        for path in dubins(np.zeros(2), start_rad, gap, end_rad):
            place, heading = walked((0.0, 0.0), start_rad, path)
            assert place == pytest.approx(gap, abs=1e-8)
            assert direction(heading) == pytest.approx(direction(end_rad), abs=1e-9)
            words.add(path.word)
    assert words == {"LSL", "RSR", "LSR", "RSL"}


def shortest_mm(seed, middle_mm):
    """Lengths of the shortest path of all, least straights led in and out, and of the shortest that may be bent."""
    gap, start_rad, end_rad, least = poses(seed)
    led_mm = least[0] + least[2]
    paths = dubins(least[0] * direction(start_rad), start_rad, gap - least[2] * direction(end_rad), end_rad)
    may = [p for p in paths if max(p.first_rad, p.second_rad) <= SHARPEST_RAD and p.straight_mm >= middle_mm]
    return led_mm + min(p.length_mm for p in paths), min((led_mm + p.length_mm for p in may), default=None)


@pytest.mark.long
def test_the_tube_of_two_bends_is_the_path_of_dubins():
    """Theorem I, least straights led in and out: equal within 1e-6 where the shortest path may be bent, never shorter.

    A path with a bend over 170 degrees, or a straight shorter than the former's grip, may not be bent; then the tube
    lies between the shortest path of all and the shortest that may.
    """
    equal = 0
    for seed in range(50):
        gap, start_rad, end_rad, least = poses(seed)
        tube_mm = found_mm(gap, start_rad, end_rad, least, in_any_plane(seed))
        least_mm, may_mm = shortest_mm(seed, least[1])
        if tube_mm is not None:
            assert tube_mm >= least_mm * (1 - 1e-9), seed
        if may_mm is not None:
            assert tube_mm is not None, seed
            assert tube_mm <= may_mm * (1 + 1e-6), seed
            equal += may_mm == least_mm
    assert equal >= 30


@pytest.mark.long
def test_a_tube_between_ports_is_never_shorter():
    """Theorem I again, as plans ask for it: where one bend does it the tube may be longer, never shorter."""
    bends = []
    for seed in range(100, 160):
        gap, start_rad, end_rad, least = poses(seed)
        turn = in_any_plane(seed)
        start = PortAt("a", (0.0, 0.0, 0.0), in_space(turn, direction(start_rad)), float(least[0]))
        end = PortAt("b", in_space(turn, gap), in_space(turn, direction(end_rad)), float(least[2]))
        least_mm, may_mm = shortest_mm(seed, 0.0)
        try:
            line = tube_between(start, end, Bending(RADIUS_MM, 0.0, 1e-6, 1e-9)).line
        except GeometryError:
            assert may_mm is None, seed
            continue
        assert line.length_mm >= least_mm * (1 - 1e-9), seed
        if len(line.bends) == 2 and may_mm is not None:
            assert line.length_mm <= may_mm * (1 + 1e-6), seed
        bends.append(len(line.bends))
    assert {1, 2} <= set(bends)
