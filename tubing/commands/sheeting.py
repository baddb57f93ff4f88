"""The command that writes the sheet for the bench: page, tables and drawings, in a folder."""

from __future__ import annotations

import re
import sys
from collections.abc import Collection
from datetime import datetime
from pathlib import Path

from msgspec import Struct

from tubing.commands.folder import write_folder
from tubing.commands.output import data_text, naming_files, path_or_none, show_of
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import read_shop
from tubing.plan import Plan, plan_together
from tubing.sheet.records import Show
from tubing.sheet.words import visible
from tubing.shelf.of_shop import book_for

WHAT = {
    "sheet.html": "the job sheet; print it at 100 %",
    "cut-list.csv": "cut list",
    "bends.csv": "bend schedule",
    "saw-list.csv": "saw list",
    "parts.csv": "parts to buy",
    "run.dxf": "centre lines of the run, in space, mm",
    "plan.json": "the plan as data; plan JOB --against FOLDER tells what changed since",
    "templates.dxf": "drilling templates, flat, mm",
}


OURS = re.compile(rf"([0-9]+-)?({'|'.join(map(re.escape, WHAT))})")


class Asked(Struct, frozen=True):
    """The words of ``sheet``."""

    jobs: tuple[str, ...]
    folder: str
    layout: str | None
    shop: str | None
    show: str
    prices: bool
    replace: bool
    pictures: bool  # only these


def write_sheet(asked: Asked) -> None:
    """``sheet``: of one vehicle, or of each of several by one stock plan, its files then with the vehicle's number.

    Raises what reading and planning raise, and OutputError for a folder that cannot be written.
    """
    shown = show_of(asked.show)
    shop = read_shop(path_or_none(asked.shop))
    paths = [Path(name) for name in asked.jobs]
    read = {path: read_job(path, shop) for path in dict.fromkeys(paths)}
    jobs = [read[path] for path in paths]
    changed = [last_changed(path) for path, job in zip(paths, jobs, strict=True) for _ in range(job.vehicles)]
    book = book_for(shop, list(zip(paths, jobs, strict=True)))
    with naming_files(paths[0] if len(paths) == 1 else None, path_or_none(asked.shop)):
        plans = plan_together(jobs, shop, asked.layout, book)
        of_each = [
            picture_files(planned, shown)
            if asked.pictures
            else sheet_files(planned, shown, prices=asked.prices, changed=when)
            for planned, when in zip(plans, changed, strict=True)
        ]
    files: dict[str, str] = {}
    said: dict[str, str] = {}
    for number, (planned, made) in enumerate(zip(plans, of_each, strict=True), 1):
        before, of = (f"{number}-", f" ({planned.job.title})") if len(plans) > 1 else ("", "")
        files |= {f"{before}{name}": text for name, text in made.items()}
        said |= {f"{before}{name}": f"{WHAT.get(name, 'picture')}{of}" for name in made}
    folder = Path(asked.folder)
    write_folder(folder, {name: text.encode() for name, text in files.items()}, replace=asked.replace)
    for name, what in said.items():
        sys.stdout.write(f"{visible(str(folder / name))}: {visible(what)}\n")
    if earlier := _of_an_earlier_sheet(folder, files):
        sys.stdout.write(f"From an earlier sheet, and not of this one: {visible(', '.join(earlier))}\n")


def _of_an_earlier_sheet(folder: Path, files: Collection[str]) -> list[str]:
    """What lies in the folder under a name that a sheet's file has, and was not written now."""
    names = (path.name for path in folder.iterdir() if path.name not in files)
    return sorted(name for name in names if OURS.fullmatch(name))


def last_changed(file: Path) -> str:
    """The day and minute on which a file was last written, by the clock where the program runs."""
    return datetime.fromtimestamp(file.stat().st_mtime).strftime("%Y-%m-%d %H:%M")


def sheet_files(planned: Plan, show: Show, *, prices: bool, changed: str = "") -> dict[str, str]:
    """Every file of the sheet, by name. The names are fixed: nothing that a user typed becomes a path.

    ``changed``: when the job's file was, for the page's head; empty: not known.
    """
    from tubing.desk.papers import sheet_page
    from tubing.drawing.dxf import run_dxf, templates_dxf
    from tubing.drawing.pictures import shapes
    from tubing.sheet.content import job_sheet
    from tubing.writers.compared import PLAN_FILE, plan_called, to_keep
    from tubing.writers.csv_tables import csv_files
    from tubing.writers.plan_data import plan_data

    sheet = job_sheet(planned, show, with_glass=True, with_prices=prices)
    drawn, data = shapes(planned), plan_data(planned)
    mark, called = data["mark"], plan_called(planned, data["mark"])
    return {
        "sheet.html": sheet_page(planned, sheet, drawn, show, mark, changed),
        **csv_files(sheet, mark),
        "run.dxf": run_dxf(drawn.run, called),
        "templates.dxf": templates_dxf(drawn.templates, called),
        PLAN_FILE: data_text(to_keep(data)),
    }


def picture_files(planned: Plan, show: Show) -> dict[str, str]:
    """The pictures alone, each an SVG file."""
    from tubing.drawing.pictures import pictures, shapes
    from tubing.writers.compared import plan_called
    from tubing.writers.plan_data import plan_data

    return dict(pictures(shapes(planned), show, plan_called(planned, plan_data(planned)["mark"])).files())
