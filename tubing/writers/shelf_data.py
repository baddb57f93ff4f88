"""The shelf as data for other programs; lengths in mm."""

from __future__ import annotations

from typing import Any

from tubing.inputs.records import ReadyEnd, Shop
from tubing.shelf.records import Shelf
from tubing.units import mm

Data = dict[str, Any]


def shelf_data(shelf: Shelf) -> Data:
    """The bars of the book."""
    jobs = {keeping.number: [v.called for v in keeping.plan.vehicles] for keeping in shelf.keepings}
    return {
        "bars": [
            {
                "number": bar.number,
                "tube": bar.tube,
                "length_mm": float(bar.length_mm),
                "ready_ends": _ends(bar.ready_ends),
                "state": "free" if bar.keeping is None else "kept",
                "job": None if bar.keeping is None else ", ".join(jobs[bar.keeping]),
                "since": bar.since,
            }
            for bar in shelf.bars
        ]
    }


def listed_data(shop: Shop) -> Data:
    """The bars that a shop without a book lists in its file."""
    return {
        "bars": [
            {
                "number": None,
                "tube": bar.tube,
                "length_mm": mm(bar.length),
                "ready_ends": _ends(bar.ready_ends),
                "state": "free",
                "job": None,
                "since": None,
            }
            for bar in shop.stock
            if bar.on_shelf
            for _ in range(bar.bars or 1)
        ]
    }


def _ends(ends: tuple[ReadyEnd, ...]) -> list[Data]:
    return [{"flare": end.flare, "nut": end.nut} for end in ends]
