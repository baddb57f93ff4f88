"""The words of each command. A command here only reads its words; what it does is imported when it is done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Annotated

import typer

from tubing.commands.shelf_app import shelf_app
from tubing.commands.usage import Command, Commands, usage_error

Call = Callable[[], None]

app = typer.Typer(
    name="tubing",
    cls=Commands,
    help="Plans the guide tubes, flares, bends, rack and stock of a rack-drive wiper from measured positions.",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=False,
)

app.add_typer(shelf_app, name="shelf", short_help="The shelf as a book: bars that come, are kept, are cut.")

JobFile = Annotated[str, typer.Argument(metavar="JOB", help="The job file, such as data/jobs/lined-up-twin.toml.")]
Layout = Annotated[str | None, typer.Option(metavar="NAME", help="Plan this layout of the job, not the one it names.")]
ShopFile = Annotated[str | None, typer.Option(metavar="FILE", help="Take this shop file, not the one in data/.")]
Json = Annotated[bool, typer.Option("--json", help="Print data for other programs, not a sheet.")]
Show = Annotated[str, typer.Option(metavar="mm|in", help="in: inches to 1/64 beside the millimetres.")]


@app.callback(invoke_without_command=True)
def no_command(context: typer.Context) -> Call | None:
    """Plans the guide tubes, flares, bends, rack and stock of a rack-drive wiper from measured positions."""
    if context.invoked_subcommand is not None:
        return None
    text = context.get_help()
    return lambda: typer.echo(text)


@app.command(cls=Command, short_help="The job sheet: what to cut, bend, buy and do, in order.")
def plan(
    job: JobFile,
    sections: Annotated[
        list[str] | None,
        typer.Argument(metavar="[SECTION]...", help="bench (if none is named), vehicle, tape, drive, buying, notes."),
    ] = None,
    all_sections: Annotated[bool, typer.Option("--all", help="Every section of the sheet.")] = False,
    layout: Layout = None,
    shop: ShopFile = None,
    json: Json = False,
    show: Show = "mm",
    against: Annotated[
        str | None,
        typer.Option(metavar="OLD.json", help="Only what changed since this plan, that plan --json wrote."),
    ] = None,
) -> Call:
    """Plan a job: cut list, bends, stock, rack, holes, park, cost and order of work."""
    from tubing.commands import planning
    from tubing.sheet.sections import BENCH, SECTIONS

    named = tuple(SECTIONS) if all_sections else tuple(sections or (BENCH,))
    return lambda: planning.plan_job(job, layout, shop, as_json=json, show=show, against=against, sections=named)


@app.command(cls=Command, short_help="The job's layouts side by side, line by line.")
def cost(job: JobFile, layout: Layout = None, shop: ShopFile = None, json: Json = False) -> Call:
    """Set the job's layouts side by side, line by line, with the difference."""
    from tubing.commands import planning

    return lambda: planning.cost_job(job, layout, shop, as_json=json)


@app.command(cls=Command, short_help="The sweeps on offer beside each other, on the glass.")
def sweep(job: JobFile, layout: Layout = None, shop: ShopFile = None, json: Json = False, show: Show = "mm") -> Call:
    """Compare the sweeps on offer on the job's glass: what each wipes, what it keeps clear of, and which is best."""
    from tubing.commands import planning

    return lambda: planning.sweep_job(job, layout, shop, as_json=json, show=show)


@app.command(cls=Command, short_help="One saw list for several jobs and lists, at least cost.")
def nest(
    files: Annotated[list[str], typer.Argument(metavar="FILE", help="Job files (.toml) and lists of pieces (.csv).")],
    stock: Annotated[
        list[str] | None,
        typer.Option(metavar='"6000 mm @ 12.50"', help="Cut from these lengths, not the shop's; may be repeated."),
    ] = None,
    kerf: Annotated[str | None, typer.Option(metavar='"1.2 mm"', help="What the saw takes, not the shop's.")] = None,
    time_limit: Annotated[
        str, typer.Option(metavar="SECONDS", help="Stop looking for a better plan then; 0: the first plan.")
    ] = "60",
    shop: ShopFile = None,
    json: Json = False,
    show: Show = "mm",
) -> Call:
    """Cut the pieces of several jobs and lists from one stock at least cost: a saw list, with proof."""
    from tubing.commands import nesting

    asked = nesting.Asked(tuple(files), tuple(stock or ()), kerf, time_limit, shop)
    return lambda: nesting.nest_files(asked, as_json=json, show=show)


@app.command(cls=Command, short_help="The sheet for the bench: page, tables and drawings, in a folder.")
def sheet(
    jobs: Annotated[
        list[str], typer.Argument(metavar="JOB...", help="The job's file; several, or one twice: cut from one stock.")
    ],
    output: Annotated[str, typer.Option("-o", "--output", metavar="FOLDER", help="Write into this folder.")],
    layout: Layout = None,
    shop: ShopFile = None,
    show: Show = "mm",
    no_prices: Annotated[bool, typer.Option("--no-prices", help="Leave out what it costs: a copy to work by.")] = False,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite an earlier sheet in the folder.")] = False,
    pictures: Annotated[bool, typer.Option("--pictures", help="Write the pictures alone, each an SVG file.")] = False,
) -> Call:
    """Write the sheet for the bench: a page to print, CSV tables, and DXF drawings of the run and the templates."""
    from tubing.commands import sheeting

    asked = sheeting.Asked(tuple(jobs), output, layout, shop, show, not no_prices, replace, pictures)
    return lambda: sheeting.write_sheet(asked)


@app.command(cls=Command, short_help="What a customer is offered: layouts side by side, with tax.")
def quote(
    job: JobFile,
    layout: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="Offer this layout; may be repeated.")
    ] = None,
    customer: Annotated[str, typer.Option(metavar="NAME", help="For whom it is.")] = "",
    number: Annotated[str, typer.Option(metavar="WORD", help="The quote's number; else date and plan.")] = "",
    date: Annotated[str | None, typer.Option(metavar="DAY", help="Such as 2026-05-31; else today.")] = None,
    output: Annotated[str | None, typer.Option("-o", "--output", metavar="FILE.html", help="A page to print.")] = None,
    shop: ShopFile = None,
    json: Json = False,
) -> Call:
    """Write the customer's paper: what is offered and what is to pay, without purchase prices or margin."""
    from tubing.commands import quoting

    asked = quoting.Asked(job, tuple(layout or ()), customer, number, date, output, shop)
    return lambda: quoting.write_quote(asked, as_json=json)


@app.command(cls=Command, short_help="A measuring form to print, for a customer far away.")
def form(
    output: Annotated[str, typer.Option("-o", "--output", metavar="FILE.html", help="The page to write.")],
    boxes: Annotated[str, typer.Option(metavar="COUNT", help="How many wheelboxes.")] = "2",
    shop: ShopFile = None,
) -> Call:
    """Write a form with the questions of new about the vehicle, sketches, and room for what the tape reads."""
    from tubing.commands import forming

    return lambda: forming.write_form(boxes, output, shop)


@app.command(cls=Command, short_help="The tables in use, with their sources.")
def tables(
    name: Annotated[
        str | None, typer.Argument(metavar="[NAME]", help="Only this table, such as tubes or prices.")
    ] = None,
    shop: ShopFile = None,
    show: Show = "mm",
) -> Call:
    """Show the tables in use, with the source of every row: tubes, flares, formers, hardware, stock and prices."""
    from tubing.commands import showing

    return lambda: showing.show_tables(name, shop, show)


@app.command(cls=Command, short_help="A page on this computer: change a job and see its plan.")
def desk(
    folder: Annotated[str, typer.Argument(metavar="[FOLDER]", help="Where your jobs lie; else where you are.")] = ".",
    shop: ShopFile = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Print the address alone.")] = False,
) -> Call:
    """Open the folder's jobs on a page: change a value, see the plan and what changed, undo, save, print."""
    from tubing.commands import desking

    return lambda: desking.open_desk(folder, shop, browser=not no_browser)


@app.command(cls=Command, short_help="Change values of a job at the terminal, and see what that changes.")
def change(job: JobFile, shop: ShopFile = None) -> Call:
    """List a job's values by number, change one after the other, see what each changed, and write the file."""
    from tubing.commands import changing

    return lambda: changing.change_job(job, shop)


@app.command(cls=Command, short_help="Asks for the positions, and writes the job.")
def new(
    job: Annotated[
        str | None,
        typer.Argument(metavar="JOB", help="The job file to write, or to go on with; asked for if left out."),
    ] = None,
    shop: ShopFile = None,
    no_pictures: Annotated[bool, typer.Option("--no-pictures", help="Words alone, as for a screen reader.")] = False,
) -> Call:
    """Ask for the positions in the order in which they are measured, and write a job. Stopped, it goes on later."""
    from tubing.commands import asking

    return lambda: asking.new_job(job, shop, pictures=not no_pictures)


def call_of(words: Sequence[str]) -> Call:
    """What the words of a command ask for. Raises JobError where they cannot be read."""
    try:
        asked = app(args=list(words), prog_name="tubing", standalone_mode=False)
    except Exception as error:
        # typer's own class for wrong words has moved between its releases; all have this method.
        if not hasattr(error, "format_message"):
            raise
        raise usage_error(error) from None
    return asked if callable(asked) else lambda: None  # a help text has been printed
