"""What the form explains of a field, and what it offers: the questions of ``new``, asked of nobody."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tubing.ask.records import Form, Question
from tubing.ask.walk import Walk
from tubing.ask.whole_form import STAND_IN
from tubing.desk.job_form import Group, groups_of
from tubing.inputs.records import Shop

ASKED_AS = {  # a field by its keys, and the question of ``new`` that asks for it
    "title": "title",
    "tube.size": "tube",
    "tube.former": "former",
    "motor.model": "motor",
    "motor.nose": "nose",
    "motor.heading": "nose heading numbers",
    "motor.heading.to": "nose heading to",
    "wheelbox.name": "box 1 name",
    "wheelbox.model": "box 1 model",
    "wheelbox.hole": "box 1 hole",
    "wheelbox.spindle": "box 1 spindle numbers",
    "wheelbox.spindle.lean": "box 1 spindle lean",
    "wheelbox.spindle.toward": "box 1 spindle toward numbers",
    "wheelbox.spindle.from": "box 1 spindle from",
    "wheelbox.spindle.to": "box 1 spindle to",
    "wheelbox.panel": "box 1 panel numbers",
    "wheelbox.panel_thickness": "box 1 panel_thickness",
    "wheelbox.heading": "box 1 heading numbers",
    "wheelbox.side": "box 1 side",
    "drive.motion": "motion",
    "drive.sweep": "sweep",
    "drive.park": "park",
    "measuring.error": "error",
    "in_the_way.name": "thing 1 name",
    "in_the_way.box.from": "thing 1 from",
    "in_the_way.box.to": "thing 1 to",
    "in_the_way.sphere.centre": "thing 1 centre",
    "in_the_way.sphere.radius": "thing 1 radius",
}
# The answers that lead past all questions of a job with one wheelbox and one thing in the way.
WAYS: tuple[dict[str, str], ...] = (
    {},
    {"nose heading how": "numbers", "box 1 spindle how": "numbers", "box 1 panel how": "numbers",
     "box 1 heading how": "numbers", "thing 1 shape": "sphere"},
    {"box 1 spindle how": "lean", "box 1 panel how": "numbers", "box 1 spindle toward how": "numbers"},
)  # fmt: skip


def questions_of(shop: Shop) -> dict[str, Question]:
    """Every question that a form can need, by its key."""
    found: dict[str, Question] = {}
    for way in WAYS:
        walk = Walk(shop)
        while walk.question is not None:
            question = walk.question
            found.setdefault(question.key, question)
            usual = question.default if question.form is Form.CHOICE else None
            first = question.choices[0][0] if question.choices else ""
            walk.step(way.get(question.key, usual or STAND_IN.get(question.form, first)))
    return found


def job_groups(data: Mapping[str, Any], asked: Mapping[str, Question]) -> list[Group]:
    """The form of a job, with what is explained and offered. ``asked``: every question, by its key."""
    return groups_of(data, choices_of(asked), helps_of(asked))


def helps_of(asked: Mapping[str, Question]) -> dict[str, str]:
    """What is explained of each field: what ``new`` asks, and what it answers to ``?``."""
    return {
        field: f"{asked[key].asks} {asked[key].explains}".strip() for field, key in ASKED_AS.items() if key in asked
    }


def choices_of(asked: Mapping[str, Question]) -> dict[str, tuple[str, ...]]:
    """What is offered for each field that takes one of a list."""
    offered = {
        field: tuple(word for word, _ in asked[key].choices if word != "free")
        for field, key in ASKED_AS.items()
        if key in asked and asked[key].form is Form.CHOICE
    }
    return {field: words for field, words in offered.items() if words}
