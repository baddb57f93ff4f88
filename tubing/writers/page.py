"""The job sheet as one HTML page that needs nothing else: no request, style and pictures inside.

Its one script keeps the ticks of the order of work; the page's content policy lets that one run, by its hash, and none
other.

The only door to jinja2, which writes every text as typed: a name with a tag in it is a name, not a tag.
"""

from __future__ import annotations

import base64
import functools
import hashlib
import re
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from importlib import resources

import jinja2
from markupsafe import Markup
from msgspec import Struct

from tubing.drawing.pictures import Pictures
from tubing.drawing.svg import STYLE, Picture, fitted
from tubing.inputs.records import Business
from tubing.quote import Quote
from tubing.sheet.measuring_form import MeasuringForm
from tubing.sheet.quote_paper import price_table, quote_parts
from tubing.sheet.records import JobSheet, Lines, Measure, Show, Table
from tubing.sheet.sections import part_of
from tubing.sheet.shelf_tables import Label
from tubing.sheet.words import cell_text, heading_text, visible

NUMBERS = (int, float, Fraction, Decimal, Measure)
FOOT_MM, FOOT_LETTER_MM = 150.0, 2.65  # what is left beside the page's number; 7.5 points
MOST_WHOLE = 12  # lines of a table that is never parted over two pages
LONG_WORDS = 24  # letters: a table with a longer cell of words keeps its columns of numbers as narrow as possible
MOST_NARROW = 3  # columns: a table with no more is not stretched over the page, where its rows would be hard to follow


class Grid(Struct, frozen=True):
    """A table as text, ready to be written."""

    title: str
    headings: tuple[tuple[str, str], ...]  # words, and the unit in its brackets
    kind: str  # how it is laid out: classes of the style
    right: tuple[bool, ...]  # columns of numbers
    rows: tuple[tuple[tuple[str, ...], ...], ...]  # each cell as its lines
    before: tuple[str, ...]
    after: tuple[str, ...]


def page(sheet: JobSheet, drawn: Pictures, mark: str, changed: str = "", labels: Sequence[Label] = ()) -> str:
    """The whole page; the same sheet gives the same bytes.

    ``mark``: the plan's, for the foot of every page. ``changed``: when the job's file was; empty: not known.
    ``labels``: for the offcuts that have a number.
    """
    numbers = iter(range(1, 10_000))

    def svg(picture: Picture) -> Markup:
        # The pictures' own texts were escaped when they were drawn.
        return Markup(picture.svg(next(numbers)))

    template = environment().get_template("page.html.j2")
    foot = f"Plan {mark} - {visible(sheet.title)} - {visible(_layout(sheet))}"
    bent = dict.fromkeys(str(row[0]) for row in sheet.bends.rows)
    script = packaged("page.js")
    tables = {name: part_of(sheet, name) for name in JobSheet.__struct_fields__}
    return template.render(
        title=sheet.title,
        style=Markup(packaged("page.css") + STYLE),
        foot=Markup(css_text(fitted(foot, FOOT_MM, FOOT_LETTER_MM))),
        mark=mark,
        changed=changed,
        script=Markup(script),
        script_hash=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
        head=grid_of(sheet.head, sheet.show),
        warnings=sheet.warnings,
        run=svg(drawn.run),
        screen=svg(drawn.screen) if drawn.screen else None,
        taped=svg(drawn.taped) if drawn.taped else None,
        bars_picture=svg(drawn.bars),
        strips=list(zip(bent, map(svg, drawn.strips), strict=True)),
        full_size=[(picture.words, svg(picture)) for picture in (*drawn.templates, *drawn.full_size_strips)],
        work=sheet.work,
        fitting=sheet.fitting,
        cautions=sheet.cautions,
        stock=sheet.stock,
        labels=labels,
        notes=[part for part in (sheet.chosen, sheet.notes) if part.lines],
        grids={
            name: grid_of(part, sheet.show) for name, part in tables.items() if isinstance(part, Table) and part.rows
        },
    )


def labels_page(labels: Sequence[Label]) -> str:
    """A page of labels to cut out, or to print on labels that stick."""
    style = Markup(packaged("page.css"))
    return environment().get_template("labels_page.html.j2").render(style=style, labels=labels)


def quote_page(offer: Quote) -> str:
    """A quote as a page to print or to send."""
    table = price_table(offer)
    return (
        environment()
        .get_template("quote.html.j2")
        .render(
            style=Markup(packaged("page.css")),
            number=offer.number,
            business=offer.business,
            customer=offer.customer,
            title=offer.title,
            date=offer.day,
            valid_until=offer.valid_until,
            headings=[(column.heading, f"[{column.unit}]" if column.unit else "") for column in table.columns],
            rows=[
                [cell_text(cell, column, "mm") for cell, column in zip(row, table.columns, strict=True)]
                for row in table.rows
            ],
            parts=[part for part in quote_parts(offer) if isinstance(part, Lines)],
        )
    )


def form_page(form: MeasuringForm, sketches: Sequence[Picture], business: Business | None) -> str:
    """The measuring form as a page to print."""
    drawn = {picture.name: Markup(picture.svg(k)) for k, picture in enumerate(sketches)}
    template = environment().get_template("form.html.j2")
    return template.render(style=Markup(packaged("page.css") + STYLE), form=form, sketches=drawn, business=business)


def as_drawn(html: str) -> str:
    """HTML or SVG that this program has made, and whose texts it has escaped, for a template to write as it is."""
    return Markup(html)


@functools.cache
def environment() -> jinja2.Environment:
    """Templates of this package; every text is written as typed."""
    environment = jinja2.Environment(
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
        loader=jinja2.FunctionLoader(packaged),
    )
    environment.filters["shown"] = visible
    return environment


def _layout(sheet: JobSheet) -> str:
    """The layout and its boxes, from the title block."""
    return str(sheet.head.rows[0][1])


def grid_of(table: Table, show: Show) -> Grid:
    """A table as text, ready for a page."""
    columns = range(len(table.columns))
    right = tuple(
        2 * sum(isinstance(row[k], NUMBERS) for row in table.rows) > sum(row[k] not in (None, "") for row in table.rows)
        for k in columns
    )
    rows = tuple(
        tuple(
            tuple(cell_text(cell, column, show).split("\n")) if not isinstance(cell, str) else (visible(cell),)
            for cell, column in zip(row, table.columns, strict=True)
        )
        for row in table.rows
    )
    units = [heading_text(column, show).removeprefix(column.heading).lstrip() for column in table.columns]
    headings = tuple((column.heading, unit) for column, unit in zip(table.columns, units, strict=True))
    lines = sum(max(len(cell) for cell in row) for row in rows)
    kinds = {
        "whole": lines <= MOST_WHOLE,
        "narrow": len(table.columns) <= MOST_NARROW,
        "worded": any(len(line) > LONG_WORDS for row in rows for cell in row[1:] for line in cell),
    }
    title = f"{table.title} {table.subject}".strip()
    kind = " ".join(name for name, holds in kinds.items() if holds)
    return Grid(title, headings, kind, right, rows, table.before, table.after)


def css_text(words: str) -> str:
    """Words as a CSS string; every sign but letters, digits and blanks is written as its code, so none has an effect.

    >>> css_text('a"</b')
    '"a\\\\22 \\\\3c \\\\2f b"'
    """
    return '"' + re.sub(r"[^A-Za-z0-9 ]", lambda sign: f"\\{ord(sign[0]):x} ", visible(words)) + '"'


def packaged(name: str) -> str:
    """A file of this package as text."""
    return resources.files("tubing.writers").joinpath(name).read_text(encoding="utf-8")
