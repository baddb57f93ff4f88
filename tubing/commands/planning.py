"""The commands that plan a job: plan, cost, sweep."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from msgspec.structs import replace

from tubing.commands.output import naming_files, path_or_none, print_data, print_sheet, show_of
from tubing.cost import Cost
from tubing.errors import FitError, JobError
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Job, Shop
from tubing.inputs.shop_file import read_shop
from tubing.inputs.table_rows import near
from tubing.plan import plan
from tubing.sheet.records import JobSheet, Lines, Part, Sheet
from tubing.sheet.sections import BENCH, GLASS, SECTIONS, filled_sections, sheet_of
from tubing.sheet.words import listed
from tubing.shelf.of_shop import book_for_files
from tubing.shelf.records import ByBook


def _read(job: str, shop: str | None) -> tuple[Job, Shop]:
    read = read_shop(path_or_none(shop))
    return read_job(Path(job), read), read


def plan_job(
    job: str,
    layout: str | None,
    shop: str | None,
    *,
    as_json: bool,
    show: str,
    against: str | None = None,
    sections: Sequence[str] = (BENCH,),
) -> None:
    """``plan``: the named sections of the job sheet.

    Raises what reading and planning raise, and JobError for a section or an earlier plan that is none.
    """
    shown = show_of(show)
    _check_sections(sections)
    before = None
    if against is not None:
        from tubing.writers.compared import earlier_plan

        before = earlier_plan(Path(against))
    read = _read(job, shop)
    book = book_for_files(read[1], [Path(job)])
    with naming_files(Path(job), path_or_none(shop)):
        planned = plan(*read, layout, book)
    if before is not None and against is not None:
        from tubing.writers.compared import changes_sheet
        from tubing.writers.plan_data import plan_data

        print_sheet(changes_sheet(planned.job.title, before, plan_data(planned), Path(against).name))
    elif as_json:
        from tubing.writers.plan_data import plan_data

        print_data(plan_data(planned))
    else:
        from tubing.sheet.content import job_sheet

        with naming_files(Path(job), path_or_none(shop)):
            made = job_sheet(planned, shown, with_glass=GLASS in sections)
        more = [GLASS] if planned.job.screen is not None and GLASS not in sections else []
        print_sheet(_with_sections(made, sections, more))


def _check_sections(names: Sequence[str]) -> None:
    """Raises JobError for a section that no sheet has."""
    for name in names:
        if name not in SECTIONS:
            raise JobError(
                f"section {name!r}",
                "the sheet has no such section",
                f"it must be one of {', '.join(SECTIONS)}",
                "for several vehicles use sheet or nest" if name.endswith(".toml") else near(name, SECTIONS),
            )


def _with_sections(sheet: JobSheet, names: Sequence[str], more: Sequence[str]) -> Sheet:
    """The named sections, and a line that says which others there are; ``more``: those not worked out."""
    said = sheet_of(sheet, names)
    others = {*filled_sections(sheet), *more}.difference(names)
    left_out = [name for name in SECTIONS if name in others]
    if not said.parts:
        said = replace(said, parts=(Lines("Nothing to say", (f"This job has nothing under {listed(list(names))}.",)),))
    return replace(said, parts=(*said.parts, *_left_out(left_out)))


def _left_out(names: list[str]) -> list[Part]:
    """One line that says what is not printed, and how it is to be had."""
    if not names:
        return []
    how = "name those that you want after the job's file, or add --all"
    return [Lines("Left out", (f"{listed(names)}: {how}.",))]


def _cost_of(layout: str, job: Job, shop: Shop, book: ByBook | None) -> Cost:
    """What one layout costs. Raises what planning raises; FitError names the layout."""
    try:
        return plan(job, shop, layout, book).cost
    except FitError as error:
        raise error.within(f"layout {layout}") from None


def cost_job(job: str, layout: str | None, shop: str | None, *, as_json: bool) -> None:
    """``cost``: one layout, or all of them side by side. Raises what reading and planning raise.

    Where a layout does not fit, the others are printed before its error.
    """
    from tubing.cost import compare
    from tubing.sheet.costing import comparison_table, cost_table
    from tubing.writers.plan_data import layouts_data

    read, read_of = _read(job, shop)
    names = tuple(read.layouts) if layout is None else (layout,)
    book = book_for_files(read_of, [Path(job)])
    costs: dict[str, Cost] = {}
    unfit: FitError | None = None
    for name in names:
        try:
            with naming_files(Path(job), path_or_none(shop)):
                costs[name] = _cost_of(name, read, read_of, book)
        except FitError as error:
            unfit = unfit or error
    if as_json and unfit is None:
        print_data(layouts_data(costs))
    elif not as_json and costs:
        parts: list[Part] = [comparison_table(compare(costs))] if len(costs) > 1 else []
        parts += [cost_table(cost, name) for name, cost in costs.items()]
        print_sheet(Sheet(f"{read.title}: cost", tuple(parts)))
    if unfit is not None:
        raise unfit  # after the layouts that can be had


def sweep_job(job: str, layout: str | None, shop: str | None, *, as_json: bool, show: str) -> None:
    """``sweep``. Raises what reading and planning raise, and FitError where no sweep keeps clear."""
    from tubing.sheet.glazing import sweep_data, sweep_sheet
    from tubing.writers.plan_data import tidy

    shown = show_of(show)
    read = _read(job, shop)
    book = book_for_files(read[1], [Path(job)])
    with naming_files(Path(job), path_or_none(shop)):
        planned = plan(*read, layout, book)
        found = planned.on_glass
        from tubing.glass import best_sweep, sweep_table

        table = sweep_table(found.glass)
    if as_json:
        print_data(tidy(sweep_data(planned, table)))
    else:
        print_sheet(sweep_sheet(planned, table, shown))
    with naming_files(Path(job), path_or_none(shop)):
        best_sweep(table)  # an error where there is none, after the table that shows why
