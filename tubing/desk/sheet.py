"""The sheet of a saved job, for the page to print."""

from __future__ import annotations

from pathlib import Path

from msgspec.structs import replace

from tubing.drawing.pictures import pictures, shapes
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Shop
from tubing.plan import plan
from tubing.sheet.content import job_sheet
from tubing.sheet.shelving import offcut_labels
from tubing.shelf.of_shop import book_for
from tubing.writers.page import page
from tubing.writers.plan_data import plan_data


def sheet_page(path: Path, shop: Shop) -> str:
    """The page of the command sheet, of one vehicle. Raises what reading and planning raise."""
    job = read_job(path, shop)
    planned = plan(job, shop, None, book_for(shop, [(path, replace(job, vehicles=1))]))
    mark = plan_data(planned)["mark"]
    called = f"plan {mark}, {planned.layout}, {planned.job.title}"
    drawn = pictures(shapes(planned), "mm", called)
    return page(job_sheet(planned, with_glass=True), drawn, mark, "", offcut_labels(planned.nest, called, "mm"))
