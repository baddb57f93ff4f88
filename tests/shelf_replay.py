"""A second reading of the shelf's book that shares no code with the first: plain SQL over its rows, and its sums.

What is derived here follows from double entry: every length that leaves a place comes to another.
"""

from __future__ import annotations

import json
import sqlite3
from collections import defaultdict
from contextlib import closing
from pathlib import Path


def rows_of(path: Path) -> dict[str, list[tuple]]:
    """Every table of a book, row by row."""
    with closing(sqlite3.connect(path)) as book:
        tables = [name for (name,) in book.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")]
        return {table: sorted(book.execute(f"SELECT * FROM {table}").fetchall(), key=repr) for table in tables}


def check_replay(path: Path) -> dict[int, int]:
    """Go through all movements in order and hold every rule of the book; the bars on the shelf with their lengths.

    Nothing leaves a place that is not there. A bar lies in one place, whole, until it is cut. A cut bar is its pieces,
    what is left and scrap, to the last picometre. No number stands for two bars.
    """
    with closing(sqlite3.connect(path)) as book:
        assert book.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert book.execute("PRAGMA foreign_key_check").fetchall() == []
        lengths = dict(book.execute("SELECT number, length_pm FROM bar"))
        given = [number for (number,) in book.execute("SELECT number FROM given")]
        promised = [
            bar["offcut"]
            for (text,) in book.execute("SELECT stock_plan FROM keeping")
            for bar in json.loads(text)["bars"]
            if bar["offcut"] is not None
        ]
        movements = book.execute(
            "SELECT from_place, from_bar, to_place, to_bar, length_pm, keeping FROM movement ORDER BY number"
        ).fetchall()
    assert len(set(given)) == len(given)
    assert set(lengths) | set(promised) <= set(given)
    lies: dict[tuple, int] = defaultdict(int)
    for from_place, from_bar, to_place, to_bar, length, keeping in movements:
        lies[from_place, from_bar, keeping if from_place == "kept" else None] -= length
        lies[to_place, to_bar, keeping if to_place == "kept" else None] += length
        assert all(amount >= 0 for (place, *_), amount in lies.items() if place != "bought")
    assert sum(lies.values()) == 0
    shelf: dict[int, int] = {}
    for (place, bar, _), amount in lies.items():
        if place in ("shelf", "kept") and amount:
            assert amount == lengths[bar], "a bar on the shelf is whole"
            assert bar not in shelf, "a bar lies in one place"
            shelf[bar] = amount
    bought = -sum(amount for (place, *_), amount in lies.items() if place == "bought")
    rest = sum(amount for (place, *_), amount in lies.items() if place in ("cut", "scrap"))
    assert bought == sum(shelf.values()) + rest, "bars in = pieces + kerfs + trims + offcuts + scrap"
    return shelf
