"""What each quantity can plausibly be: one table, wide, with the reason.

A figure outside was mistyped: a decimal point is missing, or inches were meant for millimetres. The message says which
value was probably meant. Ranges are common practice, no source, unless the reason names one.
"""

from __future__ import annotations

import functools
import re
from enum import Enum
from fractions import Fraction
from typing import Any, NamedTuple

from tubing.errors import InputError
from tubing.units import Kind, Quantity, read

MOST = {  # beyond this a figure is a slip of the pen, whatever it measures
    Kind.LENGTH: "100 m",
    Kind.ANGLE: "360 deg",
    Kind.FORCE: "100 kN",
    Kind.LINE_LOAD: "1000 N/m",
    Kind.TIME: "1000 h",
    Kind.RATE: "1000 cycle/min",
    Kind.STRESS: "1000 GPa",
}
WRITTEN = re.compile(r"\s*(?P<number>[+-]?[0-9]+(?:\.[0-9]+)?)\s*(?P<unit>\S.*?)\s*")


class Sign(Enum):
    """Which numbers a figure may take."""

    ANY = "any"
    NOT_NEGATIVE = "0 or more"
    POSITIVE = "above 0"


def measure(text: object, kind: Kind, sign: Sign, thing: str = "") -> Quantity:
    """Read a text with its unit and refuse what no vehicle or workshop has.

    >>> measure("1.2 mm", Kind.LENGTH, Sign.POSITIVE).to("mm").magnitude
    Fraction(6, 5)

    Raises UnitError as ``units.read`` does, and InputError for a number out of range.
    """
    value = read(text, kind, thing)
    if sign is not Sign.ANY and value.magnitude < 0:
        raise InputError(thing, f"{text!r} is negative", f"it must be {sign.value}", "leave out the minus sign")
    if sign is Sign.POSITIVE and value.magnitude == 0:
        raise InputError(thing, f"{text!r} is nothing", "it must be above 0", "measure it again")
    if abs(value.magnitude) > _most(kind, value.units):
        raise InputError(
            thing,
            f"{text!r} is absurdly large",
            f"it must be at most {MOST[kind]}",
            "check the number and its unit",
        )
    return value


@functools.cache
def _most(kind: Kind, unit: Any) -> Fraction:
    """The most that a kind may be, counted in ``unit``."""
    most: Fraction = read(MOST[kind], kind).to(unit).magnitude
    return most


class Range(NamedTuple):
    """The least and the most of one quantity, as texts with units."""

    kind: Kind
    least: str
    most: str
    why: str  # in a sentence: "..., for <why>"

    @property
    def sign(self) -> Sign:
        """Whether nothing at all is among what it can be."""
        return Sign.NOT_NEGATIVE if read(self.least, self.kind).magnitude == 0 else Sign.POSITIVE


def _mm(least: str, most: str, why: str) -> Range:
    return Range(Kind.LENGTH, f"{least} mm", f"{most} mm", why)


RANGES = {
    # tube and tools
    "tube diameter": _mm("3", "25", "a toothed rack runs inside, and a hand bender bends it"),
    "tube wall": _mm("0.3", "3", "thinner tube cannot be flared, thicker has no bore for a rack"),
    "least radius of a tube": _mm("5", "1000", "a tube bends no tighter than about its own diameter"),
    "yield strength": Range(Kind.STRESS, "20 MPa", "2000 MPa", "soft copper yields at some tens, spring steel at 1500"),
    "modulus": Range(Kind.STRESS, "10 GPa", "300 GPa", "of the metals that tube is made of, steel has the most, 210"),
    "flare diameter": _mm("3.5", "40", "a flare is a little wider than its tube"),
    "half angle of a flare": Range(Kind.ANGLE, "5 deg", "89 deg", "a cone is neither a tube nor flat"),
    "radius of a former": _mm("8", "1000", "nothing tighter bends tube, nothing larger stands on a bench"),
    "former's grip": _mm("0", "200", "a former holds some centimetres of straight tube"),
    "flaring tool's grip": _mm("0", "150", "a flaring bar holds some centimetres of tube"),
    "tube a flare consumes": _mm("0", "20", "a flare takes a few millimetres"),
    "step of the rule": _mm("0.01", "10", "a rule is read to a millimetre or half of one"),
    "kerf": _mm("0", "20", "a saw's blade is a few millimetres thick at most"),
    "end trim": _mm("0", "200", "it takes the damaged end off a bar, no more"),
    "angle of a wedge": Range(Kind.ANGLE, "0 deg", "85 deg", "a wedge spacer lies on the panel"),
    "fit-up distance": _mm("0", "20", "so far tube can be pulled into place by hand"),
    "fit-up angle": Range(Kind.ANGLE, "0 deg", "20 deg", "so far tube can be pulled into place by hand"),
    "greatest bend": Range(Kind.ANGLE, "90 deg", "170 deg", "a hand bender reaches a right angle and more, no hairpin"),
    "clip spacing": _mm("30", "3000", "tube is held every few hand widths"),
    # rack and drive
    "rack diameter": _mm("2", "20", "it runs inside guide tube"),
    "tooth pitch": _mm("0.5", "10", "finer teeth shear, coarser ones do not mesh on a small gear"),
    "least radius of a rack": _mm("20", "1000", "a flexible rack bends round some tens of centimetres"),
    "sweep": Range(Kind.ANGLE, "20 deg", "270 deg", "an arm wipes more than a strip and less than a circle"),
    "engagement": _mm("0", "200", "a gear needs a few teeth on either side"),
    "tail margin": _mm("0", "500", "it is rack to spare behind the last gear"),
    "tip clearance": _mm("0", "200", "the tail tube is a little longer than the rack"),
    "load on a blade": Range(Kind.LINE_LOAD, "1 N/m", "100 N/m", "handbooks say 15 to 20 N/m (from memory)"),
    "pull": Range(Kind.FORCE, "10 N", "10 kN", "a wiper motor pulls some hundred newtons"),
    "fixed end of a rack": _mm("5", "1000", "the rack starts inside the motor's gear case"),
    "nut's length": _mm("0", "60", "a union nut is a few centimetres long"),
    "connecting rod": _mm("5", "1000", "it lies inside the motor's gear case"),
    "working speed": Range(Kind.RATE, "5 cycle/min", "200 cycle/min", "rules ask for 10 to 55 and more"),
    # wheelboxes and panel
    "rack depth": _mm("2", "200", "the rack passes behind the seating face"),
    "pitch radius": _mm("3", "100", "a gear in a wheelbox is a few centimetres wide"),
    "groove offset": _mm("1", "200", "a wheelbox is a few centimetres long"),
    "mouth offset": _mm("1", "250", "a wheelbox is a few centimetres long"),
    "groove width": _mm("0.5", "20", "a flare sits in it"),
    "bush": _mm("3", "60", "it goes through a hole in the panel"),
    "stem": _mm("3", "200", "it ends outside the panel"),
    "spacer": _mm("0", "100", "it lies between panel and box"),
    "side of a body": _mm("5", "500", "a wheelbox is a few centimetres in size"),
    "nut on a stem": _mm("1", "60", "a nut is some millimetres high"),
    "washer": _mm("0", "20", "a washer is a few millimetres thick"),
    "panel thickness": _mm("0", "50", "it is sheet metal, wood or plastic"),
    "clearance": _mm("0", "200", "it is room to keep, not a way round"),
    "lean": Range(Kind.ANGLE, "0 deg", "89.9 deg", "a spindle comes out of the panel"),
    # vehicle and glass
    "coordinate": Range(Kind.LENGTH, "-10 m", "10 m", "everything lies near the windscreen"),
    "length of a wire": _mm("10", "20000", "it is laid from box to box"),
    "angle of a bend": Range(Kind.ANGLE, "0.1 deg", "179 deg", "a bend changes the tube's direction"),
    "size of a thing": _mm("0.5", "10000", "it stands in the tube's way"),
    "taped length": _mm("1", "20000", "a tape hooked on marks of one vehicle"),
    "tape's error": _mm("0", "50", "a tape is read to a millimetre or two"),
    "arm": _mm("50", "2000", "it reaches over a windscreen"),
    "blade": _mm("50", "2000", "it wipes a windscreen"),
    # stock and money
    "bar": _mm("20", "20000", "bars of tube are sold and kept so"),
    "length trimmed off": _mm("0", "500", "it is what was left over length"),
    "length of a piece": _mm("5", "20000", "it is cut from a bar"),
    "least offcut kept": _mm("0", "20000", "it is what is left of a bar"),
    "time of an operation": Range(Kind.TIME, "0 min", "40 h", "it is done at the bench"),
}


def read_plausible(text: object, name: str, thing: str = "") -> Quantity:
    """A text with its unit as the quantity of that name in the table.

    >>> read_plausible("1/16 in", "kerf").to("mm").magnitude
    Fraction(127, 80)

    Raises UnitError as ``units.read`` does, InputError with the value that was probably meant for one outside.
    """
    of = RANGES[name]
    sign = Sign.ANY if of.least.startswith("-") else of.sign
    value = measure(text, of.kind, sign, thing)
    low, high = (read(end, of.kind) for end in (of.least, of.most))
    if low <= value <= high:
        return value
    raise InputError(
        thing,
        f"{text!r} is too {_way(name, value < low)} ({name})",
        f"it must be from {of.least} to {of.most}, for {of.why}",
        _probably_meant(str(text), of, low, high),
    )


def _way(name: str, below: bool) -> str:
    if name == "coordinate":
        return "far from the origin"
    return "little" if below else "much"


def _probably_meant(text: str, of: Range, low: Quantity, high: Quantity) -> str:
    """The value with another unit or its decimal point elsewhere that is in the range, if there is one."""
    found = WRITTEN.fullmatch(text)
    if of.kind is Kind.ANGLE:
        return "measure it again"
    if found is None:
        return "check the number and its unit"
    figure, unit = found["number"], found["unit"]
    swapped = {"mm": "in", "cm": "in", "in": "mm", "ft": "in", "m": "mm"}.get(unit, "")
    candidates = [f"{figure} {swapped}"] if swapped else []
    for power in (1, 2, 3):
        for shift in (Fraction(1, 10**power), Fraction(10**power)):
            candidates.append(f"{float(Fraction(figure) * shift):.10g} {unit}")
    for candidate in candidates:
        try:
            meant = read(candidate, of.kind)
        except InputError:
            continue
        if low <= meant <= high:
            return f"did you mean '{candidate}'?"
    return "check the number and its unit"
