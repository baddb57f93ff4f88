"""The command that shows the tables in use; it needs neither the planning nor what that imports."""

from __future__ import annotations

from tubing.commands.output import path_or_none, print_sheet, show_of
from tubing.inputs.shop_file import read_shop
from tubing.sheet.shop_tables import tables_sheet


def show_tables(name: str | None, shop: str | None, show: str) -> None:
    """``tables``. Raises JobError for an unknown table, and what reading the shop raises."""
    shown = show_of(show)
    print_sheet(tables_sheet(read_shop(path_or_none(shop)), name, shown))
