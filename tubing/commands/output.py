"""What every command needs: the show asked for, the shop's file, a sheet or data to the screen."""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tubing.errors import JobError, TubingError
from tubing.inputs.table_rows import near
from tubing.sheet.records import Sheet, Show

SHOP_NAME = "shop.toml"
SHOWS: dict[str, Show] = {"mm": "mm", "in": "in"}


def show_of(word: str) -> Show:
    """Raises JobError for any word but mm and in."""
    if word not in SHOWS:
        raise JobError("--show", f"it is {word!r}", "it must be mm or in", near(word, SHOWS))
    return SHOWS[word]


def path_or_none(word: str | None) -> Path | None:
    """A file's path, where one is given."""
    return None if word is None else Path(word)


@contextmanager
def naming_files(job: Path | None, shop: Path | None, *, stock_in: str | None = None) -> Iterator[None]:
    """Around planning: an error of a job or shop that was read without fault names first the file to be mended.

    ``job``: None where several are planned at once. ``shop``: None for the file that comes with the program.
    ``stock_in``: what names the stock instead of the shop's file, such as ``--stock``.
    """
    try:
        yield
    except TubingError as error:
        shop_name = SHOP_NAME if shop is None else shop.name
        files = {"job": None if job is None else job.name, "shop": stock_in or shop_name}
        name = None if error.mended_in is None else files[error.mended_in]
        if name is not None:
            error.within(name)
        raise


def print_sheet(sheet: Sheet) -> None:
    """Draw the sheet on the screen, or into a pipe: 80 columns wide there, unless COLUMNS says otherwise."""
    from tubing.writers import terminal

    width = shutil.get_terminal_size((80, 24)).columns
    if sys.stdout.isatty():
        terminal.show(sheet, sys.stdout, width, colour="NO_COLOR" not in os.environ)
    else:
        sys.stdout.write(terminal.draw(sheet, width))


def print_data(data: dict[str, Any]) -> None:
    """Data as JSON: in ASCII, so that no screen's encoding can change it."""
    sys.stdout.write(data_text(data))


def data_text(data: dict[str, Any]) -> str:
    """Data as JSON text, in ASCII."""
    return json.dumps(data, indent=2, allow_nan=False) + "\n"
