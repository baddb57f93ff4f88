"""All questions of `new` at once, as the desk shows them: the same job as at the keyboard, what is open or wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.test_ask import SHOP, TWIN, asked
from tubing.ask.judging import proposed
from tubing.ask.walk import Walk
from tubing.ask.whole_form import WholeForm, whole_form


def typed_of(answers: list[str]) -> dict[str, str]:
    """What is typed into which field, from the answers in their order; Enter alone types nothing."""
    walk, found, taken = Walk(SHOP), dict[str, str](), dict[str, str]()
    for text in answers:
        question = walk.question
        assert question is not None
        answer = text or proposed(question, walk.values, taken) or ""
        if text:
            found[question.key] = text
        taken[question.key] = answer
        walk.step(question.value(answer, walk.usual))
    assert walk.question is None
    return found


TYPED = typed_of(TWIN[:-1])


def keys(form: WholeForm) -> list[str]:
    return [each.question.key for each in form.asked]


def test_the_page_writes_the_very_job_that_the_keyboard_writes(tmp_path: Path):
    path = tmp_path / "job.toml"
    asked(path, TWIN)
    assert whole_form(SHOP, TYPED).text == path.read_text(encoding="utf-8")


def test_before_anything_is_typed_all_questions_stand_there_in_order():
    """What has no usual answer is open, nothing is wrong, and no position is proposed from one that is open."""
    form = whole_form(SHOP, {})
    assert form.text == ""
    assert form.wrong == []
    assert keys(form)[:3] == ["title", "unit", "tube"]
    open_ones = [each.question.key for each in form.asked if each.open]
    assert {"title", "nose", "box 1 hole", "box 2 hole"} <= set(open_ones)
    assert [each.text for each in form.asked if each.open] == [""] * len(open_ones)


@pytest.mark.parametrize("left_out", sorted(TYPED))
def test_one_answer_left_out_is_open_or_proposed_and_spoils_no_other(left_out: str):
    """Whatever order they are typed in: the other answers stay right, and only a whole form has a job."""
    form = whole_form(SHOP, {key: text for key, text in TYPED.items() if key != left_out})
    open_ones = {each.question.key for each in form.asked if each.open}
    assert form.wrong == [] or form.text == ""
    assert (form.text == "") == bool(open_ones or form.wrong)
    for each in form.asked:
        if each.question.key in TYPED and each.question.key != left_out:
            assert each.text == TYPED[each.question.key]


MUCH = TYPED | {
    "things": "3", "thing 1 name": "heater", "thing 1 from": "0 mm, 200 mm, 0 mm", "thing 1 to": "90 mm, 300 mm, 90 mm",
    "thing 2 name": "duct", "thing 2 shape": "cylinder", "thing 2 from": "0 mm, 500 mm, 0 mm",
    "thing 2 to": "0 mm, 600 mm, 0 mm", "thing 2 radius": "20 mm", "thing 3 name": "column", "thing 3 shape": "sphere",
    "thing 3 centre": "0 mm, 900 mm, 0 mm", "thing 3 radius": "30 mm", "box 1 spindle how": "points",
    "box 1 spindle to": "-300 mm, 60 mm, 80 mm", "box 2 heading how": "points",
    "box 2 heading from": "150 mm, 0 mm, 0 mm", "box 2 heading to": "250 mm, 0 mm, 0 mm",
}  # fmt: skip


@settings(max_examples=60)
@given(st.sets(st.sampled_from(sorted(MUCH))))
def test_any_part_of_the_answers_in_any_order_is_a_form(some: set[str]):
    """Nobody fills in a page from top to bottom; what was typed is never lost, and never the program's undoing."""
    form = whole_form(SHOP, {key: MUCH[key] for key in some})
    for each in form.asked:
        if each.question.key in some:
            assert each.text == MUCH[each.question.key]
            assert not each.open


def test_what_is_wrong_is_said_at_its_question_in_the_jobs_own_words():
    form = whole_form(SHOP, TYPED | {"nose": "-700 kg, -34 mm, -18.5 mm", "sweep": "900 deg"})
    said = {each.question.key: each.wrong for each in form.wrong}
    assert said.keys() == {"nose", "sweep"}
    assert said["nose"].startswith("to the right: '-700 kg' has the unknown unit 'kg'; it must be a length; ")
    assert "it must be at most 360 deg" in said["sweep"]


def test_more_wheelboxes_ask_more_and_fewer_ask_less():
    assert len(keys(whole_form(SHOP, {"boxes": "3"}))) > len(keys(whole_form(SHOP, {})))
    assert "twin" in keys(whole_form(SHOP, {"boxes": "3"}))
    assert not any(key.startswith("box 2") for key in keys(whole_form(SHOP, {"boxes": "1"})))
    assert any(key.startswith("tape ") for key in keys(whole_form(SHOP, {"measured": "taped"})))


def test_a_choice_for_the_first_wheelbox_is_proposed_for_the_next():
    form = whole_form(SHOP, {"box 1 model": "bench-box-wide", "box 1 panel_thickness": "2 mm"})
    proposed_now = {each.question.key: each.text for each in form.asked}
    assert (proposed_now["box 2 model"], proposed_now["box 2 panel_thickness"]) == ("bench-box-wide", "2 mm")


def test_every_question_explains_itself():
    """`?` at the keyboard, and the page's help, are never empty."""
    ways = [
        {},
        {"boxes": "3"},
        {"measured": "taped"},
        {"things": "3", "thing 2 shape": "cylinder", "thing 3 shape": "sphere"},
    ]
    ways += [{f"box 1 {what} how": how} for what in ("spindle", "panel", "heading") for how in ("points", "numbers")]
    ways += [{"box 1 spindle how": "lean"}, {"nose heading how": "numbers"}]
    ways += [{"box 1 spindle how": "lean", "box 1 spindle toward how": "points"}]
    for way in ways:
        assert [each.question.key for each in whole_form(SHOP, way).asked if not each.question.explains] == []
