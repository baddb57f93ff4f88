"""What a sheet is made of: tables whose numbers are still numbers, and lines of words.

Everything that is drawn or written to a file is one of these records, so no two forms of the sheet can disagree.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Literal

from msgspec import Struct

Show = Literal["mm", "in"]  # "in": inches beside the millimetres
Cell = str | int | float | Fraction | Decimal | None  # Decimal: money, printed as it is; None: an empty cell


class Column(Struct, frozen=True):
    """One column of a table; its numbers are in ``unit`` and printed to ``places`` decimals."""

    heading: str
    unit: str = ""  # empty: words or a count
    places: int = 1


class Measure(Struct, frozen=True):
    """A number with a unit of its own, for a table whose rows measure different things."""

    value: float | Fraction
    unit: str
    places: int = 1


class Table(Struct, frozen=True):
    """Rows under headings, with lines of words that belong to it."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell | Measure, ...], ...]
    before: tuple[str, ...] = ()  # how to read the table
    after: tuple[str, ...] = ()  # what follows from it
    subject: str = ""  # what the title is of, as the fitter named it
    piece: str = ""  # id of the piece that the table is of; empty: of all, or of none


class Lines(Struct, frozen=True):
    """Sentences under a heading; ``numbered`` where their order matters."""

    title: str
    lines: tuple[str, ...]
    numbered: bool = False


Part = Table | Lines


class Sheet(Struct, frozen=True):
    """A heading and what stands under it, in order."""

    title: str
    parts: tuple[Part, ...]
    show: Show = "mm"


class JobSheet(Struct, frozen=True):
    """All that the sheet of one plan says, each thing by its name."""

    title: str
    show: Show
    head: Table  # the title block
    warnings: Lines  # what the fitter has to settle; may be empty
    points: Table  # where taped points are; without rows where nothing was taped
    readings: Table  # of the tape, the doubtful ones first
    cut_list: Table
    fit_list: Table  # bends, radii and what is pulled in, by piece
    sureness: Table  # what the tape's error does; without rows where none is stated
    as_cut: Table  # pieces that were cut already; may be without rows
    schedules: tuple[Table, ...]  # one for each bent piece
    ports: Table  # where the boxes' grooves come
    clips: Table
    in_the_way: Table  # without rows where the job names nothing
    bars: Table
    saw_lists: tuple[Table, ...]  # one for each kind of bar
    drive: Table
    boxes: Table  # turn, pull, sweep, lost motion by wheelbox
    motion: Table  # over the crank's turn
    holes: Table
    park: Table
    glass: Table  # what the arms wipe; without rows where the job has no screen
    chosen: Lines  # where the job left something free; may be empty
    parts: Table  # to buy
    cost: Table
    work: Lines  # order of work at the bench
    cautions: Lines
    notes: Lines  # what was taken for granted
    trial_pieces: Table  # on paper only; without rows where all was tried

    @property
    def sheet(self) -> Sheet:
        """The same as one run of parts, in the order in which they are wanted at the bench; empty ones left out."""
        parts: list[Part] = [self.head, self.warnings, self.cut_list, self.fit_list, self.sureness, self.as_cut]
        parts += [*self.schedules, self.bars, *self.saw_lists, self.ports, self.clips, self.in_the_way]
        parts += [self.points, self.readings]
        parts += [self.drive, self.boxes, self.motion, self.holes, self.park, self.glass, self.chosen]
        parts += [self.parts, self.cost, self.work, self.cautions, self.notes]
        return Sheet(self.title, tuple(part for part in parts if _says_something(part)), self.show)


def _says_something(part: Part) -> bool:
    return bool(part.rows) if isinstance(part, Table) else bool(part.lines)
