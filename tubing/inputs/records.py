"""What a job file and a shop file say, as frozen records.

Scalars are pint quantities. Points are tuples of floats in mm, directions unit vectors, both in the vehicle's frame:
x to the right, y forward, z up, as seen from the driver's seat.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from msgspec import Struct, field

from tubing.inputs.catalogue import Catalogue, Former, Motor, Tube, Wheelbox
from tubing.units import Quantity

Vector = tuple[float, float, float]
Point2 = tuple[float, float]
Flare = Literal["single", "double", "plain"]


class Nose(Struct, frozen=True):
    """The motor's nose: where the rack leaves the motor."""

    model: Motor
    position_mm: Vector  # its seat
    heading: Vector


class Mounting(Struct, frozen=True):
    """One wheelbox on the vehicle."""

    name: str
    model: Wheelbox
    hole_mm: Vector  # where the spindle axis leaves the panel's outer face
    spindle: Vector  # out of the panel
    panel: Vector | None  # the panel's normal, outwards; None: taken along the spindle
    panel_thickness: Quantity
    spacer: Quantity
    heading: Vector | None  # None: left free; not yet made perpendicular to the spindle
    side: int | None  # +1 the rack passes on the right, -1 on the left; None: left free


class TubeBetween(Struct, frozen=True):
    """What the fitter says of one tube."""

    start: str  # "nose" or a wheelbox
    end: str  # a wheelbox, or "end"
    corners_mm: tuple[Vector, ...] = ()
    measured: Quantity | None = None  # along a wire from mouth to mouth
    bends: tuple[Quantity, ...] = ()  # angles of a measured tube
    start_flare: Flare | None = None  # None: the default of that end
    end_flare: Flare | None = None


class Tail(Struct, frozen=True):
    """Where the tail tube goes; both empty: straight on."""

    toward: Vector | None = None
    corners_mm: tuple[Vector, ...] = ()


class Box(Struct, frozen=True):
    """A box about ``centre_mm``, turned about x, then y, then z of the vehicle's frame."""

    centre_mm: Vector
    size_mm: Vector
    turned_rad: Vector = (0.0, 0.0, 0.0)


class Cylinder(Struct, frozen=True):
    """A cylinder with flat ends."""

    start_mm: Vector
    end_mm: Vector
    radius_mm: float


class Sphere(Struct, frozen=True):
    """A sphere."""

    centre_mm: Vector
    radius_mm: float


class Obstacle(Struct, frozen=True):
    """Something in the way."""

    name: str
    shape: Box | Cylinder | Sphere
    clearance: Quantity


class Cut(Struct, frozen=True):
    """What was really cut for a piece."""

    piece: str
    length: Quantity
    ready: tuple[str, ...] = ()  # ports at whose ends the bar's own flare was used


class Screen(Struct, frozen=True):
    """The glass, developed flat: x to the driver's right, y up the glass, mm."""

    outline_mm: tuple[Point2, ...]
    zones_mm: dict[str, tuple[Point2, ...]] = field(default_factory=dict)
    pivots_mm: dict[str, Point2] | None = None  # None: the holes projected on ``plane_mm``
    plane_mm: tuple[Vector, ...] | None = None  # three points or more; of more the plane nearest to them


class FittedArm(Struct, frozen=True):
    """An arm and blade on a wheelbox; lengths left out are searched."""

    on: str
    length: Quantity | None
    blade: Quantity | None
    crank: Quantity  # angle of the blade to the arm
    parked: Quantity | None  # the arm's angle at park from the screen's x axis


class Job(Struct, frozen=True):
    """One vehicle."""

    title: str
    layout: str  # planned when none is asked for
    layouts: dict[str, tuple[str, ...]]  # names of wheelboxes in order from the motor
    tube: Tube
    former: Former
    motion: Literal["tandem", "opposed"]
    order: Literal["written", "free"]
    sweep: Quantity
    park: Literal["left", "right"]
    nose: Nose
    mountings: dict[str, Mounting]
    between: tuple[TubeBetween, ...] = ()
    tail: Tail = Tail()
    in_the_way: tuple[Obstacle, ...] = ()
    measuring_error: Quantity | None = None
    cuts: tuple[Cut, ...] = ()
    screen: Screen | None = None
    arms: tuple[FittedArm, ...] = ()


class ListedPiece(Struct, frozen=True):
    """One row of a plain list of pieces to cut."""

    piece: str
    length: Quantity
    quantity: int
    size: str | None  # the tube; None: the list does not say
    line: int  # of the file


class Bench(Struct, frozen=True):
    """What the workshop's tools need and leave."""

    flare_grip: Quantity
    cut_step: Quantity
    kerf: Quantity
    end_trim: Quantity
    springback: float  # degrees to add per degree of bend
    rack_least_radius: Quantity
    fit_up_distance: Quantity
    fit_up_angle: Quantity
    clearance: Quantity
    panel_thickness: Quantity
    spacer: Quantity
    clip_spacing: Quantity
    wedge: Quantity  # angle that wedge spacers are cut to
    single_consumes: Quantity | None  # as measured on the shop's own tool; None: by formula
    double_consumes: Quantity | None


class Rack(Struct, frozen=True):
    """The flexible toothed rack."""

    diameter: Quantity
    tooth_pitch: Quantity


class ReadyEnd(Struct, frozen=True):
    """An end of a stock bar that comes flared."""

    flare: Flare
    nut: bool


class StockBar(Struct, frozen=True):
    """A length of tube that the shop buys, or an offcut on its shelf (``on_shelf``)."""

    tube: str
    length: Quantity
    price_cents: int  # an offcut on the shelf: what it is worth if it is left whole
    bars: int | None  # how many there are; None: without limit
    ready_ends: tuple[ReadyEnd, ...] = ()
    on_shelf: bool = False
    source: str = "shop"


class Offcuts(Struct, frozen=True):
    """Which offcuts are kept, and what they are worth."""

    keep_from: Quantity
    value_cents_per_metre: Fraction


class Minutes(Struct, frozen=True):
    """Time per operation."""

    cut: Quantity
    single_flare: Quantity
    double_flare: Quantity
    bend: Quantity
    hole: Quantity
    assembly: Quantity  # per wheelbox


class Price(Struct, frozen=True):
    """What one item costs; ``unit`` is "each" or "m"."""

    item: str
    amount: Fraction
    unit: str
    source: str


class Money(Struct, frozen=True):
    """How the shop charges; percentages as fractions (0.2 is 20 %)."""

    currency: str
    rate: Fraction  # per hour
    margin: Fraction
    tax: Fraction
    tube_by: Literal["bars", "metre"]
    prices: dict[str, Price]
    consumables: Fraction  # per job


class DriveSettings(Struct, frozen=True):
    """Allowances and frictions of the drive."""

    friction: float
    engagement: Quantity
    margin: Quantity | None  # of rack beyond the engagement, pulled in; None: by common practice
    tip_clearance: Quantity
    blade_load: Quantity  # force per length of blade
    rubber_wet: float  # friction of blade on glass
    rubber_dry: float
    measured_pull: Quantity | None  # pull at the motor as measured; None: by the capstan relation


class Shop(Struct, frozen=True):
    """What belongs to the workshop, not to the vehicle."""

    bench: Bench
    rack: Rack
    stock: tuple[StockBar, ...]  # new bars and the shelf's offcuts
    offcuts: Offcuts
    minutes: Minutes
    money: Money
    drive: DriveSettings
    catalogue: Catalogue
