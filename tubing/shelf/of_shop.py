"""The book of a shop's shelf, for whoever plans."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from tubing.inputs.records import Job, Shop
from tubing.shelf.records import ByBook, Shelf, by_book


def shelf_of(shop: Shop) -> Shelf | None:
    """The book of a shop's shelf as it stands now; None: none is kept. Raises what opening it raises."""
    if not shop.book:
        return None
    from tubing.shelf.door import opened  # a shop without a book need not load the database
    from tubing.shelf.reading import shelf

    path = Path(shop.book)
    with opened(path) as connection:
        return shelf(connection, path)


def book_for(shop: Shop, jobs: Sequence[tuple[Path, Job]]) -> ByBook | None:
    """The book, for every vehicle of some jobs in order; None: none is kept. Raises what opening it raises."""
    return book_for_files(shop, [path for path, job in jobs for _ in range(job.vehicles)])


def book_for_files(shop: Shop, files: Sequence[Path]) -> ByBook | None:
    """The book, for one vehicle each time that a job's file is named. Raises as :func:`book_for` does."""
    now = shelf_of(shop)
    if now is None:
        return None
    return by_book(now, [str(file.resolve()) for file in files])
