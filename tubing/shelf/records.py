"""What the book is told and what it shows, as frozen records. Lengths are exact fractions of a mm."""

from __future__ import annotations

from fractions import Fraction

from msgspec import Struct

from tubing.errors import InputError
from tubing.inputs.records import ReadyEnd

PM_PER_MM = 10**9


class NewBar(Struct, frozen=True):
    """A bar that comes onto the shelf."""

    tube: str
    length_mm: Fraction
    ready_ends: tuple[ReadyEnd, ...] = ()
    price_cents: int | None = None  # paid for it; None: an offcut, worth what its length is worth


class ShelfBar(Struct, frozen=True):
    """A bar on the shelf, with the number that is written on it."""

    number: int
    tube: str
    length_mm: Fraction
    ready_ends: tuple[ReadyEnd, ...]
    price_cents: int | None  # paid for it; None: an offcut
    cut_from: int | None  # the bar that it was left of
    since: str  # the day on which it came


class Past(Struct, frozen=True):
    """One operation, as the book's history tells it."""

    number: int
    kind: str
    at: str
    said: str
    undone_by: int | None


class Entered(Struct, frozen=True):
    """What an operation did."""

    operation: int
    said: str
    bars: tuple[int, ...] = ()  # the numbers that it gave
    repeated: bool = False  # it stood in the book already, and nothing was changed


def pm_of(length_mm: Fraction, thing: str) -> int:
    """A length in whole picometres, as the book keeps it. Raises InputError for one that is not whole.

    >>> pm_of(Fraction(127, 320), "offcut")
    396875000
    """
    length_pm = length_mm * PM_PER_MM
    if length_pm.denominator != 1:
        raise InputError(
            thing,
            f"its length of about {float(length_mm):.9g} mm has no end of decimals",
            "the book keeps lengths exactly, to nine decimals of a mm",
            "give it in mm, or in halves, quarters and so on of an inch",
        )
    return int(length_pm)


def mm_of(length_pm: int) -> Fraction:
    """Millimetres from the book's picometres.

    >>> mm_of(396875000)
    Fraction(127, 320)
    """
    return Fraction(length_pm, PM_PER_MM)
