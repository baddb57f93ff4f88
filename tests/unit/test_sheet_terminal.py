"""What a sheet looks like as plain text."""

from __future__ import annotations

import io
from decimal import Decimal

import pytest

from tubing.sheet.records import Column, Lines, Measure, Sheet, Table
from tubing.writers.terminal import draw, show


def sheet(*parts: Table | Lines, inches: bool = False) -> Sheet:
    return Sheet("Two-seater", parts, "in" if inches else "mm")


PIECES = Table(
    "Cut list",
    (Column("piece"), Column("cut", "mm"), Column("each", "EUR"), Column("bends")),
    (("nose-near", 411.5, Decimal("1.20"), 2), ("far-end", 99.96, None, 0)),
    before=("How to read it.",),
    after=("What follows.",),
)


def test_a_table_with_its_units_in_brackets_and_its_numbers_to_the_right():
    assert draw(sheet(PIECES)) == (
        "Two-seater\n"
        "==========\n"
        "\n"
        "CUT LIST\n"
        "How to read it.\n"
        "piece       cut [mm]   each [EUR]   bends\n"
        "-----------------------------------------\n"
        "nose-near      411.5         1.20       2\n"
        "far-end        100.0            -       0\n"
        "What follows.\n"
    )


def test_inches_stand_under_the_millimetres():
    """16 13/64 in is 411.56 mm, the nearest 1/64 to 411.5 mm."""
    lines = draw(sheet(PIECES, inches=True)).splitlines()
    assert lines[5] == "piece       cut [mm, in]   each [EUR]   bends"
    assert lines[7:9] == [
        "nose-near          411.5         1.20       2",
        "             16 13/64 in",
    ]


def test_numbered_lines_are_set_in_under_their_first_word():
    steps = Lines("Order of work", ("word " * 30, "second"), first=1)
    assert draw(sheet(steps), width=60).splitlines()[3:] == [
        "ORDER OF WORK",
        " 1. word word word word word word word word word word word",
        "    word word word word word word word word word word word",
        "    word word word word word word word word",
        " 2. second",
    ]


def test_a_table_too_wide_is_split_and_its_first_column_repeated():
    """No column may be lost, whatever the width."""
    columns = tuple(Column(f"heading{k}", "mm") for k in range(12))
    wide = Table("Wide", (Column("piece"), *columns), (("nose-near", *(1000.0 + k for k in range(12))),))
    text = draw(sheet(wide))
    assert all(len(line) <= 80 for line in text.splitlines())
    assert all(f"heading{k}" in text for k in range(12))
    assert all(f"{1000 + k}.0" in text for k in range(12))
    assert text.count("nose-near") > 1


@pytest.mark.parametrize("width", [60, 80, 100])
def test_no_line_is_wider_than_asked_for(width: int):
    long = "an-uncommonly-long-name-" * 8
    table = Table("Bends of", (Column("piece"), Column("cut", "mm"), Column(long)), ((long, 1.0, long),), subject=long)
    lines = draw(sheet(table, Lines(long, (long,))), width).splitlines()
    assert max(map(len, lines)) <= width
    assert long in "".join("".join(lines).split()), "a long word is broken, not cut off"


def test_a_narrow_screen_gets_sixty_columns_and_a_broad_one_a_hundred():
    words = Lines("Notes", ("word " * 100,))
    assert draw(sheet(words), 20) == draw(sheet(words), 60)
    assert draw(sheet(words), 500) == draw(sheet(words), 100)


def test_names_are_shown_as_typed_and_never_obeyed():
    """Brackets are no markup, and an escape sequence does not reach the screen."""
    table = Table("Bends of", (Column("piece"),), (("[bold]nose[/bold]",), ("\x1b[31mred\x07",)), subject="[/mm]")
    text = draw(sheet(table, Lines("Notes", (":smile: [red]x[/red]\r",))))
    assert "BENDS OF [/mm]" in text
    assert "[bold]nose[/bold]" in text
    assert "\\x1b[31mred\\x07" in text
    assert "- :smile: [red]x[/red]\\r" in text
    assert "\x1b" not in text


def test_a_screen_shows_the_same_words():
    """rich adds bold headings and nothing else; without colour the lines are those of a pipe."""
    screen = io.StringIO()
    show(sheet(PIECES), screen, 80, colour=False)
    assert screen.getvalue() == draw(sheet(PIECES))


def test_a_figure_with_its_own_unit():
    table = Table(
        "Drive", (Column("what"), Column("figure")), (("stroke", Measure(30.72, "mm")), ("pull", Measure(9.6, "N", 0)))
    )
    assert draw(sheet(table)).splitlines()[4:] == [
        "what      figure",
        "----------------",
        "stroke   30.7 mm",
        "pull        10 N",
    ]
