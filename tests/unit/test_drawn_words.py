"""Names and labels on drawings: typed as they are, clear of each other, and cut short rather than written over."""

from __future__ import annotations

import itertools
import random
import re
import xml.etree.ElementTree as ET

import pytest
from msgspec.structs import replace

from tests.demos import demo_shapes
from tests.drawing_facts import BENT, NASTY, Item, items, template
from tubing.drawing.labels import Label, put_labels
from tubing.drawing.pictures import Shapes
from tubing.drawing.run_picture import run_picture
from tubing.drawing.run_shape import RunShape, Solid
from tubing.drawing.strip_pictures import strip_picture
from tubing.drawing.svg import Pen, Rect
from tubing.drawing.template_pages import template_pages


def test_names_are_words_and_nothing_else() -> None:
    """Quotes, tags and entities in a name come back as typed from a reader of XML, in every drawing that has names."""
    for picture in (strip_picture(BENT, 1, "mm"), *template_pages((template(30.0),), "mm", "plan ABCDE")):
        root = ET.fromstring(picture.file())
        tags = {element.tag.split("}")[1] for element in root.iter()}
        assert tags <= {"svg", "title", "style", "rect", "path", "circle", "text", "clipPath", "g"}
        assert any(NASTY in (element.text or "") for element in root.iter() if element.tag.endswith("text"))


def test_labels_keep_clear_of_each_other_and_of_lines_while_there_is_room() -> None:
    """Twelve names along a line: none on another, none over the line, none outside."""
    pen = Pen()
    line = [(10.0, 50.0), (170.0, 50.0)]
    labels = [Label((12.0 + 13.0 * k, 50.0), f"wheelbox {k}") for k in range(12)]
    inside = Rect(0.0, 0.0, 186.0, 100.0)
    put_labels(pen, labels, [line], inside)
    texts = [one for one in items(pen.picture("x", "x", 186.0, 100.0)) if one.tag == "text"]
    wide, tall = 14.5, 2.6  # of "wheelbox 11" at 2.6 mm, as Liberation Sans has it
    places = [Rect(one.points[0][0], one.points[0][1] - 2.2, wide, tall) for one in texts]
    assert len(places) == 12
    for k, place in enumerate(places):
        assert not any(place.meets(other) for other in places[:k])
        assert place.bottom_mm < 50.0 or place.top_mm > 50.0
        assert place.left_mm >= inside.left_mm
        assert place.right_mm <= inside.right_mm


def test_a_label_that_cannot_fit_is_cut_short_and_not_written_over_the_next_view() -> None:
    """Names joined in a narrow side view."""
    pen = Pen()
    put_labels(pen, [Label((10.0, 10.0), "a name that is far too long for this")], [], Rect(0.0, 0.0, 30.0, 20.0))
    (text,) = [one for one in items(pen.picture("x", "x", 186.0, 100.0)) if one.tag == "text"]
    assert text.words.endswith("…")
    assert len(text.words) * 1.2 < 30.0


def places_of(texts: list[Item]) -> list[Rect]:
    """Where level texts lie, by widths that no letter of Liberation Sans falls below on average."""
    found = []
    for one in texts:
        size = 2.6
        found.append(Rect(one.points[0][0], one.points[0][1] - 0.8 * size, 0.42 * size * len(one.words), 0.75 * size))
    return found


def crowded(things: int) -> RunShape:
    """The demo twin with so many invented brackets round it, each with a name that is too long for a drawing."""
    chance = random.Random(things)
    shape = demo_shapes("lined-up-twin").run
    solids = []
    for number in range(1, things + 1):
        x, y, z = chance.uniform(-700, 300), chance.uniform(60, 160), chance.uniform(-160, -80)
        corners = tuple((x + dx, y + dy, z + dz) for dx in (-15, 15) for dy in (-15, 15) for dz in (-15, 15))
        solids.append(Solid(f"bracket {number}, left by the radio's fitter", corners, ()))
    return replace(shape, in_the_way=tuple(solids))


def met(texts: list[Item]) -> list[tuple[str, str]]:
    """The texts that lie on each other."""
    places = places_of(texts)
    pairs = itertools.combinations(range(len(texts)), 2)
    return [(texts[j].words, texts[k].words) for j, k in pairs if places[j].meets(places[k])]


@pytest.mark.long
@pytest.mark.parametrize("things", [3, 7, 18, 40])
def test_no_name_in_a_crowded_run_lies_on_another_and_each_is_told_whole(things: int) -> None:
    """With many things each has a number, and the legend below tells every name to its last letter."""
    shape = crowded(things)
    found = [one for one in items(run_picture(shape, "mm")) if one.tag == "text"]
    labels = [one for one in found if "halo" in one.kinds]
    assert met(labels) == [] if things < 40 else len(met(labels)) <= 2
    told = " ".join(one.words for one in found if "halo" not in one.kinds)
    if things > 6:
        numbers = dict(re.findall(r"\[(\d+)\] (bracket \d+, left by the radio's fitter)", told))
        assert sorted(numbers.values()) == sorted(solid.name for solid in shape.in_the_way)
        assert {f"[{number}]" for number in numbers} <= {one.words for one in labels}


@pytest.mark.long
def test_no_name_in_a_demo_run_lies_on_another_or_is_cut_off(drawn: Shapes) -> None:
    found = [one for one in items(run_picture(drawn.run, "mm")) if one.tag == "text" and "halo" in one.kinds]
    assert [one.words for one in found if one.words.endswith("…")] == []
    assert met(found) == []


@pytest.mark.long
def test_with_inches_asked_for_no_figure_of_the_run_is_in_mm_alone(drawn: Shapes) -> None:
    """§3 Names: places at the edges, and distances over the plan, say inches where the sheet does."""
    found = [one.words for one in items(run_picture(drawn.run, "in")) if one.tag == "text"]
    assert [words for words in found if re.fullmatch(r"[xyz] .*", words) and not words.endswith(" in")] == []
    assert any("inches from the job's origin" in words for words in found)
