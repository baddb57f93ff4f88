"""The sections of a job sheet: what stands together, and in which order."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from tubing.sheet.records import JobSheet, Part, Sheet, Table
from tubing.sheet.told_once import told_once

SECTIONS: Mapping[str, tuple[str, ...]] = {
    "bench": ("head", "warnings", "cut_list", "as_cut", "saw_list", "bends", "work", "cautions"),
    "vehicle": ("fitting", "fit_list", "sureness", "holes", "ports", "clips", "in_the_way"),
    "tape": ("points", "readings"),
    "drive": ("drive", "boxes", "motion", "park"),
    "glass": ("glass",),
    "buying": ("cost", "parts", "stock"),
    "notes": ("chosen", "notes"),
}
"""The names of what each section says, in the order in which a sheet has them."""

BENCH, GLASS = "bench", "glass"
BRIEF = frozenset(("saw_list", "bends", "fit_list", "sureness", "holes", "ports", "clips", "boxes", "in_the_way"))
"""The tables in which what says the same in every row is told once."""


def part_of(sheet: JobSheet, name: str) -> Part:
    """One thing that the sheet says, as it is told to a reader."""
    part = getattr(sheet, name)
    return told_once(part, sheet.show) if name in BRIEF else part


def said_in(sheet: JobSheet, section: str) -> list[str]:
    """The names of what a section says of this job. Parts to buy are told with their prices, where prices are told."""
    names = [name for name in SECTIONS[section] if says_something(getattr(sheet, name))]
    return [name for name in names if name != "parts" or "cost" not in names]


def says_something(part: Part) -> bool:
    """Whether there is a row or a line in it."""
    return bool(part.rows) if isinstance(part, Table) else bool(part.lines)


def filled_sections(sheet: JobSheet) -> list[str]:
    """The sections in which something is said, in order."""
    return [section for section in SECTIONS if said_in(sheet, section)]


def sheet_of(sheet: JobSheet, sections: Collection[str] = tuple(SECTIONS)) -> Sheet:
    """The named sections as one run of parts, in the sheet's own order; what says nothing is left out."""
    names = [name for section in SECTIONS if section in sections for name in said_in(sheet, section)]
    return Sheet(sheet.title, tuple(part_of(sheet, name) for name in names), sheet.show)
