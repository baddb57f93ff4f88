"""A network of readings to positions, or the error that says what to measure."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct

from tubing.errors import JobError
from tubing.measuring.adjustment import Fit
from tubing.measuring.doubt import DOUBTFUL, LEAST_CHECKED, judged, next_reading, snooped, without_gross
from tubing.measuring.mirror_images import images
from tubing.measuring.records import Judged, Network, NextReading, PlacedPoint, Reading

if TYPE_CHECKING:
    from tubing.geometry.vectors import Vector

LOOSE = 0.02  # share of a loose direction from which a point is named
LEAST_SINE = 0.05  # of the angle at a frame's origin: three degrees


class Measured(Struct, frozen=True, eq=False):
    """Where everything is, and how well that is known; two are equal when points and readings are."""

    points: tuple[PlacedPoint, ...]
    readings: tuple[Judged, ...]
    spare: int  # readings beyond what the positions need
    one_of: tuple[str, ...]  # readings of which one is wrong, not known which; empty: none is, or it is known
    fit: Fit

    def __eq__(self, other: object) -> bool:
        """Whether both have the same points and readings."""
        return isinstance(other, Measured) and (self.points, self.readings) == (other.points, other.readings)

    def __hash__(self) -> int:
        """By the points alone."""
        return hash(self.points)

    def at_mm(self, name: str) -> Vector:
        """Where a point is."""
        return self.fit.place_mm(name)

    def spread_mm2(self, name: str, axes: tuple[int, int]) -> tuple[float, float, float]:
        """A point's covariance along two axes: along the first, of both, along the second, [mm2]."""
        first, second = (self.fit.unknowns.place[name] + axis for axis in axes)
        of = self.fit.cofactors
        return float(of[first, first]), float(of[first, second]), float(of[second, second])

    def shares_mm(self, by_point: Mapping[str, Vector]) -> dict[str, float]:
        """What the error of each reading does to something that changes so with each point, [mm per mm]."""
        row = np.zeros(len(self.fit.x))
        for name, part in by_point.items():
            k = self.fit.unknowns.place[name]
            row[k : k + 3] += np.asarray(part)
        shares: dict[str, float] = {}
        for reading, effect in zip(self.fit.readings, (row @ self.fit.effects).tolist(), strict=True):
            shares[reading.called] = math.hypot(shares.get(reading.called, 0.0), effect * reading.error_mm)
        return shares

    def next_reading(self, pieces: Mapping[str, Mapping[str, Vector]], error_mm: float) -> NextReading | None:
        """The distance worth taping next; ``pieces``: how each piece's length changes with each point, [mm per mm]."""
        return next_reading(self.fit, pieces, error_mm / 2)


def measured(network: Network, thing: str) -> Measured:
    """Positions of all points; ``thing`` names the job in an error.

    Raises JobError: points that may still move, mirror images that nothing decides, readings that cannot all be right
    and are too few to tell which is wrong, a frame whose points lie on a line. Each says what to add.
    """
    fits = images(network)
    _check_frame(fits[0], thing)
    _check_held(fits[0], thing)
    fit, aside, unplaced = snooped(without_gross(fits[0]), network.readings)
    _check_held(fit, thing)
    _check_meets(fit, thing)
    if len(fits) > 1:
        raise _mirrored(fits[0], fits[1], thing)
    return Measured(
        points=tuple(PlacedPoint(name, fit.place_mm(name), fit.sure_mm(name)) for name in network.points),
        readings=tuple(judged(fit, network.readings, aside, unplaced)),
        spare=fit.spare,
        one_of=tuple(reading.called for reading in unplaced),
        fit=fit,
    )


def _check_held(fit: Fit, thing: str) -> None:
    """Raise JobError for points that can move without a reading noticing; by rank, not by count."""
    if not len(fit.loose):
        return
    network = fit.unknowns.network
    moves = {name: float(np.abs(fit.loose[:, fit.unknowns.place[name] :][:, :3]).max()) for name in network.points}
    free = [name for name in network.points if moves[name] > LOOSE]
    if network.frame is None and len(free) == len(network.points) > 1:
        raise JobError(
            f"{thing}, positions",
            "nothing says where the measured points lie in the vehicle",
            "three of them must be given in coordinates, or there must be a [frame]",
            "add [frame] with origin, right and forward (or up), each the name of a point",
        )
    name = free[0] if free else network.points[0]
    _check_meet(fit, thing, range(len(fit.readings)), name)  # distances that fall short leave a point loose too
    count = sum(name in (r.start, r.end) for r in fit.readings)
    others = f" (so are {', '.join(free[1:])})" if len(free) > 1 else ""
    raise JobError(
        f"{thing}, point {name!r}",
        f"its {count} {'reading leaves' if count == 1 else 'readings leave'} it free to move{others}",
        "three distances to points that lie neither on a line nor in one plane with it hold a point",
        "tape it from one point more, or level it from one with [[offset]]",
    )


def _check_frame(fit: Fit, thing: str) -> None:
    frame = fit.unknowns.network.frame
    if frame is None:
        return
    right, third = fit.place_mm(frame.right), fit.place_mm(frame.third)
    size = math.hypot(*right) * math.hypot(*third)
    aside = np.cross(np.array(right), np.array(third))
    sine = float(np.linalg.norm(aside)) / size if size > 0 else 0.0
    if sine < LEAST_SINE:
        raise JobError(
            f"{thing}, frame",
            f"{frame.origin!r}, {frame.right!r} and {frame.third!r} lie on a line",
            "the three points must span a plane",
            "take another point that lies well aside of the line through the other two",
        )


def _check_meets(fit: Fit, thing: str) -> None:
    """Raise JobError where readings contradict each other and none of them is checked by others."""
    _check_meet(fit, thing, [k for k, share in enumerate(fit.redundancy) if share < LEAST_CHECKED])


def _check_meet(fit: Fit, thing: str, places: Iterable[int], point: str | None = None) -> None:
    """Raise JobError for the first of these readings that is off by more than chance; ``point``: only those to it."""
    for k in places:
        reading, residual = fit.readings[k], float(fit.residuals_mm[k])
        if abs(residual) > DOUBTFUL * reading.sigma_mm and point in (None, reading.start, reading.end):
            meets = point or reading.end
            raise JobError(
                f"{thing}, {reading.called}",
                f"with the others it cannot be right: they miss each other by {abs(residual):.1f} mm or more",
                f"the distances to {meets} must meet in one place",
                f"measure {_listed(_touching(fit.readings, meets))} again",
            )


def _touching(readings: Sequence[Reading], point: str) -> list[str]:
    return [reading.called for reading in readings if point in (reading.start, reading.end)]


def _mirrored(one: Fit, other: Fit, thing: str) -> JobError:
    """The error of a network with two images: the points that have two places, and where these are."""
    names = one.unknowns.network.points
    apart = {name: math.dist(one.place_mm(name), other.place_mm(name)) for name in names}
    moved = [name for name in names if apart[name] > 1.0]
    name = max(moved, key=lambda n: apart[n])
    others = f", and with it {_listed([n for n in moved if n != name])}" if len(moved) > 1 else ""
    return JobError(
        f"{thing}, point {name!r}",
        f"it may lie at {_point(one.place_mm(name))} or, as in a mirror, at {_point(other.place_mm(name))}{others}",
        "distances alone never tell the two apart",
        f"say roughly where it is with about = [..., ..., ...], or level {name} with [[offset]]",
    )


def _point(place_mm: Vector) -> str:
    return "(" + ", ".join(f"{part:.0f}" for part in place_mm) + ") mm"


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names[:-1]) + " and " + names[-1] if len(names) > 1 else names[0]
