"""A file of the fitter's changed in one place, all else left as it is: the only door to tomlkit."""

from __future__ import annotations

from collections.abc import MutableMapping, Sequence
from typing import Any

import tomlkit

from tubing.errors import JobError
from tubing.inputs.toml_files import toml_of


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
    mark, file = _parsed(text)
    file.pop("shelf", None)
    for stock in file.get("stock", ()):
        assert isinstance(stock, MutableMapping), "the shop was read before"
        stock.pop("bars", None)
    shelf: Any = tomlkit.table()
    shelf.add("file", book)
    file.add("shelf", shelf)
    return mark + tomlkit.dumps(file)


def with_value(text: str, name: str, path: Sequence[str | int], value: Any) -> str:
    """A text with one value changed; what stands beside it and around it stays as it is.

    ``path``: keys, and places in lists from 0. Raises JobError where the text is no TOML or has no such value.

    >>> with_value('hole = ["1 mm", "2 mm"] # measured twice\\n', "van.toml", ["hole"], ["1 mm", "3 mm"])
    'hole = ["1 mm", "3 mm"] # measured twice\\n'
    """
    toml_of(text, name)  # tells what is wrong with it in our words
    mark, at = _parsed(text)
    file = at
    try:
        for step in path[:-1]:
            at = at[step]
        last = path[-1]
        old = at[last]
    except (LookupError, TypeError) as cause:
        place = ", ".join(map(str, path))
        raise JobError(name, f"there is no {place}", "it must be a value of the job", "load it anew") from cause
    if isinstance(value, list) and isinstance(old, list) and len(value) == len(old):
        for k, part in enumerate(value):
            if old[k] != part:
                old[k] = part
    elif old != value:
        at[last] = value
    return mark + tomlkit.dumps(file)


def _parsed(text: str) -> tuple[str, Any]:
    """A byte order mark, and the rest as tomlkit's document."""
    mark = text[:1] if text[:1] == "\ufeff" else ""
    return mark, tomlkit.parse(text.removeprefix("\ufeff"))
