"""What the tables in ``data/`` hold, as frozen records; scalars are pint quantities.

A job may use a part that no table knows; then the same record is made from the job's own figures, and its
``source`` says so.
"""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from tubing.units import Quantity


class Tube(Struct, frozen=True):
    """One size of guide tube."""

    name: str
    diameter: Quantity  # outside
    wall: Quantity
    material: str
    least_radius: Quantity  # to the centre line
    single_flare: Quantity | None  # the shop's own flare diameter; None: from the flare table
    double_flare: Quantity | None
    stock: str  # name of the stock it is cut from: its own, unless it says otherwise
    source: str
    sure: str  # a key of SURE; J: the job's own figures
    yield_strength: Quantity | None = None  # with the modulus it gives an estimate of springback
    modulus: Quantity | None = None  # of elasticity

    @property
    def bore(self) -> Quantity:
        """Inside diameter."""
        bore: Quantity = self.diameter - 2 * self.wall
        return bore


class FlareRow(Struct, frozen=True):
    """One kind of flare on one tube diameter, as the table gives it."""

    tube_diameter: Quantity
    kind: str  # "single" or "double"
    half_angle: Quantity
    least_diameter: Quantity
    most_diameter: Quantity
    greatest_wall: Quantity | None  # None: the table gives none
    source: str
    sure: str


class Former(Struct, frozen=True):
    """What the tube is bent round."""

    name: str
    radius: Quantity  # to the tube's centre line
    grip: Quantity  # straight tube it must hold at each side of a bend
    source: str
    sure: str
    radius_is: Literal["former", "as bent"] = "former"  # what radius states: the former's own, or what it gives


class Motor(Struct, frozen=True):
    """A motor that pushes and pulls the rack."""

    name: str
    fixed_end: Quantity  # the nose's seat back to the rack's fixed end, at mid-stroke
    nut_length: Quantity
    pull: Quantity  # rating
    source: str
    sure: str
    rod: Quantity | None = None  # from the crank's pin to the rack's fixed end; None: taken as long
    rate: Quantity | None = None  # working speed; None: the least fast speed of the rule book


class Wheelbox(Struct, frozen=True):
    """A wheelbox model."""

    name: str
    rack_depth: Quantity  # seating face to the rack's centre
    pitch_radius: Quantity
    groove_offset: Quantity  # spindle axis to groove centre, along the rack
    mouth_offset: Quantity  # spindle axis to the end face
    groove_width: Quantity
    bush: Quantity  # diameter
    stem: Quantity  # length of the threaded stem beyond the seating face
    spacer: Quantity | None  # inner spacer that comes with it; None: the shop's default
    body: tuple[Quantity, Quantity, Quantity] | None  # along the rack, across it, along the spindle; None: not given
    source: str
    sure: str
    nut: Quantity | None = None  # length along the stem of the nut that holds it; None: not given
    washer: Quantity | None = None  # thickness of what lies under the nut, all together; None: not given

    @property
    def holds(self) -> Quantity:
        """How much of a tube lies inside the box, from its groove's centre to its end face."""
        result: Quantity = self.mouth_offset - self.groove_offset
        return result


class Arm(Struct, frozen=True):
    """An arm with its blade, as offered."""

    name: str
    length: Quantity  # spindle to blade's clip
    blade: Quantity  # length of the blade
    source: str
    sure: str


class Catalogue(Struct, frozen=True):
    """All tables, by name."""

    tubes: dict[str, Tube]
    flares: tuple[FlareRow, ...]
    formers: dict[str, Former]
    motors: dict[str, Motor]
    wheelboxes: dict[str, Wheelbox]
    arms: dict[str, Arm]
