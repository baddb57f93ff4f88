"""What the book is told and what it shows, as frozen records. Lengths are exact fractions of a mm."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

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


class Vehicle(Struct, frozen=True, order=True):
    """One vehicle of a job, as the book calls it."""

    job: str  # the job's file, as seen from the book's folder
    number: int = 1  # among the vehicles that the job is for

    @property
    def called(self) -> str:
        """In words.

        >>> Vehicle("van.toml").called, Vehicle("van.toml", 2).called
        ('van.toml', 'van.toml (vehicle 2)')
        """
        return self.job if self.number == 1 else f"{self.job} (vehicle {self.number})"


class KeptPiece(Struct, frozen=True):
    """A piece that a kept bar is sawn into."""

    vehicle: Vehicle
    name: str
    length_pm: int


class KeptBar(Struct, frozen=True):
    """A bar of a stock plan that is kept, and how it is to be sawn; lengths in picometres."""

    number: int | None  # written on it; None: it is still to be bought
    tube: str
    length_pm: int
    price_cents: int  # as the plan reckoned it
    ready_ends: tuple[ReadyEnd, ...]
    pieces: tuple[KeptPiece, ...]  # along the bar
    marks_pm: tuple[int, ...]
    left_pm: int
    left_is_kept: bool
    saved_ends: tuple[tuple[int, int, int], ...]  # ready end, piece, end of the piece
    ends_left: tuple[ReadyEnd, ...] = ()  # that stay on what is left
    offcut: int | None = None  # the number promised to what is left


class StockPlan(Struct, frozen=True):
    """The bars that are kept for some vehicles, and how good the plan was known to be."""

    vehicles: tuple[Vehicle, ...]
    bars: tuple[KeptBar, ...]
    cost_cents: int
    bound_cents: int
    proof: str
    note: str = ""


class Keeping(Struct, frozen=True):
    """A stock plan in the book, until it is cut or freed; ``number`` is its operation's."""

    number: int
    since: str  # the day
    plan: StockPlan


class ShelfBar(Struct, frozen=True):
    """A bar on the shelf, with the number that is written on it."""

    number: int
    tube: str
    length_mm: Fraction
    ready_ends: tuple[ReadyEnd, ...]
    price_cents: int | None  # paid for it; None: an offcut
    cut_from: int | None  # the bar that it was left of
    since: str  # the day on which it came
    keeping: int | None = None  # the keeping that it is promised to; None: it is free
    from_job: str = ""  # the jobs that it was left of; empty: bought, or found


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


class CutPiece(Struct, frozen=True):
    """A piece that the book has as cut, and not spoiled since."""

    vehicle: Vehicle
    name: str
    keeping: int
    bar: int  # the number of the bar that it was sawn from
    length_mm: Fraction


class Shelf(Struct, frozen=True):
    """The book at one moment."""

    folder: str  # the book's, as an absolute path
    state: int  # the number of the last operation
    bars: tuple[ShelfBar, ...]  # on the shelf, free or kept, by number
    keepings: tuple[Keeping, ...]  # neither cut nor freed
    cut: tuple[CutPiece, ...]
    sawn: tuple[KeptBar, ...]  # bars that were cut, each with its number and what was paid for it

    def job_name(self, file: Path) -> str:
        """What the book calls a job by its file."""
        return job_name(str(file.resolve()), self.folder)


class ByBook(Struct, frozen=True):
    """The book, and what it calls the vehicles that are planned, in their order."""

    shelf: Shelf
    vehicles: tuple[Vehicle, ...]


def by_book(shelf: Shelf, files: Sequence[str]) -> ByBook:
    """The book for vehicles that are known each by its job's file; a file that comes again is its next vehicle."""
    count = Counter[str]()
    vehicles = []
    for file in files:
        count[file] += 1
        vehicles.append(Vehicle(job_name(file, shelf.folder), count[file]))
    return ByBook(shelf, tuple(vehicles))


def job_name(file: str, folder: str) -> str:
    """A job's file as seen from the book's folder, so that both can move together.

    >>> job_name("/garage/jobs/van.toml", "/garage/shop"), job_name("/garage/shop/van.toml", "/garage/shop")
    ('../jobs/van.toml', 'van.toml')
    """
    try:
        return Path(os.path.relpath(file, folder)).as_posix()
    except ValueError:  # on another drive
        return Path(file).as_posix()
