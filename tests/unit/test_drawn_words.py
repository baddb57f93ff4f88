"""Names and labels on drawings: typed as they are, clear of each other, and cut short rather than written over."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from tests.drawing_facts import BENT, NASTY, items, template
from tubing.drawing.strip_pictures import strip_picture
from tubing.drawing.svg import Label, Pen, Rect, put_labels
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
