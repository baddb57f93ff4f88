"""What the tests of the drawings measure: an SVG taken apart, and invented shapes to draw.

Nothing here asks the drawing modules what they meant: lengths are read off the elements' coordinates.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass

from tubing.drawing.bench_shapes import GlassEdge, Strip, StripBend, StripEnd, Template
from tubing.drawing.svg import Picture
from tubing.geometry.vectors import Point2

THOUSANDTH_MM = 0.0011  # as finely as coordinates are written
NASTY = "a/b \"c\" 'd' <b>&amp;"


@dataclass(frozen=True)
class Item:
    """One drawn element: its tag, its classes, the points that it goes through, and its words."""

    tag: str
    kinds: frozenset[str]
    points: tuple[Point2, ...]
    words: str

    @property
    def xs(self) -> list[float]:
        return [x for x, _ in self.points]

    @property
    def ys(self) -> list[float]:
        return [y for _, y in self.points]


def items(picture: Picture) -> list[Item]:
    """Every element of a picture, in order; the paper's mm, because size and view box agree."""
    root = ET.fromstring(picture.file())
    size = [root.attrib[name] for name in ("width", "height")]
    assert root.attrib["viewBox"].split() == ["0", "0", *(text.removesuffix("mm") for text in size)]
    assert all(text.endswith("mm") for text in size), "the picture has its true size on paper"
    return [_item(element) for element in _drawn(root)]


def _drawn(element: ET.Element) -> Iterator[ET.Element]:
    for child in element:
        if not child.tag.endswith("clipPath"):
            yield child
            yield from _drawn(child)


def _item(element: ET.Element) -> Item:
    tag = element.tag.split("}")[1]
    have = element.attrib
    points: tuple[Point2, ...] = ()
    if tag == "path":
        numbers = [float(text) for text in re.findall(r"-?[\d.]+", have["d"])]
        points = tuple(zip(numbers[::2], numbers[1::2], strict=True))
    elif tag == "rect" and "x" in have:
        x, y, w, h = (float(have[name]) for name in ("x", "y", "width", "height"))
        points = ((x, y), (x + w, y + h))
    elif tag == "circle":
        points = ((float(have["cx"]), float(have["cy"])),)
    elif tag == "text":
        points = ((float(have["x"]), float(have["y"])),)
    return Item(tag, frozenset(have.get("class", "").split()), points, element.text or "")


def of_kind(found: list[Item], tag: str, *kinds: str) -> list[Item]:
    return [one for one in found if one.tag == tag and set(kinds) <= one.kinds]


def strip(bends: tuple[StripBend, ...], length_mm: float = 700.0) -> Strip:
    """A blank of 8 mm tube with a double flare that takes 2.4 mm at its start."""
    ends = (StripEnd("nose", "double + nut", False, 2.4, True, 0.0), StripEnd(NASTY, "plain", False, 0.0, False, 0.0))
    return Strip("nose-a", length_mm, math.pi * 8.0, ends, bends, False)


# One bend of a right angle on a former of 230 mm from 100 mm, one of 30 degrees from 520 mm, a quarter round the tube.
QUARTER = StripBend(1, None, 100.0, 100.0 + 230.0 * math.pi / 2, 90.0, 92.7, 0.0, 0.0)
TWISTED = StripBend(2, 1, 520.0, 520.0 + 230.0 * math.pi / 6, 30.0, 30.9, 90.0, math.pi * 2.0)
BENT = strip((QUARTER, TWISTED))


def template(lean_deg: float, panel_mm: float = 1.5, bush_mm: float = 16.0, **changes: object) -> Template:
    """A spindle that leans to the right on the template; its slot by hand from the design's formula."""
    lean = math.radians(lean_deg)
    figures: dict[str, object] = {
        "box": NASTY,
        "width_mm": bush_mm,
        "length_mm": bush_mm / math.cos(lean) + panel_mm * math.tan(lean),
        "slot_centre_mm": (-panel_mm * math.tan(lean) / 2, 0.0),
        "along": (1.0, 0.0),
        "lean_deg": lean_deg,
        "lean_known": True,
        "leans": lean_deg > 0,
        "heading": (0.0, 1.0),
        "rack_line_mm": (18.0, 0.0),
        "up": (0.0, 0.0, 1.0),
        "right": (-1.0, 0.0, 0.0),
        "edge": GlassEdge(30.0, (0.0, 1.0)),
    }
    return Template(**{**figures, **changes})  # type: ignore[arg-type]
