"""A shop's file when its shelf becomes a book: the only door to tomlkit. All else in the file stays as it is."""

from __future__ import annotations

from collections.abc import MutableMapping
from typing import Any

import tomlkit


def with_book(text: str, book: str) -> str:
    """The shop's text with ``[shelf] file``, without the bars that the book has taken over.

    >>> print(with_book('[bench] # mine\\nkerf = "1 mm"\\n\\n[[shelf]]\\ntube = "steel-8"\\n', "shelf.sqlite"))
    [bench] # mine
    kerf = "1 mm"
    <BLANKLINE>
    [shelf]
    file = "shelf.sqlite"
    <BLANKLINE>
    """
    byte_order_mark = text[:1] if text[:1] == "\ufeff" else ""
    file = tomlkit.parse(text.removeprefix("\ufeff"))
    file.pop("shelf", None)
    for stock in file.get("stock", ()):
        assert isinstance(stock, MutableMapping), "the shop was read before"
        stock.pop("bars", None)
    shelf: Any = tomlkit.table()
    shelf.add("file", book)
    file.add("shelf", shelf)
    return byte_order_mark + tomlkit.dumps(file)
