"""Where to start: points placed one after the other from those that are placed, and every mirror image of them.

Three distances leave two places for a point, one on either side of the plane of the three. All choices are followed up
while the readings allow them; an eye's guess, an offset or a reading to spare decides.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from random import Random
from typing import Any

import numpy as np

from tubing.measuring.adjustment import Fit, Unknowns, adjusted, damped, made_by
from tubing.measuring.records import ORIGIN, Network, Reading

SAME_MM = 1.0  # two places nearer than this are one
MOST_WAYS = 64  # choices followed up at once
MOST_STARTS = 80  # of a group that can only be placed as a whole
WORST = 60.0  # standard deviations: a choice that a reading contradicts by more is dropped, mistakes allowed for
ALIKE = 12.0  # two images whose sums of squares differ by no more fit alike: more than chance does once in a thousand


def images(network: Network) -> list[Fit]:
    """Every way in which the network can stand that the readings allow, the one that fits best first.

    More than one: the readings cannot tell mirror images apart. Points that too few readings hold are where they were
    put, and the fit's loose directions name them. Empty: no way was found.
    """
    unknowns = Unknowns(network)
    ways = [_frame_placed(unknowns)]
    todo = [name for name in network.points if name not in ways[0]]
    while todo:
        name = max(todo, key=lambda n: (_held_by(network, n, ways[0]), -todo.index(n)))
        if _held_by(network, name, ways[0]) < 3 and name not in network.about_mm:
            ways = [way | rest for way in ways for rest in _as_a_whole(unknowns, way, todo)][:MOST_WAYS]
            break
        ways = _thinned(unknowns, [way | {name: place} for way in ways for place in _places(unknowns, way, name)])
        todo.remove(name)
    fits = [adjusted(unknowns, _coordinates(network, way), network.readings) for way in ways]
    return _told_apart(network, fits)


def _coordinates(network: Network, way: dict[str, Any]) -> Any:
    return np.concatenate([np.asarray(way[name], dtype=float) for name in network.points]) if network.points else []


def _frame_placed(unknowns: Unknowns) -> dict[str, Any]:
    """The frame's own three points, from the distances between them or, where one is missing, by eye."""
    network = unknowns.network
    frame = network.frame
    if frame is None:
        return {}
    to_right, to_third, across = (
        _distance_mm(network, a, b)
        for a, b in ((frame.origin, frame.right), (frame.origin, frame.third), (frame.right, frame.third))
    )
    right = to_right or _by_eye_mm(network, frame.right)
    third = to_third or _by_eye_mm(network, frame.third)
    along = (right**2 + third**2 - across**2) / (2 * right) if across else 0.0
    aside = math.sqrt(max(third**2 - along**2, (0.05 * third) ** 2))
    if frame.forward:
        return {
            frame.origin: np.zeros(3),
            frame.right: np.array([right, 0.0, 0.0]),
            frame.third: np.array([along, aside, 0.0]),
        }
    up = third if network.about_mm.get(frame.third, (0.0, 0.0, 1.0))[2] >= 0 else -third
    rise = (right**2 + third**2 - across**2) / (2 * up) if across else 0.0
    reach = math.sqrt(max(right**2 - rise**2, (0.05 * right) ** 2))
    return {
        frame.origin: np.zeros(3),
        frame.right: np.array([reach, 0.0, rise]),
        frame.third: np.array([0.0, 0.0, up]),
    }


def _distance_mm(network: Network, one: str, other: str) -> float | None:
    read = [r.value_mm for r in network.readings if r.kind == "taped" and {r.start, r.end} == {one, other}]
    return sum(read) / len(read) if read else None


def _by_eye_mm(network: Network, name: str) -> float:
    return math.dist((0, 0, 0), network.about_mm.get(name, (500.0, 0.0, 0.0)))


def _between(network: Network, name: str, placed: dict[str, Any]) -> list[Reading]:
    """The readings between one point and those that are placed, the origin among them."""
    known = {*placed, ORIGIN}
    return [
        r for r in network.readings if name in (r.start, r.end) and (r.end if r.start == name else r.start) in known
    ]


def _held_by(network: Network, name: str, placed: dict[str, Any]) -> int:
    """How many different readings hold a point to those that are placed."""
    return len({(r.kind, r.start if r.end == name else r.end) for r in _between(network, name, placed)})


def _places(unknowns: Unknowns, way: dict[str, Any], name: str) -> list[Any]:
    """Where a point can be: reached from many starts by its own readings alone; by eye, the nearest of these."""
    network = unknowns.network
    readings = _between(network, name, way)
    about = network.about_mm.get(name)
    if not readings:
        return [np.array(about if about is not None else (0.0, 0.0, 0.0))]
    moved = _to_origin(readings, way, name)
    found: list[tuple[float, Any]] = []
    for start in _starts(readings, way, name, about):
        x = damped(lambda place: _one_point(moved, place), start)
        lacks, _ = _one_point(moved, x)
        squares = float(lacks @ lacks)
        if all(float(np.linalg.norm(x - other)) > SAME_MM for _, other in found):
            found.append((squares, x))
    found.sort(key=lambda each: each[0])
    if about is not None:
        good = [each for each in found if each[0] < found[0][0] + WORST**2]
        return [min((x for _, x in good), key=lambda x: float(np.linalg.norm(x - np.array(about))))]
    return [x for squares, x in found if squares < found[0][0] + WORST**2][:2]


Moved = list[tuple[Reading, Any, float]]  # a reading, where its other end is, and which way it counts


def _to_origin(readings: Sequence[Reading], way: dict[str, Any], name: str) -> Moved:
    ends = [(r, r.start if r.end == name else r.end, 1.0 if r.end == name else -1.0) for r in readings]
    return [(r, np.zeros(3) if other == ORIGIN else way[other], sign) for r, other, sign in ends]


def _starts(readings: Sequence[Reading], way: dict[str, Any], name: str, about: Any) -> list[Any]:
    """Starts on all sides of the points that a point is held to."""
    others = np.array([place for _, place, _ in _to_origin(readings, way, name)])
    middle = others.mean(0)
    size = max([abs(r.value_mm) for r in readings] + [1.0])
    starts = [middle + size * np.array(d) / math.sqrt(3) for d in itertools.product((1.0, -1.0), repeat=3)]
    if len(others) >= 3:
        normal = np.linalg.svd(others - middle)[2][2]
        starts += [middle + size * normal, middle - size * normal]
    return ([np.array(about)] if about is not None else []) + starts


def _one_point(moved: Moved, x: Any) -> tuple[Any, Any]:
    lacks, rows = [], []
    for reading, other, sign in moved:
        made, slope = made_by(reading, sign * (x - other))
        lacks.append((reading.value_mm - made) / reading.sigma_mm)
        rows.append(sign * slope / reading.sigma_mm)
    return np.array(lacks), np.array(rows)


def _thinned(unknowns: Unknowns, ways: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The ways that the readings among the placed points contradict least."""
    if len(ways) < 2:
        return ways
    network = unknowns.network
    known = {*ways[0], ORIGIN}
    readings = [r for r in network.readings if r.start in known and r.end in known]
    filler = {name: np.zeros(3) for name in network.points}
    squares = []
    for way in ways:
        lacks, _ = unknowns.system(_coordinates(network, filler | way), readings)
        squares.append(float(np.sum(np.minimum(np.abs(lacks), WORST) ** 2)))
    order = sorted(range(len(ways)), key=lambda k: squares[k])
    return [ways[k] for k in order if squares[k] <= squares[order[0]] + WORST**2][:MOST_WAYS]


def _as_a_whole(unknowns: Unknowns, way: dict[str, Any], todo: Sequence[str]) -> list[dict[str, Any]]:
    """Points that hold only each other, placed together: least squares from many starts, those that fit best."""
    network = unknowns.network
    random = Random(0)
    size = max([abs(r.value_mm) for r in network.readings] + [100.0])
    found: list[tuple[float, Any]] = []
    for _ in range(MOST_STARTS):
        guess = {
            name: np.array(
                network.about_mm.get(name) or tuple(random.uniform(-size, size) for _ in range(3)), dtype=float
            )
            for name in todo
        }
        fit = adjusted(unknowns, _coordinates(network, way | guess), network.readings)
        if all(float(np.abs(fit.x - other).max()) > SAME_MM for _, other in found):
            found.append((fit.squares, fit.x))
    found.sort(key=lambda each: each[0])
    best = found[0][0]
    kept = [x for squares, x in found if squares <= best + ALIKE][:MOST_WAYS]
    return [{name: unknowns.at(x, name) for name in todo} for x in kept]


def _told_apart(network: Network, fits: list[Fit]) -> list[Fit]:
    """Of fits to the same place one; of different ones those that fit as well as the best, and the eye as well."""
    kept: list[Fit] = []
    for fit in sorted(fits, key=lambda each: each.squares):
        if kept and fit.squares > kept[0].squares + ALIKE:
            break
        if all(float(np.abs(fit.x - other.x).max()) > SAME_MM for other in kept):
            kept.append(fit)
    off_mm = [sum(math.dist(fit.place_mm(name), eye) for name, eye in network.about_mm.items()) for fit in kept]
    return [fit for fit, off in zip(kept, off_mm, strict=True) if off <= min(off_mm) + SAME_MM]
