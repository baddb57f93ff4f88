"""What can go wrong, as one tree.

Each error keeps four facts and words itself from them: which thing, what it is, what it had to be, what to do.

TubingError
├── InputError            the input cannot be read as a job                      exit status 2
│   ├── UnitError         a text is not a quantity of the kind asked for
│   ├── CatalogueError    a row of a table in ``data/`` is wrong
│   ├── JobError          a key of a job, shop or list file is wrong
│   └── BookError         the shelf's book is none, or what is asked of it cannot be
├── FitError              a sound job, but no geometry or stock fits             exit status 3
│   ├── GeometryError     a tube cannot be bent as asked
│   │   └── ClearanceError   something is in its way
│   ├── FlareError        a flare cannot be formed on the tube
│   ├── DriveError        the rack would leave a gear or strike an end
│   └── StockError        a piece fits no bar, or there are not enough bars
├── OutputError           what was decided cannot be written           exit status 3
├── CheckError            the plan failed its own independent check              exit status 3
└── InterruptError        stopped from the keyboard                              exit status 4
"""

from __future__ import annotations

from typing import Literal, Self

MendedIn = Literal["job", "shop"]


class TubingError(Exception):
    """Base of all errors that a user may see.

    ``thing``: which thing; ``found``: what it is; ``needed``: what it had to be; ``remedy``: what to do.
    """

    exit_status = 2
    mended_in: MendedIn | None = None  # the file that the remedy is for, where reading it found nothing wrong

    def __init__(self, thing: str, found: str, needed: str, remedy: str) -> None:
        super().__init__(thing, found, needed, remedy)
        self.thing, self.found, self.needed, self.remedy = thing, found, needed, remedy

    def of_shop(self) -> Self:
        """The same error, to be mended in the shop's file."""
        self.mended_in = "shop"
        return self

    def within(self, name: str) -> Self:
        """The same error, its thing within a file or a part of one that is named first."""
        self.thing = f"{name}, {self.thing}"
        return self

    def __str__(self) -> str:
        """One sentence: which thing, what it is, what it had to be, what to do.

        >>> print(UnitError("sweep", "'110' has no unit", "it must be an angle", "write it like '110 deg'"))
        sweep: '110' has no unit; it must be an angle; write it like '110 deg'
        """
        return f"{self.thing}: {self.found}; {self.needed}; {self.remedy}"


class InputError(TubingError, ValueError):
    """The input cannot be read as a job."""

    exit_status = 2


class UnitError(InputError):
    """A text is not a quantity of the kind asked for."""

    def said_of(self, thing: str) -> UnitError:
        """The same error, said of another thing (the key the text stood under)."""
        return UnitError(thing, self.found, self.needed, self.remedy)


class CatalogueError(InputError):
    """A row of a table in ``data/`` is wrong, or a name is not in the table."""


class JobError(InputError):
    """A key of a job, shop or list file is wrong."""

    mended_in = "job"


class BookError(InputError):
    """The shelf's book is none, or what is asked of it cannot be: a bar that is not there or kept for another job."""


class FitError(TubingError):
    """A sound job, but no geometry or stock fits."""

    exit_status = 3
    mended_in: MendedIn | None = "job"


class GeometryError(FitError):
    """A tube cannot be bent as asked; ``largest_radius_mm`` would fit (None: no radius does)."""

    def __init__(
        self, thing: str, found: str, needed: str, remedy: str, largest_radius_mm: float | None = None
    ) -> None:
        super().__init__(thing, found, needed, remedy)
        self.args = (thing, found, needed, remedy, largest_radius_mm)
        self.largest_radius_mm = largest_radius_mm


class ClearanceError(GeometryError):
    """Something is in a tube's way; ``missing_mm`` of clearance are missing."""

    def __init__(self, thing: str, found: str, needed: str, remedy: str, missing_mm: float) -> None:
        super().__init__(thing, found, needed, remedy)
        self.args = (thing, found, needed, remedy, missing_mm)
        self.missing_mm = missing_mm


class FlareError(FitError):
    """A flare cannot be formed on the tube."""


class DriveError(FitError):
    """The rack would leave a gear, or strike an end."""


class StockError(FitError):
    """A piece fits no bar, or there are not enough bars."""

    mended_in = "shop"


class OutputError(TubingError):
    """What was decided cannot be written: a full disk, a closed screen."""

    exit_status = 3


class CheckError(TubingError):
    """The plan failed its own independent check: a defect of this program, not of the job."""

    exit_status = 3


class InterruptError(TubingError):
    """Stopped from the keyboard."""

    exit_status = 4
