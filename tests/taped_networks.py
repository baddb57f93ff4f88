"""Networks made up by chance: points of a vehicle's front, taped from marks, in the frame that three of them fix."""

from __future__ import annotations

import itertools
from random import Random

import numpy as np
from scipy.spatial.transform import Rotation

from tubing.geometry.vectors import Vector
from tubing.measuring import Frame, Network, Reading

MARKS = ("left", "right", "slam", "strut")


def places(seed: int, points: int) -> dict[str, Vector]:
    """Four marks and so many points, in no particular frame."""
    random = Random(seed)
    near = {
        "left": (0.0, 0.0, 0.0),
        "right": (1300.0, 20.0, -10.0),
        "slam": (600.0, 620.0, -60.0),
        "strut": (120.0, 300.0, 260.0),
    }
    found = {name: tuple(c + random.uniform(-40, 40) for c in place) for name, place in near.items()}
    for k in range(points):
        found[f"p{k}"] = (random.uniform(-100, 1300), random.uniform(-100, 400), random.uniform(-250, 200))
    return found


def network(
    seed: int, points: int = 3, noise_mm: float = 0.0, error_mm: float = 2.0
) -> tuple[Network, dict[str, Vector]]:
    """Marks taped with each other, every point from all four marks and its neighbour; and the true places.

    The true places stand in the frame of left, right and slam; up is where the strut mark is.
    """
    random, true = Random(seed + 7919), in_frame(places(seed, points))
    pairs = list(itertools.combinations(MARKS, 2))
    pairs += [(mark, f"p{k}") for k in range(points) for mark in MARKS]
    pairs += [(f"p{k}", f"p{k + 1}") for k in range(points - 1)]
    readings = tuple(
        Reading(
            a, b, "taped", float(np.linalg.norm(np.subtract(true[a], true[b]))) + random.gauss(0, noise_mm), error_mm
        )
        for a, b in pairs
    )
    about = {"strut": (100.0, 300.0, 250.0)}
    return Network(tuple(true), readings, Frame("left", "right", "slam"), about), true


def in_frame(found: dict[str, Vector]) -> dict[str, Vector]:
    """The same places, left as origin, right along x, slam in the level plane."""
    origin, right, slam = (np.array(found[name]) for name in ("left", "right", "slam"))
    x = (right - origin) / np.linalg.norm(right - origin)
    y = slam - origin - ((slam - origin) @ x) * x
    y /= np.linalg.norm(y)
    axes = np.array([x, y, np.cross(x, y)])
    return {name: tuple((axes @ (np.array(place) - origin)).tolist()) for name, place in found.items()}


def carried(found: dict[str, Vector], seed: int) -> dict[str, Vector]:
    """The same places, turned and moved."""
    turn = Rotation.random(rng=seed)
    return {name: tuple((turn.apply(place) + np.array([300.0, -80.0, 45.0])).tolist()) for name, place in found.items()}
