"""A shop whose shelf is kept as a book, in a folder of its own with jobs beside it; all of it invented."""

from __future__ import annotations

from pathlib import Path

from tubing.inputs.job_file import read_job
from tubing.inputs.records import Job, Shop
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.shelf.door import begun, opened
from tubing.shelf.reading import shelf
from tubing.shelf.records import ByBook, Entered, NewBar, Shelf, by_book
from tubing.shelf.stock_changes import add

BOOK = "shelf.sqlite"


def shop_with_book(folder: Path, *bars: NewBar, without_stock: str = "") -> Path:
    """A shop file in the folder that names a book with these bars, and else says what the invented shop says.

    ``without_stock``: a length of new bars that this shop cannot buy.
    """
    text = (data_folder() / "shop.toml").read_text(encoding="utf-8")
    head, rest = text.split("[[shelf]]", 1)
    text = head.replace("bars   = 4\n", "") + rest[rest.index("[offcuts]") :] + f'\n[shelf]\nfile = "{BOOK}"\n'
    if without_stock:
        before, after = text.split(f'[[stock]]\ntube   = "steel-8"\nlength = "{without_stock}"', 1)
        text = before + after[after.index("[[stock]]") :]
    path = folder / "shop.toml"
    path.write_text(text, encoding="utf-8")
    with begun(folder / BOOK) as connection:
        if bars:
            add(connection, bars, "the first bars")
    return path


def job_in(folder: Path, demo: str, name: str = "", *changes: tuple[str, str]) -> Path:
    """A demo job in the folder under a name of its own, with words replaced."""
    text = (data_folder() / "jobs" / f"{demo}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = folder / f"{name or demo}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def now(folder: Path) -> Shelf:
    """The book as it stands."""
    path = folder / BOOK
    with opened(path) as connection:
        return shelf(connection, path)


def asked(folder: Path, *paths: Path) -> tuple[list[Job], Shop, ByBook]:
    """What planning wants to know of these jobs, one vehicle each."""
    shop = read_shop(folder / "shop.toml")
    jobs = {path: read_job(path, shop) for path in paths}
    return [jobs[path] for path in paths], shop, by_book(now(folder), [str(path.resolve()) for path in paths])


def entered(folder: Path, *bars: NewBar, key: str) -> Entered:
    """More bars into the book."""
    with opened(folder / BOOK) as connection:
        return add(connection, bars, key)
