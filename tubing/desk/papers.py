"""What is printed of a saved job: the sheet, and what the customer is offered."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from tubing.drawing.pictures import Shapes, pictures, shapes
from tubing.errors import FitError, JobError
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Job, Shop
from tubing.plan import Plan, plan
from tubing.quote import Quote, quote
from tubing.sheet.content import job_sheet
from tubing.sheet.records import JobSheet, Show
from tubing.sheet.shelf_tables import offcut_labels
from tubing.shelf.of_shop import book_for_files
from tubing.shelf.records import ByBook
from tubing.writers.compared import plan_called
from tubing.writers.page import page
from tubing.writers.plan_data import plan_data


def saved_sheet(path: Path, shop: Shop) -> str:
    """The page of the sheet of a saved job, of one vehicle. Raises what reading and planning raise."""
    planned = plan(read_job(path, shop), shop, None, book_for_files(shop, [path]))
    return sheet_page(planned, job_sheet(planned, with_glass=True), shapes(planned), "mm", plan_data(planned)["mark"])


def sheet_page(planned: Plan, sheet: JobSheet, drawn: Shapes, show: Show, mark: str, changed: str = "") -> str:
    """The page of a plan's sheet, with its pictures and labels. ``changed``: as :func:`page` takes it."""
    called = plan_called(planned, mark)
    return page(sheet, pictures(drawn, show, called), mark, changed, offcut_labels(planned.nest, called, show))


def offer_of(path: Path, job: Job, shop: Shop, layouts: Sequence[str], customer: str, number: str, on: date) -> Quote:
    """The quote for a job and its file; without ``layouts`` all of it, without a number the date and the plan's mark.

    Raises what planning raises, FitError with the layout that does not fit, JobError for a shop without
    [business] or a price that is missing.
    """
    if shop.business is None:
        raise JobError(
            "business", "it is not given", "a quote says who offers", 'add a section [business] with name = "..."'
        ).of_shop()
    book = book_for_files(shop, [path])
    plans = {name: _layout(name, job, shop, book) for name in layouts or tuple(job.layouts)}
    return quote(
        {name: planned.cost for name, planned in plans.items()},
        shop.business,
        title=job.title,
        customer=customer,
        number=number or f"{on:%Y%m%d}-{plan_data(next(iter(plans.values())))['mark']}",
        on=on,
    )


def _layout(layout: str, job: Job, shop: Shop, book: ByBook | None) -> Plan:
    """One layout planned. Raises FitError with the layout's name, and what else there is to do."""
    try:
        return plan(job, shop, layout, book)
    except FitError as error:
        error.remedy += "; or offer the others alone: --layout NAME"
        raise error.within(f"layout {layout}") from None
