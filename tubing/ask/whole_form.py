"""All questions at once, for a page: each with what was typed, what is proposed, and what is wrong with it.

Which questions there are depends on the answers; where one is still open, a stand-in lets the later ones be seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from msgspec import Struct

from tubing.ask.answers import printable
from tubing.ask.draft import job_data
from tubing.ask.judging import checked, proposed, without_file
from tubing.ask.questions import usable_tubes
from tubing.ask.records import Form, Question
from tubing.ask.walk import Walk
from tubing.ask.writing import job_text
from tubing.errors import InputError, JobError
from tubing.inputs.records import Shop

NOWHERE = ["0.00001 mm", "0 mm", "0 mm"]  # a position that nobody has measured
STAND_IN: dict[Form, Any] = {
    Form.TEXT: "x", Form.LENGTH: "1 mm", Form.ANGLE: "1 deg", Form.POINT: NOWHERE,
    Form.NUMBERS: [0.0, 0.0, 1.0], Form.COUNT: 1, Form.NAMES: [],
}  # fmt: skip
NAME = "the job"  # what messages call it until it has a file


class Asked(Struct, frozen=True):
    """One question on the page."""

    question: Question
    text: str  # what stands in its field
    wrong: str = ""  # in words; empty: nothing, or it is still open
    open: bool = False  # no answer yet


class WholeForm(Struct, frozen=True):
    """All questions, and the job where all are answered."""

    asked: tuple[Asked, ...]
    text: str = ""  # of the job's file; empty: something is open or wrong

    @property
    def open(self) -> int:
        """How many questions are not answered yet."""
        return sum(each.open for each in self.asked)

    @property
    def wrong(self) -> list[Asked]:
        """Those whose answer does not do."""
        return [each for each in self.asked if each.wrong]


def whole_form(shop: Shop, typed: Mapping[str, str]) -> WholeForm:
    """The questions of a job with what was typed so far, by key; an answer left empty is what is proposed.

    Raises JobError for a shop with no tube that lets the rack through.
    """
    tubes = usable_tubes(shop)
    if not tubes:
        raise JobError("shop", "no tube in stock lets the rack through", "there must be one", "add a [[stock]] of it")
    walk, answered, asked = Walk(shop), dict[str, Any](), list[Asked]()
    taken: dict[str, str] = {}  # the answers by key, as typed or proposed
    while (question := walk.question) is not None:
        text = typed.get(question.key, "").strip()
        usual = proposed(question, walk.values, taken)
        if usual == ", ".join(NOWHERE):
            usual = None  # it is proposed from a position that is still open
        found, value = _answered(question, text, usual, answered, walk.usual, tubes[0].name, shop)
        if not found.open and not found.wrong:
            answered[question.key] = value
            taken[question.key] = found.text
        asked.append(found)
        walk.step(value)
    if any(each.open or each.wrong for each in asked):
        return WholeForm(tuple(asked))
    data = job_data(answered, tubes[0].name)
    return WholeForm(tuple(asked), job_text(data, answered.get("origin") or answered["mark 1 name"]))


def _answered(
    question: Question, text: str, usual: str | None, answered: Mapping[str, Any], unit: str, tube: str, shop: Shop
) -> tuple[Asked, Any]:
    """A question with its field, and its value or what stands in for it."""
    first = question.choices[0][0] if question.choices else ""
    stand_in = STAND_IN.get(question.form, question.default or first)
    answer = text or (usual or "")
    if not answer:
        return Asked(question, "", open=True), stand_in
    try:
        value = question.value(printable(answer), unit)
        checked({**answered, question.key: value}, tube, NAME, shop)
    except InputError as error:
        said = str(without_file(error, NAME)).lstrip(": ")
        return Asked(question, answer, wrong=said), stand_in
    return Asked(question, answer), value
