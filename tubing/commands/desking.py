"""The command that opens the desk."""

from __future__ import annotations

import sys
from pathlib import Path

from tubing.commands.output import path_or_none
from tubing.errors import JobError
from tubing.inputs.shop_file import read_shop
from tubing.sheet.words import visible


def open_desk(folder: str, shop: str | None, *, browser: bool) -> None:
    """``desk``. Raises JobError for a folder that is none, and what reading the shop raises."""
    path = Path(folder)
    if not path.is_dir():
        raise JobError(
            folder,
            "it is a file" if path.exists() else "there is no such folder",
            "it must be the folder with your jobs",
            "name it, or start the desk in it",
        )
    own = path / "shop.toml"
    used = path_or_none(shop) or (own if own.is_file() else None)
    read_shop(used)  # what is wrong with it is told here, not on every page
    from tubing.desk.serving import serve

    serve(path, used, lambda address: _opened(address, browser))
    sys.stdout.write("The desk is closed.\n")


def _opened(address: str, browser: bool) -> None:
    sys.stdout.write(
        f"The desk is at {visible(address)}\nIt ends with Ctrl-C, or ten minutes after the last page is closed.\n"
    )
    sys.stdout.flush()
    if browser:
        import webbrowser

        webbrowser.open(address)
