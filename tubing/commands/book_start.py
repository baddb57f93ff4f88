"""The command that begins a book of the shelf and takes over the bars that the shop's file lists."""

from __future__ import annotations

import sys
from pathlib import Path

from tubing.commands.shelving import tell
from tubing.errors import BookError, CheckError, JobError
from tubing.inputs.records import Shop, StockBar
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.inputs.whole_files import replace_text
from tubing.sheet.words import visible
from tubing.shelf import stock_changes
from tubing.shelf.door import begun
from tubing.shelf.reading import history
from tubing.shelf.records import Entered, NewBar
from tubing.units import exact_mm

KEY = "start"
USUAL = "shelf.sqlite"


def start_book(name: str | None, word: str | None) -> None:
    """``shelf start``: first the bars are in the book, then the shop's file says so, whole or not at all.

    Cut off in between, the same command goes on. Raises BookError for a book that has a history of its own.
    """
    path = data_folder() / "shop.toml" if word is None else Path(word)
    shop = read_shop(path)
    book = Path(shop.book) if shop.book and name is None else path.resolve().parent / _plain(name or USUAL)
    if shop.book and Path(shop.book) != book:
        raise BookError(path.name, f"its book is {shop.book} already", "a shelf has one book", "leave FILE out")
    taken = [] if shop.book else _taken_over(shop)
    with begun(book) as connection:
        past = history(connection)
        if not shop.book and past and KEY not in {each.kind for each in past}:
            raise BookError(
                str(book),
                "it has a history of its own",
                "a shop's list is taken over into a new book",
                "name another file, or write [shelf] file into the shop's file by hand, in place of the list",
            )
        done = stock_changes.add(connection, taken, KEY, kind=KEY) if taken else None
    if not shop.book:
        _point_to(path, book.name, shop)
    _say(book, path, done, already=bool(shop.book))


def _plain(name: str) -> str:
    """Raises JobError for a name with a folder in it."""
    if Path(name).name != name or not name.strip():
        raise JobError(
            "FILE", f"it is {name!r}", "it must be a plain name: the book lies beside the shop's file", f"write {USUAL}"
        )
    return name


def _say(book: Path, path: Path, done: Entered | None, *, already: bool) -> None:
    if done is not None:
        tell(done)
    what = "names this book already" if already else "now names it under [shelf]"
    sys.stdout.write(f"The book is {visible(str(book))}; {visible(path.name)} {what}.\n")
    if done is not None and done.bars:
        sys.stdout.write("Write the numbers on the bars: tubing shelf lists them, tubing shelf labels prints them.\n")


def _taken_over(shop: Shop) -> list[NewBar]:
    """Every bar that the shop's file counts, one by one."""
    return [_new(bar) for bar in shop.stock if bar.on_shelf or bar.bars is not None for _ in range(bar.bars or 1)]


def _new(bar: StockBar) -> NewBar:
    return NewBar(bar.tube, exact_mm(bar.length), bar.ready_ends, None if bar.priced_by_length else bar.price_cents)


def _point_to(path: Path, name: str, shop: Shop) -> None:
    """Write ``[shelf] file`` into the shop's file in place of its list."""
    from tubing.inputs.rewriting import with_book

    before = path.read_bytes().decode("utf-8")

    def check(temporary: Path) -> None:
        again = read_shop(temporary)
        if Path(again.book).name != name or again.catalogue != shop.catalogue or again.money != shop.money:
            raise CheckError(
                "shelf start", "the shop reads otherwise than before", "only its shelf may change", "report it"
            )

    replace_text(path, before, with_book(before, name), check)
