"""The sections of a job file as pydantic sees them: which keys there are, and how each value is written.

What concerns more than one section (names, layouts, what the shop has) is checked where the records are made.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, Tag

from tubing.inputs.fields import (
    Angle,
    Direction,
    Force,
    Gap,
    Length,
    Name,
    Point,
    PointOnGlass,
    Rate,
    Section,
    Spindle,
    Sweep,
    TapeError,
    Turn,
    written_as,
)

FlareWord = Literal["single", "double", "plain"]


class TubeFigures(Section):
    """A tube that no catalogue knows."""

    diameter: Length
    wall: Length
    least_radius: Length
    material: Name = "steel"
    single_flare: Length | None = None
    double_flare: Length | None = None
    stock: Name | None = None


class FormerFigures(Section):
    """A former that no catalogue knows."""

    radius: Length
    grip: Gap | None = None


class MotorFigures(Section):
    """A motor that no catalogue knows."""

    fixed_end: Length
    nut_length: Gap
    pull: Force
    rod: Length | None = None
    rate: Rate | None = None


class WheelboxFigures(Section):
    """A wheelbox that no catalogue knows."""

    rack_depth: Length
    pitch_radius: Length
    groove_offset: Length
    mouth_offset: Length | None = None
    groove_width: Length | None = None
    bush: Length
    stem: Length
    spacer: Gap | None = None
    body: list[Length] | None = None
    nut: Length | None = None
    washer: Gap | None = None


TubeChoice = Annotated[Annotated[Name, Tag("@plain")] | Annotated[TubeFigures, Tag("@figures")], written_as("@figures")]
FormerChoice = Annotated[
    Annotated[Name, Tag("@plain")] | Annotated[FormerFigures, Tag("@figures")], written_as("@figures")
]
MotorChoice = Annotated[
    Annotated[Name, Tag("@plain")] | Annotated[MotorFigures, Tag("@figures")], written_as("@figures")
]
WheelboxChoice = Annotated[
    Annotated[Name, Tag("@plain")] | Annotated[WheelboxFigures, Tag("@figures")], written_as("@figures")
]


class TubeSection(Section):
    """[tube]"""

    size: TubeChoice
    former: FormerChoice


class DriveSection(Section):
    """[drive]"""

    motion: Literal["tandem", "opposed"]
    order: Literal["written", "free"] = "written"
    sweep: Sweep
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
    panel_thickness: Gap | None = None
    spacer: Gap | None = None
    heading: Direction | None = None
    side: Literal["left", "right"] | None = None


class EndsSection(Section):
    """ends = { from = ..., to = ... }"""

    start: FlareWord | None = Field(default=None, alias="from")
    end: FlareWord | None = Field(default=None, alias="to")


class TubeBetweenSection(Section):
    """[[tube_between]]"""

    start: Name = Field(alias="from")
    end: Name = Field(alias="to")
    corners: list[Point] | None = None
    measured: Length | None = None
    bends: list[Turn] | None = None
    ends: EndsSection | None = None


class TailSection(Section):
    """[tail]"""

    toward: Direction | None = None
    corners: list[Point] | None = None


class BoxSection(Section):
    """box = { from, to } or { centre, size, turned }"""

    start: Point | None = Field(default=None, alias="from")
    end: Point | None = Field(default=None, alias="to")
    centre: Point | None = None
    size: list[Length] | None = None
    turned: list[Angle] | None = None


class CylinderSection(Section):
    """cylinder = { from, to, radius }"""

    start: Point = Field(alias="from")
    end: Point = Field(alias="to")
    radius: Length


class SphereSection(Section):
    """sphere = { centre, radius }"""

    centre: Point
    radius: Length


class ObstacleSection(Section):
    """[[in_the_way]]"""

    name: Name
    clearance: Gap | None = None
    box: BoxSection | None = None
    cylinder: CylinderSection | None = None
    sphere: SphereSection | None = None


class MeasuringSection(Section):
    """[measuring]"""

    error: TapeError


class CutSection(Section):
    """[[cut]]"""

    piece: Name
    length: Length
    ready: list[Name] = Field(default_factory=list)


class ScreenSection(Section):
    """[screen]"""

    outline: list[PointOnGlass]
    zones: dict[str, list[PointOnGlass]] = Field(default_factory=dict)
    pivots: dict[str, PointOnGlass] | None = None
    plane: list[Point] | None = None


class ArmSection(Section):
    """[[arm]]"""

    on: Name
    length: Length | None = None
    blade: Length | None = None
    crank: Angle
    parked: Angle | None = None


class JobFile(Section):
    """A whole job file."""

    title: Name
    layout: Name
    layouts: dict[str, list[Name]]
    tube: TubeSection
    drive: DriveSection
    motor: MotorSection
    wheelbox: list[WheelboxSection]
    tube_between: list[TubeBetweenSection] = Field(default_factory=list)
    tail: TailSection | None = None
    in_the_way: list[ObstacleSection] = Field(default_factory=list)
    measuring: MeasuringSection | None = None
    cut: list[CutSection] = Field(default_factory=list)
    screen: ScreenSection | None = None
    arm: list[ArmSection] = Field(default_factory=list)
