"""What a job file and a shop file say, as frozen records.

Scalars are pint quantities. Points are tuples of floats in mm, directions unit vectors, both in the vehicle's frame:
x to the right, y forward, z up, as seen from the driver's seat. A ``FromFile`` is also the section of the file: its
fields are the keys. The others are put together from a section, the tables and the shop's defaults.
"""

from __future__ import annotations

import math
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING, Annotated, Literal

from msgspec import Struct, field
from pydantic import Field

from tubing.geometry.vectors import Vector, add, angle_rad
from tubing.inputs.catalogue import Catalogue, Former, Motor, Tube, Wheelbox
from tubing.inputs.fields import (
    Amount,
    Angle,
    Count,
    Direction,
    Friction,
    Name,
    Names,
    Point,
    PointOnGlass,
    Springback,
    TupleOf,
    in_mm,
    of,
)
from tubing.inputs.from_file import FromFile
from tubing.inputs.point_lists import Corners, Outline, PointsOfPlane
from tubing.units import Quantity, exact_mm, mm, quantity

if TYPE_CHECKING:  # it takes time to load, and few jobs tape
    from tubing.inputs.taped_points import Taped

Flare = Literal["single", "double", "plain"]


class Nose(Struct, frozen=True):
    """The motor's nose: where the rack leaves the motor."""

    model: Motor
    position_mm: Vector  # its seat
    heading: Vector


class Seat(Struct, frozen=True):
    """What a wheelbox's ports count from."""

    rack_centre_mm: Vector  # the point of the spindle axis that is level with the rack's centre line: h - D a
    pitch_radius_mm: float
    groove_offset_mm: float


class Mounting(Struct, frozen=True, dict=True):
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

    @property
    def lean_rad(self) -> float:
        """Angle between the panel's normal and the spindle, [rad]; 0 where the panel is not given."""
        return 0.0 if self.panel is None else angle_rad(self.panel, self.spindle)

    @cached_property
    def seat(self) -> Seat:
        """Worked out once, since a search asks for it thousands of times and units take time."""
        depth_mm = mm(self.model.rack_depth) + mm(self.spacer) + mm(self.panel_thickness) / math.cos(self.lean_rad)
        centre = add(self.hole_mm, self.spindle, -depth_mm)
        return Seat(centre, mm(self.model.pitch_radius), mm(self.model.groove_offset))


class Ends(FromFile, frozen=True):
    """The flares that a fitter asks for; None: the usual one of that end."""

    start: Annotated[Flare | None, Field(alias="from")] = None
    end: Annotated[Flare | None, Field(alias="to")] = None


class TubeBetween(FromFile, frozen=True):
    """[[tube_between]]: what the fitter says of one tube."""

    start: Annotated[Name, Field(alias="from")]  # "nose" or a wheelbox
    end: Annotated[Name, Field(alias="to")]  # a wheelbox, or "end"
    corners_mm: Annotated[Corners, Field(alias="corners")] = ()
    measured: Annotated[Quantity, of("length of a wire")] | None = None  # from mouth to mouth
    bends: Annotated[tuple[Quantity, ...], TupleOf(Annotated[Quantity, of("angle of a bend")])] | None = (
        None  # of a measured tube
    )
    ends: Ends = Ends()


class Tail(FromFile, frozen=True):
    """[tail]: where the tail tube goes; both empty: straight on."""

    toward: Direction | None = None
    corners_mm: Annotated[Corners, Field(alias="corners")] = ()


class Box(Struct, frozen=True):
    """A box about ``centre_mm``, turned about x, then y, then z of the vehicle's frame."""

    centre_mm: Vector
    size_mm: Vector
    turned_rad: Vector = (0.0, 0.0, 0.0)


class Cylinder(FromFile, frozen=True):
    """A cylinder with flat ends."""

    start_mm: Annotated[Point, Field(alias="from")]
    end_mm: Annotated[Point, Field(alias="to")]
    radius_mm: Annotated[float, in_mm("size of a thing"), Field(alias="radius")]


class Sphere(FromFile, frozen=True):
    """A sphere."""

    centre_mm: Annotated[Point, Field(alias="centre")]
    radius_mm: Annotated[float, in_mm("size of a thing"), Field(alias="radius")]


class Obstacle(Struct, frozen=True):
    """Something in the way."""

    name: str
    shape: Box | Cylinder | Sphere
    clearance: Quantity


class Cut(FromFile, frozen=True):
    """[[cut]]: what was really cut for a piece."""

    piece: Name
    length: Annotated[Quantity, of("length of a piece")]
    ready: Names = ()  # ports at whose ends the bar's own flare was used
    bent: bool = False
    flared: Names = ()  # ports at whose ends a flare was made since
    trimmed: Annotated[Quantity | None, of("length trimmed off")] = None  # in place, since it was cut

    @property
    def left(self) -> Quantity:
        """What is left of the length that was cut, once it was trimmed."""
        return self.length if self.trimmed is None else self.length - self.trimmed


class Done(FromFile, frozen=True):
    """[done]: what is finished on the vehicle."""

    rack_cut: bool = False
    fixed: Names = ()  # "motor" and wheelboxes


class Screen(FromFile, frozen=True):
    """[screen]: the glass, developed flat: x to the driver's right, y up the glass, mm."""

    outline_mm: Annotated[Outline, Field(alias="outline")]
    zones_mm: Annotated[dict[str, Outline], Field(alias="zones")] = field(default_factory=dict)
    pivots_mm: Annotated[dict[str, PointOnGlass] | None, Field(alias="pivots")] = None  # None: projected on the plane
    plane_mm: Annotated[PointsOfPlane | None, Field(alias="plane")] = None  # of more than three the nearest plane


class FittedArm(FromFile, frozen=True, kw_only=True):
    """[[arm]]: an arm and blade on a wheelbox; lengths left out are searched."""

    on: Name
    length: Annotated[Quantity, of("arm")] | None = None
    blade: Annotated[Quantity, of("blade")] | None = None
    crank: Angle  # of the blade to the arm
    parked: Angle | None = None  # the arm's angle at park from the screen's x axis


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
    taped: Taped | None = None  # where positions come from readings of a tape
    formers: tuple[Former, ...] = ()  # those to be tried, where the job leaves it open
    vehicles: int = 1  # alike, to be fitted by this job
    done: Done = Done()


class ListedPiece(Struct, frozen=True):
    """One row of a plain list of pieces to cut."""

    piece: str
    length: Quantity
    quantity: int
    size: str | None  # the tube; None: the list does not say
    line: int  # of the file


class FitUp(FromFile, frozen=True):
    """How far a tube is pulled into place by hand."""

    distance: Annotated[Quantity, of("fit-up distance")] = quantity(3, "mm")
    angle: Annotated[Quantity, of("fit-up angle")] = quantity(2, "deg")


class Bench(FromFile, frozen=True, kw_only=True):
    """[bench]: what the workshop's tools need and leave."""

    flare_grip: Annotated[Quantity, of("flaring tool's grip")] = quantity(25, "mm")
    cut_step: Annotated[Quantity, of("step of the rule")] = quantity(Fraction(1, 2), "mm")
    kerf: Annotated[Quantity, of("kerf")]
    end_trim: Annotated[Quantity, of("end trim")]
    springback: Springback  # degrees to add per degree of bend
    rack_least_radius: Annotated[Quantity, of("least radius of a rack")] = quantity(229, "mm")
    fit_up: FitUp = FitUp()
    greatest_bend: Annotated[Quantity, of("greatest bend")] = quantity(135, "deg")  # that the bender reaches at once
    clearance: Annotated[Quantity, of("clearance")]
    panel_thickness: Annotated[Quantity, of("panel thickness")]
    spacer: Annotated[Quantity, of("spacer")]
    clip_spacing: Annotated[Quantity, of("clip spacing")]
    wedge: Annotated[Quantity, of("angle of a wedge")] = quantity(45, "deg")  # that wedge spacers are cut to


class TrialBend(FromFile, frozen=True):
    """[[trial_bend]]: a bend made to see how far it springs back."""

    tube: Name
    former: Name
    set: Annotated[Quantity, of("angle of a bend")]  # how far the bender was turned
    got: Annotated[Quantity, of("angle of a bend")]  # what stayed, off the former


class TrialFlare(FromFile, frozen=True):
    """[[trial_flare]]: a flare made to see how much tube it takes."""

    tube: Name
    kind: Literal["single", "double"]
    before: Annotated[Quantity, of("length of a piece")]  # the blank
    after: Annotated[Quantity, of("length of a piece")]  # from the rim to the other end

    @property
    def consumed_mm(self) -> Fraction:
        """What the flare took, exact."""
        return exact_mm(self.before) - exact_mm(self.after)


class Rack(FromFile, frozen=True):
    """[rack]: the flexible toothed rack."""

    diameter: Annotated[Quantity, of("rack diameter")]
    tooth_pitch: Annotated[Quantity, of("tooth pitch")]


class ReadyEnd(FromFile, frozen=True):
    """An end of a stock bar that comes flared."""

    flare: Literal["single", "double"]
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
    priced_by_length: bool = False  # an offcut that is worth what its length is worth


class Offcuts(FromFile, frozen=True):
    """[offcuts]: which offcuts are kept, and what they are worth."""

    keep_from: Annotated[Quantity, of("least offcut kept")]
    value_per_metre: Amount


class Minutes(FromFile, frozen=True):
    """[minutes]: time per operation."""

    cut: Annotated[Quantity, of("time of an operation")]
    single_flare: Annotated[Quantity, of("time of an operation")]
    double_flare: Annotated[Quantity, of("time of an operation")]
    bend: Annotated[Quantity, of("time of an operation")]
    hole: Annotated[Quantity, of("time of an operation")]
    assembly: Annotated[Quantity, of("time of an operation")]  # per wheelbox


class Price(FromFile, frozen=True):
    """[[price]]: what one item costs."""

    item: Name
    amount: Amount
    unit: Literal["each", "m"]
    source: Name


class Money(Struct, frozen=True):
    """How the shop charges; percentages as fractions (0.2 is 20 %)."""

    currency: str
    rate: Fraction  # per hour
    margin: Fraction
    tax: Fraction
    tube_by: Literal["bars", "metre"]
    prices: dict[str, Price]
    consumables: Fraction  # per job


class Business(FromFile, frozen=True):
    """[business]: who offers, on papers for customers."""

    name: Name
    address: Names = ()  # line by line
    tax_number: Name = ""
    terms: Names = ()  # sentence by sentence
    valid_days: Count = 30  # how long a quote stands


class DriveSettings(FromFile, frozen=True, kw_only=True):
    """[drive] of the shop: allowances and frictions."""

    friction: Friction
    engagement: Annotated[Quantity, of("engagement")]
    margin: Annotated[Quantity, of("tail margin")] | None = None  # beyond the engagement, pulled in; None: as usual
    tip_clearance: Annotated[Quantity, of("tip clearance")]
    blade_load: Annotated[Quantity, of("load on a blade")] = quantity(17, "N/m")  # handbooks say 15 to 20, from memory
    rubber_wet: Friction = 0.35  # of blade on glass; 0.1 to 0.6, from memory
    rubber_dry: Friction = 1.0  # 0.8 to 1.2, from memory
    measured_pull: Annotated[Quantity, of("pull")] | None = None  # at the motor; None: by the capstan relation


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
    trial_bends: tuple[TrialBend, ...] = ()
    trial_flares: tuple[TrialFlare, ...] = ()
    book: str = ""  # the shelf's, as a path; empty: none is kept
    business: Business | None = None
