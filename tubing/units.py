"""Text with a unit to a checked quantity, and back: the only door to pint.

pint never sees what a user typed, only a number and a known unit. Magnitudes are exact fractions where the text was,
so 1/64 in stays 1/64 in. An angle is a dimension of its own here: a formula that multiplies a radius by an angle
has to divide by a radian first, and one that forgets cannot pass.
"""

from __future__ import annotations

import difflib
import functools
import inspect
import math
import re
from collections.abc import Callable
from decimal import ROUND_HALF_UP, Decimal
from enum import Enum
from fractions import Fraction
from typing import Any, ParamSpec, TypeVar

import pint
from msgspec import Struct

from tubing.errors import UnitError

DEFINITIONS = f"""
mm = [length]
cm = 10 mm
m = 1000 mm
in = 254/10 mm = inch
ft = 12 in
rad = [angle]
deg = {math.pi / 180!r} rad
s = [time]
min = 60 s
h = 60 min
N = [force]
kN = 1000 N
lbf = 4.4482216152605 N
MPa = N / mm ** 2
GPa = 1000 MPa
cycle = [turning]
money = [currency]
"""

ureg: pint.UnitRegistry[Any] = pint.UnitRegistry(None, non_int_type=Fraction)
ureg.load_definitions(DEFINITIONS.strip().splitlines())
Quantity = pint.Quantity[Any]

RAD = ureg.Quantity(Fraction(1), "rad")

# Sign; then n a/b, n-a/b or a/b, or a decimal; then one unit.
NUMBER = re.compile(
    r"(?P<sign>[+-]?)(?:(?:(?P<whole>[0-9]+)[ -])?(?P<over>[0-9]+)/(?P<under>[0-9]+)"
    r"|(?P<decimal>[0-9]+(?:\.[0-9]+)?|\.[0-9]+)) *(?P<unit>[A-Za-z°'\"%][A-Za-z/°'\"%]*)"
)
LONGEST_TEXT = 60  # characters; more is not a measurement

P = ParamSpec("P")
R = TypeVar("R")


class Kind(Enum):
    """What a text may measure; the units it may be written in (the first is the one we suggest)."""

    LENGTH = ("a length", ("mm", "cm", "m", "in", "ft"))
    ANGLE = ("an angle", ("deg", "rad"))
    FORCE = ("a force", ("N", "kN", "lbf"))
    LINE_LOAD = ("a force per length", ("N/m",))
    TIME = ("a time", ("min", "s", "h"))
    RATE = ("a working speed", ("cycle/min",))
    STRESS = ("a stress", ("MPa", "GPa"))

    @property
    def called(self) -> str:
        """The kind in words, with its article."""
        return str(self.value[0])

    @property
    def units(self) -> tuple[str, ...]:
        """The units that this kind may be written in."""
        return tuple(self.value[1])


UNITS_OF_ALL_KINDS = tuple(unit for kind in Kind for unit in kind.units)


def read(text: object, kind: Kind, thing: str = "quantity") -> Quantity:
    """Read one number with one unit; ``thing`` names it in an error. The magnitude is an exact Fraction.

    >>> read("320 mm", Kind.LENGTH).to("mm").magnitude
    Fraction(320, 1)
    >>> read("-1 1/4 in", Kind.LENGTH).to("mm").magnitude
    Fraction(-127, 4)
    >>> read("412,5 mm", Kind.LENGTH)
    Traceback (most recent call last):
    ...
    tubing.errors.UnitError: quantity: '412,5 mm' has a decimal comma; it must be a length; write it '412.5 mm'

    Raises UnitError: no text, a bare number, a decimal comma, an expression, nan, inf, another kind's unit.
    """
    if not isinstance(text, str):
        raise UnitError(thing, f"{text!r} has no unit", _must_be(kind), _write_it(kind, text))
    match = NUMBER.fullmatch(text.strip()) if len(text) <= LONGEST_TEXT else None
    if match is None:
        raise _unreadable(text, kind, thing)
    unit = match["unit"]
    if unit not in kind.units:
        raise _wrong_unit(text, unit, kind, thing)
    if match["under"] is not None and int(match["under"]) == 0:
        raise UnitError(thing, f"{text!r} divides by zero", _must_be(kind), "write a fraction such as '1/4'")
    number = Fraction(match["decimal"]) if match["decimal"] else Fraction(int(match["over"]), int(match["under"]))
    number += int(match["whole"] or 0)
    return ureg.Quantity(-number if match["sign"] == "-" else number, unit)


def _must_be(kind: Kind) -> str:
    return f"it must be {kind.called}"


def _write_it(kind: Kind, number: object) -> str:
    shown = f"{number}" if isinstance(number, (int, float)) and not isinstance(number, bool) else "12.5"
    if not re.fullmatch(r"[+-]?[0-9]+(\.[0-9]+)?", shown):
        shown = "12.5"
    return f"write it like '{shown} {kind.units[0]}'"


def _unreadable(text: str, kind: Kind, thing: str) -> UnitError:
    """Say what is wrong with a text that is not a number and a unit."""
    bare = text.strip()
    shown = repr(text if len(text) <= LONGEST_TEXT else text[:LONGEST_TEXT] + "...")
    if re.fullmatch(r"[+-]?[0-9]*\.?[0-9]+", bare):
        return UnitError(thing, f"{shown} has no unit", _must_be(kind), f"write it '{bare} {kind.units[0]}'")
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]+ *[a-z]*", bare):
        with_point = bare.replace(",", ".")
        unit = "" if bare[-1].isalpha() else f" {kind.units[0]}"
        return UnitError(thing, f"{shown} has a decimal comma", _must_be(kind), f"write it '{with_point}{unit}'")
    return UnitError(thing, f"{shown} is not one number and one unit", _must_be(kind), _write_it(kind, None))


def _wrong_unit(text: str, unit: str, kind: Kind, thing: str) -> UnitError:
    """Say which unit was meant, or that it is another kind's."""
    if unit in UNITS_OF_ALL_KINDS:
        other = next(k for k in Kind if unit in k.units)
        return UnitError(thing, f"{text!r} is {other.called}", _must_be(kind), f"use one of {_listed(kind)}")
    spoken = {'"': "in", "inch": "in", "inches": "in", "'": "ft", "feet": "ft", "°": "deg", "degree": "deg"}
    near = spoken.get(unit.lower()) or next(
        iter(difflib.get_close_matches(unit.lower(), [u.lower() for u in kind.units], 1, 0.5)), None
    )
    known = next((u for u in kind.units if u.lower() == near), None)
    meant = f"did you mean '{known}'? " if known else ""
    return UnitError(
        thing, f"{text!r} has the unknown unit {unit!r}", _must_be(kind), f"{meant}use one of {_listed(kind)}"
    )


def _listed(kind: Kind) -> str:
    return ", ".join(kind.units)


def quantity(number: float | Fraction, unit: str) -> Quantity:
    """A quantity from a number that the program itself made.

    >>> quantity(25, "mm").to("in").magnitude
    Fraction(125, 127)
    """
    return ureg.Quantity(Fraction(number) if isinstance(number, int) else number, unit)


def exact_mm(length: Quantity) -> Fraction:
    """Millimetres as an exact fraction; a float becomes the fraction that it is.

    >>> exact_mm(read("1/64 in", Kind.LENGTH))
    Fraction(127, 320)
    """
    return Fraction(length.to("mm").magnitude)


def mm(length: Quantity) -> float:
    """Millimetres as a float.

    >>> mm(read("2 in", Kind.LENGTH))
    50.8
    """
    return float(length.to("mm").magnitude)


def rad(angle: Quantity) -> float:
    """Radians as a float."""
    return float(angle.to("rad").magnitude)


def deg(angle: Quantity) -> float:
    """Degrees as a float.

    >>> deg(read("110 deg", Kind.ANGLE))
    110.0
    """
    return float(angle.to("deg").magnitude)


def newton(force: Quantity) -> float:
    """Newtons as a float."""
    return float(force.to("N").magnitude)


def number(ratio: Quantity) -> float:
    """A dimensionless quantity as a float."""
    return float(ratio.to("").magnitude)


def checked(returns: str, **dimensions: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Check the dimension of the named arguments, and of what comes back, at every call.

    Dimensions are units of that dimension: ``"mm"``, ``"rad"``, ``"N"``, ``"mm/N"``, ``""`` for a plain ratio.

    >>> @checked("mm", radius="mm", turn="rad")
    ... def arc(radius, turn):
    ...     return radius * turn / RAD
    >>> mm(arc(quantity(10, "mm"), quantity(2, "rad")))
    20.0
    >>> arc(quantity(10, "mm"), quantity(2, "mm"))
    Traceback (most recent call last):
    ...
    tubing.errors.UnitError: arc, turn: 2 mm is a [length]; it must be a [angle]; give it in rad
    """

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        signature = inspect.signature(function)
        if unknown := set(dimensions) - set(signature.parameters):
            raise TypeError(f"{function.__name__} has no parameters {sorted(unknown)}")
        wanted = {name: _Dimension.of(unit) for name, unit in dimensions.items()}
        given_back = _Dimension.of(returns)

        @functools.wraps(function)
        def call(*args: P.args, **kwargs: P.kwargs) -> R:
            bound = signature.bind(*args, **kwargs)
            for name, dimension in wanted.items():
                if name in bound.arguments:
                    dimension.check(bound.arguments[name], f"{function.__name__}, {name}")
            result = function(*args, **kwargs)
            given_back.check(result, f"{function.__name__}, result")
            return result

        return call

    return decorate


class _Dimension(Struct, frozen=True):
    """A dimension that a formula wants, worked out once."""

    unit: str
    powers: Any

    @classmethod
    def of(cls, unit: str) -> _Dimension:
        return cls(unit, ureg.Unit(unit).dimensionality)

    def check(self, value: Any, thing: str) -> None:
        """Raise UnitError where a value is of another dimension; a plain number has none."""
        found = value.dimensionality if isinstance(value, pint.Quantity) else ureg.dimensionless.dimensionality
        if found != self.powers:
            remedy = f"give it in {self.unit or 'no unit'}"
            raise UnitError(thing, f"{value} is a {found}", f"it must be a {self.powers}", remedy)


def rounded(value: float | Fraction, places: int) -> str:
    """A number to so many decimals, halves up, without a minus before nothing.

    >>> rounded(0.25, 1), rounded(-0.04, 1), rounded(Fraction(823, 2), 1), rounded(12, 0)
    ('0.3', '0.0', '411.5', '12')
    >>> rounded(451.04999999999995, 1)
    '451.1'
    """
    # What lies behind the sixth decimal is a float's own dust, and must not turn a half down.
    exact = Decimal(repr(round(float(value), 6)))
    text = str(exact.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP))
    return text.removeprefix("-") if not text.strip("-0.") else text


def inches_text(length_mm: float, denominator: int = 64) -> str:
    """Inches to the nearest 1/64, as a tape is read.

    >>> inches_text(412.35)
    '16 15/64 in'
    >>> inches_text(25.4), inches_text(-3.2), inches_text(0)
    ('1 in', '-1/8 in', '0 in')
    """
    parts = round(abs(length_mm) / 25.4 * denominator)
    whole, rest = divmod(parts, denominator)
    fraction = Fraction(rest, denominator)
    words = [str(whole)] if whole or not rest else []
    if rest:
        words.append(f"{fraction.numerator}/{fraction.denominator}")
    return ("-" if length_mm < 0 and parts else "") + " ".join(words) + " in"
