"""The words of ``shelf`` and its commands. A command here only reads its words."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

import typer

from tubing.commands.usage import Command, Commands

Call = Callable[[], None]

shelf_app = typer.Typer(
    cls=Commands,
    help="The shelf as a book: what lies there, and what comes, is kept for jobs, is cut or goes.",
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=False,
)

ShopFile = Annotated[str | None, typer.Option(metavar="FILE", help="Take this shop file, not the one in data/.")]
Jobs = Annotated[list[str], typer.Argument(metavar="JOB...", help="Job files; one named twice is for two vehicles.")]
Layout = Annotated[str | None, typer.Option(metavar="NAME", help="This layout of the jobs, not the one they name.")]


@shelf_app.callback(invoke_without_command=True)
def shelf(
    context: typer.Context,
    shop: ShopFile = None,
    json: Annotated[bool, typer.Option("--json", help="Print data for other programs.")] = False,
) -> Call | None:
    """The shelf as a book: what lies there, and what comes, is kept for jobs, is cut or goes."""
    if context.invoked_subcommand is not None:
        return None
    from tubing.commands import shelving

    return lambda: shelving.show_shelf(shop, as_json=json)


@shelf_app.command(cls=Command, short_help="Begin a book, and take over the bars that the shop's file lists.")
def start(
    file: Annotated[str | None, typer.Argument(metavar="[FILE]", help="The book's name: shelf.sqlite.")] = None,
    shop: ShopFile = None,
) -> Call:
    """Begin a book beside the shop's file, take over what that lists under [[shelf]], and name the book there."""
    from tubing.commands import book_start

    return lambda: book_start.start_book(file, shop)


@shelf_app.command(cls=Command, short_help="Bars that came: bought, found or left over.")
def add(
    tube: Annotated[str, typer.Argument(metavar="TUBE", help="Its row in tubes.csv, such as steel-8.")],
    length: Annotated[str, typer.Argument(metavar="LENGTH", help="Such as '640 mm' or '31 1/2 in'.")],
    bars: Annotated[str, typer.Option(metavar="COUNT", help="How many equal ones.")] = "1",
    price: Annotated[str | None, typer.Option(metavar="AMOUNT", help="Paid for one; none for an offcut.")] = None,
    ready_end: Annotated[
        list[str] | None, typer.Option(metavar="FLARE", help="An end that comes flared, such as 'double + nut'.")
    ] = None,
    key: Annotated[str | None, typer.Option(metavar="WORD", help="The same word a second time adds nothing.")] = None,
    shop: ShopFile = None,
) -> Call:
    """Bring bars into the book; each gets a number to write on it."""
    from tubing.commands import shelving

    return lambda: shelving.add_bars(tube, length, shop, bars=bars, price=price, ready=ready_end or (), key=key)


@shelf_app.command(cls=Command, short_help="Bars that are of no use, or cut pieces that were spoiled.")
def scrap(
    things: Annotated[
        list[str], typer.Argument(metavar="NUMBER... | JOB PIECE...", help="Numbers of bars, or a job and its pieces.")
    ],
    shop: ShopFile = None,
) -> Call:
    """Take bars off the shelf, or say that cut pieces of a job are of no use, so that they are cut anew."""
    from tubing.commands import shelving

    return lambda: shelving.scrap_things(things, shop)


@shelf_app.command(cls=Command, short_help="Keep the bars that the plan of some jobs takes.")
def keep(jobs: Jobs, layout: Layout = None, shop: ShopFile = None) -> Call:
    """Keep what the plan takes, so that no other plan sees it, and give its offcuts their numbers."""
    from tubing.commands import keeping_bars as bars

    return lambda: bars.keep_bars(bars.Asked(tuple(jobs), layout, shop))


@shelf_app.command(cls=Command, short_help="What is kept for some jobs is free again.")
def free(jobs: Jobs, shop: ShopFile = None) -> Call:
    """Give back what is kept for some jobs, by their files or by the names that the book has for them."""
    from tubing.commands import keeping_bars as bars

    return lambda: bars.free_bars(bars.Asked(tuple(jobs), None, shop))


@shelf_app.command(cls=Command, short_help="The kept bars were sawn: pieces and offcuts go into the book.")
def cut(
    jobs: Jobs,
    as_kept: Annotated[bool, typer.Option("--as-kept", help="Sawn as kept, whatever the job says now.")] = False,
    layout: Layout = None,
    shop: ShopFile = None,
) -> Call:
    """Say that what was kept has been sawn: bars leave, offcuts come in with their numbers."""
    from tubing.commands import keeping_bars as bars

    return lambda: bars.cut_bars(bars.Asked(tuple(jobs), layout, shop), as_kept=as_kept)


@shelf_app.command(cls=Command, short_help="Take back the last thing that was done, or one by its number.")
def undo(
    number: Annotated[str | None, typer.Argument(metavar="[NUMBER]", help="Of the operation, as in history.")] = None,
    shop: ShopFile = None,
) -> Call:
    """Take back what was done last; it stays in the history with what undid it."""
    from tubing.commands import shelving

    return lambda: shelving.undo(number, shop)


@shelf_app.command(cls=Command, short_help="All that was done, or what happened to one bar.")
def history(
    bar: Annotated[str | None, typer.Argument(metavar="[BAR]", help="The number written on a bar.")] = None,
    shop: ShopFile = None,
) -> Call:
    """Show all that was done, the last first, or what happened to one bar."""
    from tubing.commands import shelving

    return lambda: shelving.show_history(bar, shop)


@shelf_app.command(cls=Command, short_help="Stock-taking: what is there against what should be.")
def count(
    file: Annotated[str, typer.Argument(metavar="LIST.csv", help="Columns number, tube, length, quantity.")],
    settle: Annotated[bool, typer.Option("--settle", help="Make the book agree with the count.")] = False,
    shop: ShopFile = None,
) -> Call:
    """Hold a list of what lies on the shelf against the book."""
    from tubing.commands import shelving

    return lambda: shelving.count_shelf(file, shop, settling=settle)


@shelf_app.command(cls=Command, short_help="What to buy for several vehicles together.")
def need(jobs: Jobs, layout: Layout = None, shop: ShopFile = None) -> Call:
    """Tube and parts to buy for all vehicles of some jobs, beside what the shelf has."""
    from tubing.commands import keeping_bars as bars

    return lambda: bars.what_to_buy(bars.Asked(tuple(jobs), layout, shop))


@shelf_app.command(cls=Command, short_help="Labels to print and stick on the bars.")
def labels(
    output: Annotated[str, typer.Option("-o", "--output", metavar="FILE.html", help="The page to write.")],
    numbers: Annotated[list[str] | None, typer.Argument(metavar="[NUMBER]...", help="Only of these bars.")] = None,
    show: Annotated[str, typer.Option(metavar="mm|in", help="in: inches beside the millimetres.")] = "mm",
    shop: ShopFile = None,
) -> Call:
    """Write a page of labels with number, tube and length for the bars on the shelf."""
    from tubing.commands import shelving

    return lambda: shelving.write_labels(numbers or (), output, shop, show)


@shelf_app.command(cls=Command, short_help="A checked copy of the book in a new file.")
def copy(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The copy's name; nothing is overwritten.")],
    shop: ShopFile = None,
) -> Call:
    """Copy the book into a new file, whole or not at all, even while others write in it."""
    from tubing.commands import shelving

    return lambda: shelving.copy_book(file, shop)
