"""What every command needs: the show asked for, the shop's file, a sheet or data to the screen."""

from __future__ import annotations

import json
import os
import shutil
import sys
from pathlib import Path
from typing import Any

from tubing.errors import JobError
from tubing.inputs.table_rows import near
from tubing.sheet.records import Sheet, Show

SHOWS: dict[str, Show] = {"mm": "mm", "in": "in"}


def show_of(word: str) -> Show:
    """Raises JobError for any word but mm and in."""
    if word not in SHOWS:
        raise JobError("--show", f"it is {word!r}", "it must be mm or in", near(word, SHOWS))
    return SHOWS[word]


def path_or_none(word: str | None) -> Path | None:
    """A file's path, where one is given."""
    return None if word is None else Path(word)


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
    sys.stdout.write(json.dumps(data, indent=2, allow_nan=False) + "\n")
