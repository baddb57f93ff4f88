"""One look: a job's text planned and drawn for the page, with what changed since the saved file."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from tubing.cost import Cost, compare
from tubing.desk.job_form import at_fault, groups_of, told
from tubing.drawing.pictures import shapes
from tubing.drawing.run_picture import run_picture
from tubing.drawing.screen_picture import screen_picture
from tubing.drawing.turned_run import turned_ports, turned_run
from tubing.errors import InputError, TubingError
from tubing.inputs.job_file import job_of
from tubing.inputs.records import Job, Shop
from tubing.inputs.shop_file import data_folder, read_shop, shop_of
from tubing.inputs.toml_files import toml_of
from tubing.plan import Plan, plan
from tubing.sheet.content import job_sheet
from tubing.sheet.costing import comparison_table
from tubing.sheet.records import Column, Lines, Part, Table
from tubing.sheet.sections import part_of, says_something
from tubing.sheet.shop_tables import tables_sheet
from tubing.sheet.words import counted
from tubing.shelf.of_shop import book_for_files
from tubing.shelf.records import ByBook
from tubing.writers.compared import changed_facts, facts
from tubing.writers.desk_pages import error_fragment, look_fragment, parts_fragment
from tubing.writers.plan_data import plan_data

SHOWN = ("cut_list", "bends", "saw_list", "holes", "park", "stock")
KEPT = 8  # plans of saved texts that are remembered


class Task(Struct, frozen=True):
    """What is to be looked at."""

    name: str
    text: str
    saved: str  # the text of the file on disk, for what changed
    shop: str  # the shop's file; empty: the one that comes with the program
    layout: str  # empty: the one that the job names
    file: str = ""  # the job's file, by which the shelf's book knows it


class Look(Struct, frozen=True):
    """What the page shows of it."""

    html: str = ""
    said: str = ""  # one line for whoever does not see the page
    error: str = ""
    at: tuple[str | int, ...] | None = None  # the field that the error is of


def current_shop(path: str) -> Shop:
    """The shop as its file and tables stand now; read anew only where one of them was written since.

    Raises what reading it raises.
    """
    own = Path(path) if path else data_folder() / "shop.toml"
    files = [own, *sorted(own.parent.glob("*.csv")), *sorted(data_folder().glob("*.csv"))]
    stamps = tuple((str(file), file.stat().st_mtime_ns, file.stat().st_size) for file in files if file.is_file())
    return _shop_at(path, stamps)


@functools.lru_cache(2)
def _shop_at(path: str, _: tuple[tuple[str, int, int], ...]) -> Shop:
    return read_shop(Path(path) if path else None)


def look(task: Task) -> Look:
    """Plan a job's text and draw it. A text that cannot be planned gives a Look with the error; it never raises one."""
    try:
        shop = current_shop(task.shop)
        data = toml_of(task.text, task.name)
        job = job_of(data, task.name, shop)
    except TubingError as error:
        return Look(error=told(error), said=told(error), at=_place(error, task))
    try:
        book = book_for_files(shop, [Path(task.file)])
        planned = plan(job, shop, task.layout or None, book)
        return _shown(task, planned, _others(job, shop, planned, book))
    except TubingError as error:
        layout = task.layout if task.layout in job.layouts else job.layout
        html = "" if layout not in job.layouts else error_fragment(told(error), turned_ports(job, layout))
        return Look(error=told(error), said=told(error), html=html)


def look_at_shop(text: str, path: Path) -> Look:
    """A shop's text as the tables that it gives. A text that is no shop gives a Look with the error."""
    try:
        shop = shop_of(toml_of(text, path.name), path)
    except TubingError as error:
        return Look(error=told(error), said=told(error), at=_place(error, Task(path.name, text, text, "", "")))
    parts = tables_sheet(shop, None, "mm").parts
    said = f"{counted(len(shop.stock), 'length')} of tube, {counted(len(shop.money.prices), 'price')}, all can be read."
    return Look(html=parts_fragment(said, parts), said=said)


def _place(error: TubingError, task: Task) -> tuple[str | int, ...] | None:
    """The field that an error is of, where the text can be read at all."""
    if not isinstance(error, InputError):
        return None
    try:
        groups = groups_of(toml_of(task.text, task.name), {}, {})
    except InputError:
        return None
    return at_fault(error, groups, task.name)


def _others(job: Job, shop: Shop, planned: Plan, book: ByBook | None) -> dict[str, Cost]:
    """What each layout costs, this one first; one that does not fit is left out."""
    found = {planned.layout: planned.cost}
    for layout in job.layouts:
        if layout not in found:
            try:
                found[layout] = plan(job, shop, layout, book).cost
            except TubingError:
                continue
    return found


def _shown(task: Task, planned: Plan, costs: Mapping[str, Cost]) -> Look:
    data = plan_data(planned)
    sheet = job_sheet(planned, with_glass=planned.job.screen is not None)
    drawn = shapes(planned)
    pictures = [run_picture(drawn.run, "mm")]
    if drawn.screen is not None:
        pictures.append(screen_picture(drawn.screen, "mm"))
    parts: list[Part] = [part_of(sheet, name) for name in SHOWN if says_something(getattr(sheet, name))]
    if len(costs) > 1:
        parts.append(comparison_table(compare(costs)))
    bends = sum(len(piece.bends) for piece in planned.pieces)
    total = f"{planned.cost.total} {planned.cost.currency}" if planned.cost.complete else "a price is missing"
    settle = len(sheet.warnings.lines)
    tubes = counted(len(planned.pieces), "tube")
    said = (
        f"Plan {data['mark']}, {planned.layout}: {tubes}, {counted(bends, 'bend')}, rack "
        f"{data['drive']['rack_cut_mm']:.0f} mm, {total}; {settle} to settle first."
    )
    changed = _changed(task, data)
    drawings = [picture.svg(k) for k, picture in enumerate(pictures)]
    html = look_fragment(said, sheet.warnings, changed, drawings, turned_run(drawn.run), parts)
    return Look(html=html, said=said)


def _changed(task: Task, data: Mapping[str, Any]) -> Table | Lines | None:
    """What this text changes against the saved file; None: the two are one."""
    if task.text == task.saved:
        return None
    before = _saved_facts(replace(task, text=""))
    if before is None:
        return Lines("Changed", ("The saved file cannot be planned, so there is nothing to hold this against.",))
    rows = changed_facts(before, facts(data))
    if not rows:
        return Lines("Changed", ("Nothing that is sawn, bent, flared, drilled for or bought.",))
    columns = (Column("what"), Column("was"), Column("is now"))
    return Table("Changed against the saved file", columns, tuple(rows))


@functools.lru_cache(KEPT)
def _saved_facts(task: Task) -> dict[str, str] | None:
    """The facts of a saved file's plan; None where it cannot be planned."""
    try:
        shop = current_shop(task.shop)
        job = job_of(toml_of(task.saved, task.name), task.name, shop)
        book = book_for_files(shop, [Path(task.file)])
        return facts(plan_data(plan(job, shop, task.layout or None, book)))
    except TubingError:
        return None
