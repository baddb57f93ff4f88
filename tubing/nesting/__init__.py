"""Pieces on bars at least cost, with proof: the only door to pulp and highspy.

Item:    a piece to cut, so many times.             Literature: item, order.
Stock:   a bar that can be bought or is on the shelf. Literature: roll, bin.
Kind:    pieces of one length and one set of ends.  Literature: item type.
Pattern: what is cut from one bar.                  Literature: pattern, column.
Bound:   the plan's cost cannot be below it.        Literature: lower (dual) bound.
"""

from tubing.nesting.engine import nest
from tubing.nesting.nest_check import check_nest
from tubing.nesting.records import (
    Bar,
    BarEnd,
    Cutting,
    End,
    Item,
    Nest,
    OffcutRule,
    Progress,
    Proof,
    SavedEnd,
    Stock,
)

__all__ = [
    "Bar",
    "BarEnd",
    "Cutting",
    "End",
    "Item",
    "Nest",
    "OffcutRule",
    "Progress",
    "Proof",
    "SavedEnd",
    "Stock",
    "check_nest",
    "nest",
]
