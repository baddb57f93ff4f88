"""The sections of a job file as pydantic sees them: which keys there are, and how each value is written.

What concerns more than one section (names, layouts, what the shop has) is checked where the records are made.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, Tag

from tubing.inputs.fields import (
    Angle,
    Count,
    Direction,
    Name,
    Names,
    Point,
    Spindle,
    of,
    written_as,
)
from tubing.inputs.records import Cut, Cylinder, Done, FittedArm, Screen, Sphere, Tail, TubeBetween
from tubing.inputs.section import Section
from tubing.units import Quantity


class TubeFigures(Section):
    """A tube that no catalogue knows."""

    diameter: Annotated[Quantity, of("tube diameter")]
    wall: Annotated[Quantity, of("tube wall")]
    least_radius: Annotated[Quantity, of("least radius of a tube")]
    material: Name = "steel"
    single_flare: Annotated[Quantity, of("flare diameter")] | None = None
    double_flare: Annotated[Quantity, of("flare diameter")] | None = None
    stock: Name | None = None


class FormerFigures(Section):
    """A former that no catalogue knows."""

    radius: Annotated[Quantity, of("radius of a former")]
    grip: Annotated[Quantity, of("former's grip")] | None = None
    radius_is: Literal["former", "as bent"] = "former"


class MotorFigures(Section):
    """A motor that no catalogue knows."""

    fixed_end: Annotated[Quantity, of("fixed end of a rack")]
    nut_length: Annotated[Quantity, of("nut's length")]
    pull: Annotated[Quantity, of("pull")]
    rod: Annotated[Quantity, of("connecting rod")] | None = None
    rate: Annotated[Quantity, of("working speed")] | None = None


class WheelboxFigures(Section):
    """A wheelbox that no catalogue knows."""

    rack_depth: Annotated[Quantity, of("rack depth")]
    pitch_radius: Annotated[Quantity, of("pitch radius")]
    groove_offset: Annotated[Quantity, of("groove offset")]
    mouth_offset: Annotated[Quantity, of("mouth offset")] | None = None
    groove_width: Annotated[Quantity, of("groove width")] | None = None
    bush: Annotated[Quantity, of("bush")]
    stem: Annotated[Quantity, of("stem")]
    spacer: Annotated[Quantity, of("spacer")] | None = None
    body: list[Annotated[Quantity, of("side of a body")]] | None = None
    nut: Annotated[Quantity, of("nut on a stem")] | None = None
    washer: Annotated[Quantity, of("washer")] | None = None


TubeChoice = Annotated[Annotated[Name, Tag("@plain")] | Annotated[TubeFigures, Tag("@figures")], written_as("@figures")]
FormerChoice = Annotated[
    Annotated[Name, Tag("@plain")] | Annotated[FormerFigures, Tag("@figures")] | Annotated[Names, Tag("@several")],
    written_as("@figures", "@several"),
]
MotorChoice = Annotated[
    Annotated[Name, Tag("@plain")] | Annotated[MotorFigures, Tag("@figures")], written_as("@figures")
]
WheelboxChoice = Annotated[
    Annotated[Name, Tag("@plain")] | Annotated[WheelboxFigures, Tag("@figures")], written_as("@figures")
]


TAPED = "taped"  # stands for a nose or a hole whose place is to be worked out
TAPED_SECTIONS = ("point", "taped", "offset", "frame")  # read by ``taped_points``, before the rest of the file


class TubeSection(Section):
    """[tube]"""

    size: TubeChoice
    former: FormerChoice | None = None  # None: the shop's formers that keep the least radii are tried


class DriveSection(Section):
    """[drive]"""

    motion: Literal["tandem", "opposed"]
    order: Literal["written", "free"] = "written"
    sweep: Annotated[Quantity, of("sweep")]
    park: Literal["left", "right"]


class MotorSection(Section):
    """[motor]"""

    model: MotorChoice
    nose: Point
    heading: Direction


class WheelboxSection(Section):
    """[[wheelbox]]"""

    name: Name
    model: WheelboxChoice
    hole: Point
    spindle: Spindle
    panel: Direction | None = None
    panel_thickness: Annotated[Quantity, of("panel thickness")] | None = None
    spacer: Annotated[Quantity, of("spacer")] | None = None
    heading: Direction | None = None
    side: Literal["left", "right"] | None = None


class BoxSection(Section):
    """box = { from, to } or { centre, size, turned }"""

    start: Point | None = Field(default=None, alias="from")
    end: Point | None = Field(default=None, alias="to")
    centre: Point | None = None
    size: list[Annotated[Quantity, of("size of a thing")]] | None = None
    turned: list[Angle] | None = None


class ObstacleSection(Section):
    """[[in_the_way]]"""

    name: Name
    clearance: Annotated[Quantity, of("clearance")] | None = None
    box: BoxSection | None = None
    cylinder: Cylinder | None = None
    sphere: Sphere | None = None


class MeasuringSection(Section):
    """[measuring]"""

    error: Annotated[Quantity, of("tape's error")]


class JobFile(Section):
    """A whole job file."""

    title: Name
    layout: Name
    layouts: dict[str, list[Name]]
    vehicles: Count = 1
    tube: TubeSection
    drive: DriveSection
    motor: MotorSection
    wheelbox: list[WheelboxSection]
    tube_between: list[TubeBetween] = Field(default_factory=list)
    tail: Tail | None = None
    in_the_way: list[ObstacleSection] = Field(default_factory=list)
    measuring: MeasuringSection | None = None
    cut: list[Cut] = Field(default_factory=list)
    done: Done = Field(default_factory=Done)
    screen: Screen | None = None
    arm: list[FittedArm] = Field(default_factory=list)
