"""A run and its tubes, decided."""

from __future__ import annotations

import math
from collections.abc import Iterable

from msgspec import Struct

from tubing.centreline.between import Laid, PortAt
from tubing.geometry.quick_look import BEND_RAD
from tubing.inputs.records import Flare
from tubing.run.placing import PlacedBox


class Measured(Struct, frozen=True):
    """A tube that the fitter laid out with a wire: its length is known, its shape is not."""

    length_mm: float  # along the centre line from datum to datum
    bends_rad: tuple[float, ...]


class RunTube(Struct, frozen=True):
    """One tube of the run."""

    start: PortAt
    end: PortAt
    flares: tuple[Flare, Flare]  # at its start and its end
    shape: Laid | Measured

    @property
    def ports(self) -> tuple[str, str]:
        """The names of the ports at its start and its end."""
        return self.start.name, self.end.name

    @property
    def id(self) -> str:
        """The piece's name, such as ``nose-near``."""
        return "-".join(self.ports)

    @property
    def length_mm(self) -> float:
        """Along the centre line from datum to datum."""
        return self.shape.line.length_mm if isinstance(self.shape, Laid) else self.shape.length_mm

    @property
    def bend_angles_rad(self) -> tuple[float, ...]:
        """Its bends' angles in order from its start."""
        if isinstance(self.shape, Laid):
            return tuple(bend.angle_rad for bend in self.shape.line.bends)
        return self.shape.bends_rad

    @property
    def cost(self) -> RunCost:
        """What it is chosen by."""
        pulled_rad = self.shape.pull_in.angle_rad if isinstance(self.shape, Laid) else 0.0
        return RunCost(len(self.bend_angles_rad), math.fsum(self.bend_angles_rad) + pulled_rad, self.length_mm)


class RunCost(Struct, frozen=True):
    """What a tube or a run is chosen by; compared in this order."""

    bends: int
    turn_rad: float  # of the bends, and of what is pulled into place by hand
    length_mm: float

    @property
    def weight(self) -> int:
        """One whole number that orders as (bends, turn, length) do, turn to 1e-7 rad, length to 1e-4 mm."""
        return self.bends * 10**30 + round(self.turn_rad * 1e7) * 10**15 + round(self.length_mm * 1e4)

    @property
    def rough_rad(self) -> float:
        """Bends and turn in one number, [rad], a bend counting as :data:`tubing.geometry.quick_look.BEND_RAD`."""
        return self.bends * BEND_RAD + self.turn_rad


def total_cost(tubes: Iterable[RunTube]) -> RunCost:
    """The tubes' costs added."""
    costs = [tube.cost for tube in tubes]
    return RunCost(
        sum(c.bends for c in costs), math.fsum(c.turn_rad for c in costs), math.fsum(c.length_mm for c in costs)
    )


class Run(Struct, frozen=True):
    """The whole guide tube, decided."""

    boxes: tuple[PlacedBox, ...]  # in order from the motor
    tubes: tuple[RunTube, ...]  # the last one is the tail tube
    cost: RunCost
    free: tuple[str, ...]  # what the program chose: "order", "side", "heading of NAME"
    next_best: RunCost | None  # of the best run that chooses otherwise; None: there was no other
