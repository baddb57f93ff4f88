"""How long the shelf's book takes when it is old: medians over a book of ten thousand operations. All bars invented.

python tests/bench/bench_shelf.py
"""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from tests.unit.test_shelf_book import plan_on
from tubing.shelf import stock_changes
from tubing.shelf.door import begun, opened
from tubing.shelf.kept_bars import cut, keep
from tubing.shelf.reading import history, live_keepings, shelf
from tubing.shelf.records import NewBar, Vehicle

OPERATIONS = 10_000
RUNS = 15


def grown(path: Path) -> None:
    """Years of work: bars come, are kept and cut, and most offcuts are left lying."""
    chance = random.Random(0)
    with begun(path) as book:
        book.execute("PRAGMA synchronous = OFF")  # for the growing alone
        free: list[int] = []
        for k in range(OPERATIONS // 3):
            free += stock_changes.add(book, [NewBar("steel-8", Fraction(1000), (), 640)], f"add {k}").bars
            if len(free) > 60:
                bar = free.pop(chance.randrange(len(free)))
                length = 1000 if (row := shelf_length(book, bar)) is None else row
                keep(book, plan_on(bar, 200, bar_mm=length, vehicle=Vehicle(f"{k}.toml")), f"keep {k}")
                free += [n for n in cut(book, live_keepings(book), f"cut {k}").bars if chance.random() < 0.02]


def shelf_length(book: object, bar: int) -> int | None:
    row = book.execute("SELECT length_pm FROM bar WHERE number = ?", (bar,)).fetchone()  # type: ignore[attr-defined]
    return None if row is None else row[0] // 10**9


def median_ms(what: Callable[[], object]) -> float:
    """The median of some runs, in milliseconds."""
    took = []
    for _ in range(RUNS):
        started = time.perf_counter()
        what()
        took.append(time.perf_counter() - started)
    return 1000 * statistics.median(took)


def main() -> None:
    """One line for each thing that a command does."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "shelf.sqlite"
        grown(path)
        print(f"{path.stat().st_size / 1e6:.1f} MB")
        with opened(path) as book:
            print(f"{len(history(book))} operations, {len(shelf(book, path).bars)} bars on the shelf")
            keys = iter(range(10**6))
            print(f"open     {median_ms(lambda: opened(path).__enter__()):7.1f} ms")
            print(f"read     {median_ms(lambda: shelf(book, path)):7.1f} ms")
            print(f"history  {median_ms(lambda: history(book)):7.1f} ms")
            add = [NewBar("steel-8", Fraction(640))]
            print(f"add      {median_ms(lambda: stock_changes.add(book, add, f'k{next(keys)}')):7.1f} ms")
            print(f"undo     {median_ms(lambda: stock_changes.undo(book)):7.1f} ms")


if __name__ == "__main__":
    main()
