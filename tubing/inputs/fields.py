"""What stands behind a key: texts with units, points, directions, names, money; each checked as it is read.

Direction: three numbers, or from one point to another; read into a unit vector.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import (
    AfterValidator,
    Discriminator,
    Field,
    GetCoreSchemaHandler,
    PlainValidator,
    Tag,
    model_validator,
)
from pydantic_core import CoreSchema, core_schema

from tubing.errors import JobError
from tubing.geometry.vectors import Point2, Vector, distance_mm, norm, sub, unit
from tubing.inputs.ranges import RANGES, Sign, measure, read_plausible
from tubing.inputs.section import Section
from tubing.inputs.toml_files import shown
from tubing.units import Kind, Quantity, mm

MONEY = re.compile(r"[0-9]{1,9}(\.[0-9]{1,2})?")
PERCENT = re.compile(r"[0-9]{1,4}(\.[0-9]+)? ?%")
SAME_POINT_MM = 0.001  # nearer than any tape tells apart
LARGEST_COMPONENT = 1e6
AXES = ("x", "y", "z")


def _quantity(value: object, kind: Kind, sign: Sign, thing: str = "") -> Quantity:
    """A text with its unit; a bare number is told what unit to add."""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        like = f"write it like '12.5 {kind.units[0]}'"
        raise JobError(thing, f"{shown(value)} is not {kind.called}", "it must be text with a number and a unit", like)
    return measure(value, kind, sign, thing)


def of(name: str) -> PlainValidator:
    """Reads a text with its unit as the quantity of that name in ``ranges``."""
    return PlainValidator(lambda value: _plausible(value, name))


def _plausible(value: object, name: str, thing: str = "") -> Quantity:
    if not isinstance(value, str):
        _quantity(value, RANGES[name].kind, Sign.ANY, thing)  # says what is wrong with it
    return read_plausible(value, name, thing)


def in_mm(name: str) -> PlainValidator:
    """Reads a text with its unit as the length of that name in ``ranges``, in mm."""
    return PlainValidator(lambda value: mm(_plausible(value, name)))


class TupleOf:
    """Reads a list of the file into a tuple of what ``item`` reads."""

    def __init__(self, item: object) -> None:
        self.item = item

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        """A list's schema, whose result becomes a tuple."""
        return core_schema.no_info_after_validator_function(tuple, handler.generate_schema(list[self.item]))  # type: ignore[name-defined]


Angle = Annotated[Quantity, PlainValidator(lambda value: _quantity(value, Kind.ANGLE, Sign.ANY))]


def _name(value: object) -> str:
    if not isinstance(value, str):
        raise JobError("", f"{shown(value)} is not text", "it must be text", "put it in quotes")
    if not value.strip():
        raise JobError("", "it is empty", "it must say something", "write it out")
    if len(value) > 100:
        raise JobError("", f"it is {len(value)} characters long", "it must be at most 100", "shorten it")
    return value


Name = Annotated[str, PlainValidator(_name)]
Names = Annotated[tuple[str, ...], TupleOf(Name)]


def _figure(least: float, most: float) -> PlainValidator:
    """Reads a plain number: a ratio has no unit."""

    def check(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise JobError(
                "", f"{shown(value)} is not a number", "it must be a plain number", "write it without quotes or unit"
            )
        if not least <= value <= most:
            raise JobError("", f"it is {value}", f"it must be from {least:g} to {most:g}", "check the number")
        return float(value)

    return PlainValidator(check)


Friction = Annotated[float, _figure(0, 3)]
Springback = Annotated[float, _figure(0, 0.5)]


def money_of(value: object) -> Fraction:
    """Money as text, with at most two decimals. Raises JobError."""
    if isinstance(value, str) and MONEY.fullmatch(value.strip()):
        return Fraction(value.strip())
    like = '"12.50"'
    if isinstance(value, str) and MONEY.fullmatch(value.strip().replace(",", ".")):
        like = f'"{value.strip().replace(",", ".")}"'
    elif isinstance(value, (int, float)) and not isinstance(value, bool) and 0 <= value < 1e9:
        like = f'"{value:.2f}"'
    raise JobError(
        "", f"{shown(value)} is not an amount", "it must be text with at most two decimals", f"write it like {like}"
    )


Amount = Annotated[Fraction, PlainValidator(money_of)]


def _percent(value: object) -> Fraction:
    if isinstance(value, str) and PERCENT.fullmatch(value.strip()):
        return Fraction(value.strip().rstrip("% ")) / 100
    raise JobError("", f"{shown(value)} is not a percentage", "it must be text such as '20 %'", "write it like '20 %'")


Percent = Annotated[Fraction, PlainValidator(_percent)]


def _whole(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 1_000_000:
        raise JobError(
            "", f"{shown(value)} is not a count", "it must be a whole number above 0", "write it without quotes"
        )
    return value


Count = Annotated[int, PlainValidator(_whole)]


def _coordinates(value: object, axes: tuple[str, ...]) -> tuple[float, ...]:
    example = "[" + ", ".join(['"120 mm"', '"-35 mm"', '"2 1/2 in"'][: len(axes)]) + "]"
    if not isinstance(value, list) or len(value) != len(axes):
        raise JobError(
            "", f"{shown(value)} is not a point", f"it must be {len(axes)} texts with units", f"write it like {example}"
        )
    return tuple(mm(_plausible(text, "coordinate", axis)) for text, axis in zip(value, axes, strict=True))


def _point(value: object) -> Vector:
    x, y, z = _coordinates(value, AXES)
    return x, y, z


def _point2(value: object) -> Point2:
    x, y = _coordinates(value, AXES[:2])
    return x, y


Point = Annotated[Vector, PlainValidator(_point)]
PointOnGlass = Annotated[Point2, PlainValidator(_point2)]
PointsOnGlass = Annotated[tuple[Point2, ...], TupleOf(PointOnGlass)]


def _components(value: object) -> Vector:
    """Three plain numbers to a unit vector."""
    if not isinstance(value, list) or len(value) != 3:
        raise JobError(
            "",
            f"{shown(value)} is not a direction",
            "it must be three plain numbers, or two points",
            "write it like [0.0, 0.7, 0.7] or { from = [point], to = [point] }",
        )
    for axis, number in zip(AXES, value, strict=True):
        if isinstance(number, bool) or not isinstance(number, (int, float)):
            raise JobError(
                axis, f"{shown(number)} is not a plain number", "components have no unit", "write it like 0.71"
            )
        if not abs(number) <= LARGEST_COMPONENT:
            raise JobError(axis, f"it is {number}", "it must be a finite number up to a million", "check the number")
    vector = (float(value[0]), float(value[1]), float(value[2]))
    if norm(vector) < 1e-6:
        raise JobError(
            "", "it has no length", "a direction must point somewhere", "give at least one number that is not 0"
        )
    return unit(vector)


class TwoPoints(Section):
    """A direction from one point to another."""

    start: Point = Field(alias="from")
    end: Point = Field(alias="to")

    @property
    def vector(self) -> Vector:
        """The direction."""
        return unit(sub(self.end, self.start))

    @model_validator(mode="after")
    def apart(self) -> TwoPoints:
        """Raise JobError when the two are the same."""
        if distance_mm(self.start, self.end) < SAME_POINT_MM:
            raise JobError(
                "", "from and to are the same point", "a direction needs two points apart", "measure them again"
            )
        return self


def _vector(value: Vector | TwoPoints) -> Vector:
    return value.vector if isinstance(value, TwoPoints) else value


def written_as(table: str, several: str = "@plain", **other: str) -> Discriminator:
    """Tells the ways of writing a value apart: no table (@plain), one (``table``), one with a key of ``other``.

    ``several``: a list of values.
    """

    def tag(value: Any) -> str:
        if isinstance(value, list):
            return several
        if not isinstance(value, dict):
            return "@plain"
        return next((tag for key, tag in other.items() if key in value), table)

    return Discriminator(tag)


Components = Annotated[Annotated[Vector, PlainValidator(_components)], Tag("@plain")]

if TYPE_CHECKING:  # what a validator turns a value into is beyond the checker
    Direction = Vector
else:
    Direction = Annotated[
        Components | Annotated[TwoPoints, Tag("@points")], written_as("@points"), AfterValidator(_vector)
    ]


class Leaning(Section):
    """A spindle by its lean from the panel's normal, and where to."""

    lean: Annotated[Quantity, of("lean")]
    toward: Direction


if TYPE_CHECKING:
    Spindle = Vector | Leaning
else:
    Spindle = Annotated[
        Components | Annotated[TwoPoints, Tag("@points")] | Annotated[Leaning, Tag("@lean")],
        written_as("@points", lean="@lean", toward="@lean"),
        AfterValidator(lambda value: value if isinstance(value, Leaning) else _vector(value)),
    ]
