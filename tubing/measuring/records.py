"""What was measured: named points, tape readings between them, and offsets along the vehicle's axes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from msgspec import Struct

if TYPE_CHECKING:
    from tubing.geometry.vectors import Vector


Kind = Literal["taped", "right", "forward", "up"]
AXES: tuple[Kind, ...] = ("right", "forward", "up")
ORIGIN = ""  # the name of the vehicle's origin, where no point of the job is it


class Reading(Struct, frozen=True):
    """One number that was read: a distance between two points, or how far the second lies along an axis."""

    start: str
    end: str
    kind: Kind
    value_mm: float
    error_mm: float  # it may be out by so much, either way

    @property
    def sigma_mm(self) -> float:
        """Standard deviation: half of what it may be out by."""
        return self.error_mm / 2

    @property
    def called(self) -> str:
        """What it is in a sentence."""
        start = self.start or "the origin"
        return f"tape from {start} to {self.end}" if self.kind == "taped" else f"{self.kind} from {start} to {self.end}"


class Frame(Struct, frozen=True):
    """Three points that fix the vehicle's axes: the origin, one to the right of it, and one that fixes the level.

    ``forward``: the third lies forward of the line through the first two, in the level plane. Else it lies straight up
    from the origin, or down, and the second one only fixes where right is.
    """

    origin: str
    right: str
    third: str
    forward: bool = True


class Network(Struct, frozen=True):
    """All points and readings of a job."""

    points: tuple[str, ...]  # without the origin
    readings: tuple[Reading, ...]
    frame: Frame | None = None
    about_mm: dict[str, Vector] = {}  # roughly where a point is, by eye


class PlacedPoint(Struct, frozen=True):
    """Where a point is."""

    name: str
    at_mm: Vector
    sure_mm: float  # it lies within this, in the worst direction, 19 times in 20


class Judged(Struct, frozen=True):
    """A reading, held against all others."""

    reading: Reading
    residual_mm: float  # what it would have to be longer to agree with the others
    checked: float  # 0: nothing else says what it should be; 1: the others say it all
    deviation: float  # of the residual from nothing, in its own standard deviations; 0 where nothing checks it
    doubtful: bool
    blunder_mm: float | None  # by how much it seems to be wrong; None: it is not doubtful

    @property
    def others_mm(self) -> float:
        """What the others make of it."""
        return self.reading.value_mm + self.residual_mm


class NextReading(Struct, frozen=True):
    """The reading worth taking next, and what it would do for the least sure piece."""

    start: str
    end: str
    piece: str
    sure_now_mm: float
    sure_then_mm: float
