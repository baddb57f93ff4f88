"""The most likely positions by weighted least squares, how sure they are, and how each reading fits.

Row:        how a reading changes with the unknown coordinates.
Residual:   adjusted less read.
Redundancy: of a reading, how much the others say what it should be, 0 to 1; their sum is how many are to spare.

Sources: P. R. Wolf and C. D. Ghilani, Adjustment Computations; W. Baarda, A Testing Procedure for Use in Geodetic
Networks, 1968 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from msgspec import Struct

from tubing.measuring.records import AXES, ORIGIN, Network, Reading

if TYPE_CHECKING:
    from tubing.geometry.vectors import Vector

ROUNDS = 60
SETTLED_MM = 1e-10
FLAT = 1e-7  # of the largest singular value: what is below cannot be told
MOST_DAMPING = 1e12
NOTHING_MM = 1e-9  # two points nearer than this have no direction between them


def made_by(reading: Reading, way: Any) -> tuple[float, Any]:
    """What a reading would be over this way from its start to its end, [mm], and how it changes with the end."""
    if reading.kind != "taped":
        slope = np.eye(3)[AXES.index(reading.kind)]
        return float(way @ slope), slope
    made = float(np.linalg.norm(way))
    return made, way / made if made > NOTHING_MM else np.zeros(3)


class Unknowns:
    """The coordinates to be found: three a point, but for those that the frame holds at nothing."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.place = {name: 3 * k for k, name in enumerate(network.points)}
        held: set[int] = set()
        frame = network.frame
        if frame is not None:
            origin, right, third = (self.place[name] for name in (frame.origin, frame.right, frame.third))
            held = {origin, origin + 1, origin + 2}
            held |= {right + 1, right + 2, third + 2} if frame.forward else {right + 1, third, third + 1}
        self.free = np.array([k for k in range(3 * len(network.points)) if k not in held], dtype=int)

    def at(self, x: Any, name: str) -> Any:
        """Where a point is, of all coordinates."""
        return np.zeros(3) if name == ORIGIN else x[self.place[name] : self.place[name] + 3]

    def system(self, x: Any, readings: Sequence[Reading]) -> tuple[Any, Any]:
        """What each reading lacks of what the coordinates make it, and its row; both over its standard deviation."""
        rows = np.zeros((len(readings), len(x)))
        lacks = np.zeros(len(readings))
        for k, reading in enumerate(readings):
            way = self.at(x, reading.end) - self.at(x, reading.start)
            made, slope = made_by(reading, way)
            lacks[k] = (reading.value_mm - made) / reading.sigma_mm
            for name, sign in ((reading.end, 1.0), (reading.start, -1.0)):
                if name != ORIGIN:
                    rows[k, self.place[name] : self.place[name] + 3] += sign * slope / reading.sigma_mm
        return lacks, rows[:, self.free]


class Fit(Struct, frozen=True, eq=False):
    """The coordinates that the readings agree best on."""

    unknowns: Unknowns
    readings: tuple[Reading, ...]
    x: Any  # all coordinates, [mm]
    cofactors: Any  # of all coordinates, [mm2]: their covariance, as the readings' errors state it
    effects: Any  # (coordinates, readings): how far a coordinate moves for 1 mm of a reading
    residuals_mm: Any
    redundancy: Any  # of each reading
    loose: Any  # (directions, coordinates): ways to move points that change no reading

    @property
    def spare(self) -> int:
        """How many readings are to spare."""
        return round(float(self.redundancy.sum()))

    @property
    def squares(self) -> float:
        """The weighted sum of squared residuals."""
        return float(sum((v / r.sigma_mm) ** 2 for v, r in zip(self.residuals_mm, self.readings, strict=True)))

    def place_mm(self, name: str) -> Vector:
        """Where a point is."""
        x, y, z = (float(c) for c in self.unknowns.at(self.x, name))
        return x, y, z

    def sure_mm(self, name: str) -> float:
        """A point lies within this, in the worst direction, 19 times in 20."""
        if name == ORIGIN:
            return 0.0
        k = self.unknowns.place[name]
        return 2 * float(np.sqrt(max(0.0, np.linalg.eigvalsh(self.cofactors[k : k + 3, k : k + 3])[-1])))

    def deviations(self) -> Any:
        """Each residual in its own standard deviations; 0 where nothing checks the reading."""
        sigmas = np.array([reading.sigma_mm for reading in self.readings])
        checked = self.redundancy > 1e-6
        return np.where(checked, self.residuals_mm / (sigmas * np.sqrt(np.where(checked, self.redundancy, 1.0))), 0.0)


def adjusted(unknowns: Unknowns, start: Any, readings: Sequence[Reading]) -> Fit:
    """The fit that is reached from a start, all coordinates in mm; points that no reading holds stay where they are."""
    x = _settled(unknowns, start, readings)
    lacks, rows = unknowns.system(x, readings)
    thin, square = np.linalg.qr(rows)
    left, sizes, right = np.linalg.svd(square, full_matrices=True)
    left = thin @ left
    rank = int((sizes > FLAT * max(1e-300, sizes[0] if len(sizes) else 0.0)).sum())
    inverse = right[:rank].T / sizes[:rank]
    free, count = unknowns.free, len(x)
    cofactors = np.zeros((count, count))
    cofactors[np.ix_(free, free)] = inverse @ inverse.T
    sigmas = np.array([reading.sigma_mm for reading in readings])
    effects = np.zeros((count, len(readings)))
    effects[free] = (inverse @ left[:, :rank].T) / sigmas
    loose = np.zeros((len(free) - rank, count))
    loose[:, free] = right[rank:]
    redundancy = 1 - (left[:, :rank] ** 2).sum(1)
    return Fit(unknowns, tuple(readings), x, cofactors, effects, -lacks * sigmas, np.clip(redundancy, 0.0, 1.0), loose)


def _settled(unknowns: Unknowns, start: Any, readings: Sequence[Reading]) -> Any:
    """All coordinates, those settled that are free."""
    x = np.array(start, dtype=float)

    def system(free: Any) -> tuple[Any, Any]:
        x[unknowns.free] = free
        return unknowns.system(x, readings)

    x[unknowns.free] = damped(system, x[unknowns.free])
    return x


def damped(system: Callable[[Any], tuple[Any, Any]], x: Any) -> Any:
    """Where the sum of squares is least: Gauss and Newton, damped while a step makes it larger.

    ``system`` gives what is lacking at a place, and the rows. Source: Levenberg and Marquardt (from memory).
    """
    x, damping = np.array(x, dtype=float), 0.0
    lacks, rows = system(x)
    for _ in range(ROUNDS):
        normal = rows.T @ rows
        scale = np.diag(np.maximum(np.diag(normal), 1e-12))
        step = np.linalg.lstsq(normal + damping * scale, rows.T @ lacks, rcond=1e-13)[0]
        lacks_there, rows_there = system(x + step)
        if lacks_there @ lacks_there <= lacks @ lacks * (1 + 1e-12) + 1e-18:
            x, lacks, rows, damping = x + step, lacks_there, rows_there, damping / 10 if damping > 1e-9 else 0.0
            if float(np.abs(step).max(initial=0.0)) < SETTLED_MM:
                break
        else:
            damping = max(1e-4, damping * 10)
            if damping > MOST_DAMPING:
                break
    return x
