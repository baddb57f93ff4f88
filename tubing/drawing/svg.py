"""Draws pictures as SVG in millimetres of paper: lines, texts and dimensions.

Paper:  coordinates in mm, x to the right, y down, as SVG has them. What is drawn in a scale is brought to paper first.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Sequence

from msgspec import Struct, field

from tubing.geometry.vectors import Point2
from tubing.sheet.records import Show
from tubing.sheet.words import figure_text, length_text, visible
from tubing.units import inches_text

SMALL_MM = 2.6  # height of the letters in pictures: about 7.4 points
LONGEST_NAME = 26  # letters of a name in a picture; a table has it whole

# Black and greys only: what a picture says must survive a mono printer.
STYLE = """
svg text { font-family: "Liberation Sans", Arial, Helvetica, sans-serif; fill: #000; }
svg .line { stroke: #000; stroke-width: .3; fill: none; }
svg .fine { stroke: #333; stroke-width: .18; fill: none; }
svg .bold { stroke: #000; stroke-width: .6; fill: none; stroke-linecap: round; }
svg .dash { stroke: #000; stroke-width: .25; fill: none; stroke-dasharray: 2 1; }
svg .chain { stroke: #333; stroke-width: .2; fill: none; stroke-dasharray: 4 1 1 1; }
svg .pale { stroke: #000; stroke-width: .25; fill: #eee; }
svg .grey { stroke: #000; stroke-width: .25; fill: #ccc; }
svg .white { stroke: #000; stroke-width: .3; fill: #fff; }
svg .black { stroke: none; fill: #000; }
svg .way { stroke: #555; stroke-width: .25; stroke-dasharray: 1 .7; fill: #f0f0f0; }
svg .tube { stroke: #000; fill: none; stroke-linejoin: round; }
svg .bore { stroke: #fff; fill: none; stroke-linejoin: round; }
svg .halo { stroke: #fff; stroke-width: .8; stroke-linejoin: round; paint-order: stroke; }
svg .wiped { stroke: #555; stroke-width: .2; fill: #999; fill-opacity: .3; }
svg .strong { font-weight: bold; }
"""


class Rect(Struct, frozen=True):
    """A part of the paper."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float

    @property
    def right_mm(self) -> float:
        """Its right edge."""
        return self.left_mm + self.width_mm

    @property
    def bottom_mm(self) -> float:
        """Its lower edge."""
        return self.top_mm + self.height_mm

    def meets(self, other: Rect) -> bool:
        """Whether two parts of the paper overlap."""
        return (
            self.left_mm < other.right_mm
            and other.left_mm < self.right_mm
            and self.top_mm < other.bottom_mm
            and other.top_mm < self.bottom_mm
        )

    def holds(self, point: Point2) -> bool:
        """Whether a point lies in it."""
        return self.left_mm <= point[0] <= self.right_mm and self.top_mm <= point[1] <= self.bottom_mm


class Picture(Struct, frozen=True):
    """A finished picture: its size on paper, what it shows in words, and its SVG elements."""

    name: str  # of its file
    words: str
    width_mm: float
    height_mm: float
    body: str

    def svg(self, number: int = 0) -> str:
        """For a page, which brings the style; ``number`` keeps its marks apart from those of other pictures."""
        return (
            f'<svg role="img" aria-labelledby="picture-{number}" width="{num(self.width_mm)}mm" '
            f'height="{num(self.height_mm)}mm" viewBox="0 0 {num(self.width_mm)} {num(self.height_mm)}" '
            f'xmlns="http://www.w3.org/2000/svg"><title id="picture-{number}">{escaped(self.words)}</title>'
            f"{self.body.replace('id-of-picture', f'p{number}')}</svg>"
        )

    def file(self) -> str:
        """For a file of its own."""
        ground = f'<rect width="{num(self.width_mm)}" height="{num(self.height_mm)}" fill="#fff"/>'
        head, tail = self.svg().split("</title>", 1)
        return f"{head}</title><style>{STYLE}</style>{ground}{tail}\n"


class Pen(Struct):
    """Collects what is drawn, in order."""

    parts: list[str] = field(default_factory=list)

    def line(self, a: Point2, b: Point2, kind: str = "line") -> None:
        """A straight line."""
        self.parts.append(f'<path class="{kind}" d="M{_at(a)}L{_at(b)}"/>')

    def lines(self, points: Iterable[Point2], kind: str = "line", closed: bool = False, width_mm: float = 0.0) -> None:
        """A line through points, or an area inside them; ``width_mm`` 0: as its kind has it."""
        path = "L".join(_at(point) for point in points)
        own = f' stroke-width="{num(width_mm)}"' if width_mm else ""
        self.parts.append(f'<path class="{kind}"{own} d="M{path}{"Z" if closed else ""}"/>')

    def rect(self, place: Rect, kind: str = "line") -> None:
        """A rectangle."""
        self.parts.append(
            f'<rect class="{kind}" x="{num(place.left_mm)}" y="{num(place.top_mm)}" '
            f'width="{num(place.width_mm)}" height="{num(place.height_mm)}"/>'
        )

    def circle(self, centre: Point2, radius_mm: float, kind: str = "line") -> None:
        """A circle."""
        self.parts.append(f'<circle class="{kind}" cx="{num(centre[0])}" cy="{num(centre[1])}" r="{num(radius_mm)}"/>')

    def text(
        self,
        at: Point2,
        words: str,
        anchor: str = "start",
        kind: str = "",
        size_mm: float = SMALL_MM,
        turned_deg: float = 0.0,
    ) -> None:
        """Words whose foot stands at a point; turned anticlockwise about it."""
        turn = f' transform="rotate({num(-turned_deg)} {_at(at)})"' if turned_deg else ""
        named = f' class="{kind}"' if kind else ""
        where = "" if anchor == "start" else f' text-anchor="{anchor}"'
        self.parts.append(
            f'<text x="{num(at[0])}" y="{num(at[1])}" font-size="{num(size_mm)}"{where}{named}{turn}>'
            f"{escaped(words)}</text>"
        )

    def arrow(self, a: Point2, b: Point2, kind: str = "line", head_mm: float = 2.0) -> None:
        """A line with its head at ``b``."""
        length = math.dist(a, b)
        if length < 1e-6:
            return
        ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
        foot = (b[0] - head_mm * ux, b[1] - head_mm * uy)
        half = head_mm * 0.3
        self.line(a, foot, kind)
        self.lines(
            [b, (foot[0] - half * uy, foot[1] + half * ux), (foot[0] + half * uy, foot[1] - half * ux)], "black", True
        )

    def clipped(self, place: Rect, inner: Pen) -> None:
        """What another pen drew, inside a part of the paper only."""
        key = f"id-of-picture-{len(self.parts)}"
        self.parts.append(
            f'<clipPath id="{key}"><rect x="{num(place.left_mm)}" y="{num(place.top_mm)}" '
            f'width="{num(place.width_mm)}" height="{num(place.height_mm)}"/></clipPath><g clip-path="url(#{key})">'
            f"{''.join(inner.parts)}</g>"
        )

    def picture(self, name: str, words: str, width_mm: float, height_mm: float) -> Picture:
        """What was drawn, as a picture."""
        return Picture(name, words, width_mm, height_mm, "".join(self.parts))


def num(value: float) -> str:
    """A number for SVG: to 1/1000 mm.

    >>> num(12.0), num(-0.0001), num(1 / 3)
    ('12', '0', '0.333')
    """
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _at(point: Point2) -> str:
    return f"{num(point[0])} {num(point[1])}"


def escaped(words: str) -> str:
    """Words inside an element or an attribute: shown as typed, and never run.

    >>> escaped('<b> & "x"')
    '&lt;b&gt; &amp; &quot;x&quot;'
    """
    for sign, code in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        words = words.replace(sign, code)
    return visible(words)


def short_name(name: str) -> str:
    """A name as a picture has room for.

    >>> short_name("near"), short_name("x" * 40)
    ('near', 'xxxxxxxxxxxxxxxxxxxxxxxxx…')
    """
    name = visible(name)
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


def fitted(words: str, width_mm: float, size_mm: float = SMALL_MM) -> str:
    """Words, cut short where they are wider than that.

    >>> fitted("near", 20.0), fitted("near the wheelhouse", 20.0)
    ('near', 'near the whee…')
    """
    if text_width_mm(words, size_mm) <= width_mm:
        return words
    while words and text_width_mm(f"{words}…", size_mm) > width_mm:
        words = words[:-1]
    return f"{words.rstrip()}…"


def text_width_mm(words: str, size_mm: float = SMALL_MM) -> float:
    """How wide words come out, near enough to keep them apart: a little more than a common face needs.

    >>> round(text_width_mm("100.0"), 2)
    6.86
    """
    ems = 0.0
    for letter in visible(words):
        if unicodedata.combining(letter):
            continue
        if letter in "ijl.,:;'|!()[]-/ ftr":
            ems += 0.36
        elif letter in "mwMW@%":
            ems += 0.95
        elif letter.isupper():
            ems += 0.74
        else:
            ems += 1.05 if unicodedata.east_asian_width(letter) in "WF" else 0.57
    return ems * size_mm


def spread(places_mm: Sequence[float], apart_mm: float, least_mm: float, most_mm: float) -> list[float]:
    """Move ordered places as little as possible so that neighbours keep their distance, inside two bounds.

    Where there is no room for that, they are spread evenly over what there is.

    >>> spread([10.0, 10.5, 30.0], 4.0, 0.0, 40.0)
    [8.25, 12.25, 30.0]
    """
    if not places_mm:
        return []
    if (len(places_mm) - 1) * apart_mm > most_mm - least_mm:
        step = (most_mm - least_mm) / max(1, len(places_mm) - 1)
        return [least_mm + k * step for k in range(len(places_mm))]
    groups: list[tuple[float, int]] = []  # middle and count
    for place in places_mm:
        groups.append((place, 1))
        while True:
            middle, count = groups[-1]
            half = (count - 1) * apart_mm / 2
            middle = min(max(middle, least_mm + half), most_mm - half)
            groups[-1] = (middle, count)
            if len(groups) < 2:
                break
            before, many = groups[-2]
            if middle - half - (before + (many - 1) * apart_mm / 2) >= apart_mm - 1e-9:
                break
            # Together they stand about the mean of where they wanted to be.
            groups[-2:] = [((before * many + middle * count) / (many + count), many + count)]
    return [middle + (k - (count - 1) / 2) * apart_mm for middle, count in groups for k in range(count)]


def hull(points: Iterable[Point2]) -> list[Point2]:
    """The convex outline of points (Andrew's monotone chain).

    >>> hull([(0.0, 0.0), (1.0, 1.0), (2.0, 0.0), (1.0, 0.5), (1.0, 3.0)])
    [(0.0, 0.0), (2.0, 0.0), (1.0, 3.0)]
    """
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return ordered

    def half(way: Iterable[Point2]) -> list[Point2]:
        kept: list[Point2] = []
        for p in way:
            while len(kept) > 1 and _turn(kept[-2], kept[-1], p) <= 0:
                kept.pop()
            kept.append(p)
        return kept[:-1]

    return half(ordered) + half(reversed(ordered))


def _turn(a: Point2, b: Point2, c: Point2) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def rule(pen: Pen, at: Point2) -> None:
    """The 100 mm rule: by it the fitter sees that the printer has kept the size."""
    x, y = at
    pen.line((x, y), (x + 100, y))
    for k in range(101):
        tall = 4.0 if k % 10 == 0 else 2.8 if k % 5 == 0 else 1.6
        pen.line((x + k, y), (x + k, y - tall), "line" if k % 10 == 0 else "fine")
    for k in range(0, 101, 10):
        pen.text((x + k, y + 3.2), str(k), "middle")
    pen.text((x + 106, y - 2.2), "Measure this rule: 0 to 100 must be 100 mm.")
    pen.text((x + 106, y + 1.2), "If it is not, print again at 100 %, not fitted to the page.")


def size_words(length_mm: float, show: Show, room_mm: float) -> str:
    """A length over an arrow: as the sheet says it, shorter where there is less room, nothing where there is none.

    >>> [size_words(311.15, "in", room_mm) for room_mm in (40.0, 20.0, 10.0, 5.0)]
    ['311.2 mm (12 1/4 in)', '12 1/4 in', '311.2', '']
    """
    number = figure_text(length_mm, "mm")
    said = [length_text(length_mm, show), inches_text(length_mm), number] if show == "in" else [number]
    return next((words for words in said if text_width_mm(words) < room_mm), "")


def dimension(pen: Pen, a: float, b: float, at_mm: float, words: str, upright: bool = False) -> None:
    """An arrow both ways between two places on a line at ``at_mm``, with words over its middle."""
    start, end = ((at_mm, a), (at_mm, b)) if upright else ((a, at_mm), (b, at_mm))
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    small = abs(b - a) < 4.5
    for one, other in ((middle, start), (middle, end)):
        pen.arrow(one, other, "fine", 0.8 if small else 1.6)
    if upright:
        pen.text((middle[0] - 0.8, middle[1]), words, "middle", "halo", turned_deg=90)
    else:
        pen.text((middle[0], middle[1] - 0.8), words, "middle", "halo")
