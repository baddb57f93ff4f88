"""The measuring form: the questions of `new` in their order, room for every answer, and nothing cut off."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.drawing_facts import items
from tests.unit.test_whole_form import SHOP
from tubing.ask.whole_form import whole_form
from tubing.commands import main
from tubing.drawing.form_pictures import form_pictures
from tubing.drawing.svg import text_width_mm
from tubing.sheet.measuring_form import measuring_form


@pytest.mark.parametrize("boxes", [1, 2, 3])
def test_the_form_asks_what_new_asks_of_the_vehicle_in_its_order(boxes: int):
    """Within each place the lines come as `new` asks them, and every position has its three spaces."""
    form = measuring_form(SHOP, boxes)
    assert [part.title for part in form.parts][1:-1] == [
        "Motor", *(f"Wheelbox {k}, counted from the motor" for k in range(1, boxes + 1)),
    ]  # fmt: skip
    order = [each.question.label for each in whole_form(SHOP, {"boxes": "1", "box 1 panel how": "points"}).asked]
    box = [line.label for line in form.parts[2].lines]
    assert box == [label for label in order[order.index("name") :] if label in box][: len(box)]
    assert all(line.blanks == ("right", "forward", "up") for line in form.parts[2].lines if "point" in line.label)
    assert len(form.marks) == 4 + 1 + boxes


def test_the_sketches_have_all_their_words_on_the_paper():
    for picture in form_pictures():
        for one in items(picture):
            if one.tag == "text":
                x, _ = one.points[0]
                assert 0.0 <= x <= 88.0
                assert one.words.isprintable()
        assert picture.svg(1).count("<text") > 2
    marks = items(form_pictures()[3])
    said = next(one for one in marks if one.words == "2 to its right")
    assert said.points[0][0] - text_width_mm(said.words) > 0.0


def test_it_goes_into_a_new_file_and_a_wrong_count_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    page = tmp_path / "form.html"
    assert main(["form", "-o", str(page), "--boxes", "3"]) == 0
    text = page.read_text(encoding="utf-8")
    assert text.count("counted from the motor</h2>") == 3
    assert "<script" not in text
    assert "Wear eye protection" in text
    capsys.readouterr()
    assert main(["form", "-o", str(page)]) == 3
    assert capsys.readouterr().err == f"{page}: it is there already; it must be a new file; give it another name\n"
    assert main(["form", "-o", str(tmp_path / "x.html"), "--boxes", "9"]) == 2
    assert capsys.readouterr().err == "--boxes: it is '9'; it must be a number from 1 to 6; write --boxes 3\n"
