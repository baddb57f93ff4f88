"""The command that writes the measuring form."""

from __future__ import annotations

import sys
from pathlib import Path

from tubing.commands.output import path_or_none
from tubing.errors import JobError
from tubing.inputs.shop_file import read_shop
from tubing.inputs.whole_files import new_file
from tubing.sheet.words import visible

MOST_BOXES = 6


def write_form(boxes: str, to: str, word: str | None) -> None:
    """``form``. Raises JobError for a count that is none, OutputError where a file is there already."""
    if boxes not in [str(k) for k in range(1, MOST_BOXES + 1)]:
        raise JobError("--boxes", f"it is {boxes!r}", f"it must be a number from 1 to {MOST_BOXES}", "write --boxes 3")
    from tubing.drawing.form_pictures import form_pictures
    from tubing.sheet.measuring_form import measuring_form
    from tubing.writers.page import form_page

    shop = read_shop(path_or_none(word))
    new_file(Path(to), form_page(measuring_form(shop, int(boxes)), form_pictures(), shop.business))
    sys.stdout.write(f"{visible(to)}: the measuring form, to print or to send\n")
