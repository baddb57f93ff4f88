"""The command that writes what a customer is offered."""

from __future__ import annotations

import re
import sys
from datetime import date
from pathlib import Path

from msgspec import Struct

from tubing.commands.output import naming_files, path_or_none, print_data, print_sheet
from tubing.desk.papers import offer_of
from tubing.errors import JobError
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import read_shop
from tubing.inputs.whole_files import new_file
from tubing.sheet.words import visible

DATE = re.compile(r"20[0-9]{2}-[0-9]{2}-[0-9]{2}")
LONGEST = 100  # letters of a name or number


class Asked(Struct, frozen=True):
    """The words of ``quote``."""

    job: str
    layouts: tuple[str, ...]  # empty: all of the job
    customer: str
    number: str  # empty: the date and the plan's mark
    date: str | None  # None: today
    output: str | None
    shop: str | None


def write_quote(asked: Asked, *, as_json: bool) -> None:
    """``quote``. Raises what reading and planning raise, FitError with the layout that does not fit."""
    shop = read_shop(path_or_none(asked.shop))
    on = _date(asked.date)
    for option, word in (("--customer", asked.customer), ("--number", asked.number)):
        if len(word) > LONGEST:
            raise JobError(option, f"it is {len(word)} letters long", f"it must be at most {LONGEST}", "shorten it")
    path = Path(asked.job)
    job = read_job(path, shop)  # what is wrong with the file itself is told under its own name
    with naming_files(path, path_or_none(asked.shop)):
        offer = offer_of(path, job, shop, asked.layouts, asked.customer, asked.number, on)
    if as_json:
        from tubing.writers.quote_data import quote_data

        print_data(quote_data(offer))
    elif asked.output is not None:
        from tubing.writers.page import quote_page

        new_file(Path(asked.output), quote_page(offer))
        sys.stdout.write(f"{visible(asked.output)}: quote {visible(offer.number)}, to print or to send\n")
    else:
        from tubing.sheet.quote_paper import quote_sheet

        print_sheet(quote_sheet(offer))


def _date(word: str | None) -> date:
    """A day of this century. Raises JobError."""
    if word is None:
        return date.today()
    try:
        if not DATE.fullmatch(word):
            raise ValueError
        return date.fromisoformat(word)
    except ValueError:
        raise JobError(
            "--date", f"it is {word!r}", "it must be a day, year first", "write it like 2026-05-31"
        ) from None
