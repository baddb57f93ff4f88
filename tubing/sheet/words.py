"""Numbers and directions in the fitter's words."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from tubing.geometry.vectors import Vector
from tubing.sheet.records import Cell, Column, Measure, Show
from tubing.units import inches_text, rounded

if TYPE_CHECKING:
    from tubing.nesting import BarEnd

DEAD_END = {"in": "pulled in", "out": "pushed out"}
SLIGHT = 0.25  # components of a unit vector below this are not mentioned
CHIEF = 0.6  # a component below this share of the greatest is called "a little"


def length_text(length_mm: float | Fraction, show: Show, places: int = 1) -> str:
    """A length for a sentence.

    >>> length_text(411.5, "mm"), length_text(411.5, "in"), length_text(6000, "mm", 0)
    ('411.5 mm', '411.5 mm (16 13/64 in)', '6000 mm')
    """
    text = f"{rounded(length_mm, places)} mm"
    return f"{text} ({inches_text(float(length_mm))})" if show == "in" else text


def figure_text(length_mm: float | Fraction, show: Show) -> str:
    """A length on a drawing, where all plain figures are mm.

    >>> figure_text(411.5, "mm"), figure_text(411.5, "in")
    ('411.5', '411.5 mm (16 13/64 in)')
    """
    return rounded(length_mm, 1) if show == "mm" else length_text(length_mm, show)


def short_length(length_mm: float | Fraction, show: Show) -> str:
    """A length as it is bought or set, without trailing zeros.

    >>> short_length(2000, "mm"), short_length(Fraction(25908, 10), "in")
    ('2000 mm', '2590.8 mm (102 in)')
    """
    text = rounded(length_mm, 2).rstrip("0").rstrip(".")
    return f"{text} mm ({inches_text(float(length_mm))})" if show == "in" else f"{text} mm"


def angle_text(angle_deg: float) -> str:
    """An angle for a sentence.

    >>> angle_text(45)
    '45.0 deg'
    """
    return f"{rounded(angle_deg, 1)} deg"


def heading_text(column: Column, show: Show) -> str:
    """A column's heading with its unit in brackets.

    >>> heading_text(Column("cut", "mm"), "in"), heading_text(Column("piece"), "mm")
    ('cut [mm, in]', 'piece')
    """
    if not column.unit:
        return column.heading
    return f"{column.heading} [{column.unit}, in]" if show == "in" and column.unit == "mm" else (
        f"{column.heading} [{column.unit}]"
    )  # fmt: skip


def cell_text(cell: Cell | Measure, column: Column, show: Show) -> str:
    """What stands in a cell; inches, where they are wanted, on a line of their own.

    >>> cell_text(411.5, Column("cut", "mm"), "in")
    '411.5\\n16 13/64 in'
    >>> cell_text(None, Column("start", "mm"), "mm"), cell_text(2, Column("bends"), "mm")
    ('-', '2')
    """
    if cell is None:
        return "-"
    if isinstance(cell, Measure):
        text = f"{rounded(cell.value, cell.places)} {cell.unit}".rstrip()
        return f"{text}\n{inches_text(float(cell.value))}" if show == "in" and cell.unit == "mm" else text
    if isinstance(cell, (str, int, Decimal)):
        return str(cell)
    text = rounded(cell, column.places)
    return f"{text}\n{inches_text(float(cell))}" if show == "in" and column.unit == "mm" else text


def end_text(end: BarEnd) -> str:
    """What is formed at an end of a piece, or of a bar that comes flared.

    >>> from tubing.inputs.records import ReadyEnd
    >>> end_text(ReadyEnd("double", nut=True)), end_text(ReadyEnd("single", nut=False))
    ('double + nut', 'single')
    """
    return f"{end.flare} + nut" if end.nut else end.flare


def way_text(direction: Vector) -> str:
    """A direction in the vehicle's frame, in words: the greatest part first.

    >>> way_text((0.0, 0.0, 1.0)), way_text((-0.9, 0.3, 0.3)), way_text((0.7, -0.7, 0.1))
    ('up', 'left, a little forward and up', 'right and to the rear')
    """
    names = (("right", "left"), ("forward", "to the rear"), ("up", "down"))
    parts = sorted(((abs(c), -k, names[k][c < 0]) for k, c in enumerate(direction)), reverse=True)
    chief = parts[0][0]
    full = [word for size, _, word in parts if size >= CHIEF * chief]
    little = [word for size, _, word in parts if SLIGHT <= size < CHIEF * chief]
    text = " and ".join(full)
    return f"{text}, a little {' and '.join(little)}" if little else text


def listed(words: list[str] | tuple[str, ...]) -> str:
    """Words with commas and an "and".

    >>> listed(["near"]), listed(["near", "far"]), listed(["a", "b", "c"])
    ('near', 'near and far', 'a, b and c')
    """
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def sentence(text: str) -> str:
    """A message as a sentence.

    >>> sentence("piece far-end: no flare")
    'Piece far-end: no flare.'
    """
    return f"{text[0].upper()}{text[1:]}" + ("" if text.endswith(".") else ".")


def counted(count: int, one: str, many: str | None = None) -> str:
    """A count with its noun.

    >>> counted(1, "bend"), counted(2, "bend"), counted(0, "piece")
    ('1 bend', '2 bends', 'no pieces')
    """
    return f"{count or 'no'} {one if count == 1 else many or one + 's'}"


def money_text(cents: int) -> str:
    """Whole cents as money; the currency stands elsewhere.

    >>> money_text(1560), money_text(-5)
    ('15.60', '-0.05')
    """
    sign = "-" if cents < 0 else ""
    return f"{sign}{abs(cents) // 100}.{abs(cents) % 100:02d}"


def visible(text: str, keep: str = "") -> str:
    """A text whose control characters are written out instead of obeyed.

    >>> visible("near"), visible("bell" + chr(7))
    ('near', 'bell\\\\x07')
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c in keep else c.encode("unicode_escape").decode() for c in text)
