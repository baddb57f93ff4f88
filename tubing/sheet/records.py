"""What a sheet is made of: tables whose numbers are still numbers, and lines of words.

Everything that is drawn or written to a file is one of these records, so no two forms of the sheet can disagree.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

Show = Literal["mm", "in"]  # "in": inches beside the millimetres
Cell = str | int | float | Fraction | Decimal | None  # Decimal: money, printed as it is; None: nothing to say here


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table; its numbers are in ``unit`` and printed to ``places`` decimals."""

    heading: str
    unit: str = ""  # empty: words or a count
    places: int = 1


@dataclass(frozen=True, slots=True)
class Measure:
    """A number with a unit of its own, for a table whose rows measure different things."""

    value: float | Fraction
    unit: str
    places: int = 1


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under headings, with lines of words that belong to it."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell | Measure, ...], ...]
    before: tuple[str, ...] = ()  # how to read the table
    after: tuple[str, ...] = ()  # what follows from it
    subject: str = ""  # what the title is of, as the fitter named it


@dataclass(frozen=True, slots=True)
class Lines:
    """Sentences under a heading; ``numbered`` where their order matters."""

    title: str
    lines: tuple[str, ...]
    numbered: bool = False


Part = Table | Lines


@dataclass(frozen=True, slots=True)
class Sheet:
    """A heading and what stands under it, in order."""

    title: str
    parts: tuple[Part, ...]
    show: Show = "mm"


@dataclass(frozen=True, slots=True)
class JobSheet:
    """All that the sheet of one plan says, each thing by its name."""

    title: str
    show: Show
    head: Table  # the title block
    warnings: Lines  # what the fitter has to settle; may be empty
    cut_list: Table
    fit_list: Table  # bends, radii and what is pulled in, by piece
    sureness: Table  # what the tape's error does; without rows where none is stated
    as_cut: Table  # pieces that were cut already; may be without rows
    schedules: tuple[Table, ...]  # one for each bent piece
    ports: Table  # where the boxes' grooves come
    clips: Table
    bars: Table
    saw_lists: tuple[Table, ...]  # one for each kind of bar
    drive: Table
    boxes: Table  # turn, pull, sweep, lost motion by wheelbox
    holes: Table
    park: Table
    glass: Table  # what the arms wipe; without rows where the job has no screen
    chosen: Lines  # where the job left something free; may be empty
    parts: Table  # to buy
    cost: Table
    work: Lines  # order of work at the bench
    cautions: Lines
    notes: Lines  # what was taken for granted

    @property
    def sheet(self) -> Sheet:
        """The same as one run of parts, in the order in which they are wanted at the bench; empty ones left out."""
        parts: list[Part] = [self.head, self.warnings, self.cut_list, self.fit_list, self.sureness, self.as_cut]
        parts += [*self.schedules, self.bars, *self.saw_lists, self.ports, self.clips, self.drive, self.boxes]
        parts += [self.holes, self.park, self.glass, self.chosen, self.parts, self.cost, self.work, self.cautions]
        parts.append(self.notes)
        return Sheet(self.title, tuple(part for part in parts if _says_something(part)), self.show)


def _says_something(part: Part) -> bool:
    return bool(part.rows) if isinstance(part, Table) else bool(part.lines)
