"""The measuring form: the questions of ``new`` about the vehicle, in their order, for a pencil."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from tubing.ask.records import Form
from tubing.ask.whole_form import Asked, whole_form
from tubing.inputs.records import Shop

WORKSHOPS = ("title", "unit", "tube", "former", "motor", "measured", "boxes", "things")  # not the customer's to say
WORKSHOPS_OF_A_BOX = ("model", "heading how", "side")


class Blank(Struct, frozen=True):
    """One line to be filled in."""

    label: str
    asks: str
    blanks: tuple[str, ...]  # what stands before each space: right, forward, up; or nothing
    choices: tuple[str, ...] = ()  # to be ticked


class Part(Struct, frozen=True):
    """What is measured in one place, with the sketch beside it."""

    title: str
    sketch: str  # the picture's name; empty: none
    lines: tuple[Blank, ...]


class MeasuringForm(Struct, frozen=True):
    """The whole form."""

    parts: tuple[Part, ...]
    marks: tuple[str, ...]  # rows and columns of the tape's readings


def measuring_form(shop: Shop, boxes: int) -> MeasuringForm:
    """A form for so many wheelboxes. Raises JobError for a shop that has no usable tube."""
    typed = {"boxes": str(boxes), "things": "2", "thing 2 shape": "cylinder"}
    typed |= {f"box {k} panel how": "points" for k in range(1, boxes + 1)}
    asked = [each for each in whole_form(shop, typed).asked if _is_asked(each)]
    titles = {"": ("The vehicle", "form-frame"), "nose": ("Motor", "form-nose"), "thing": ("In the way", "")}
    titles |= {f"box {k}": (f"Wheelbox {k}, counted from the motor", "form-wheelbox") for k in range(1, boxes + 1)}
    parts: list[Part] = []
    for group, lines in _grouped(asked):
        title, sketch = titles[group]
        parts.append(Part(title, sketch, tuple(lines)))
    ports = ("nose", *(f"wheelbox {k}, hole" for k in range(1, boxes + 1)))
    return MeasuringForm(tuple(parts), ("mark 1", "mark 2", "mark 3", "mark 4", *ports))


def _is_asked(each: Asked) -> bool:
    key = each.question.key
    if key in WORKSHOPS or key.endswith((" how", " shape")):
        return False
    return not (key.startswith("box ") and key.split(" ", 2)[2] in WORKSHOPS_OF_A_BOX)


def _grouped(asked: list[Asked]) -> Iterator[tuple[str, list[Blank]]]:
    """Questions of one place together, in the order in which they come."""
    found: dict[str, list[Blank]] = {}
    for each in asked:
        key = each.question.key
        first, *rest = key.split()
        group = f"{first} {rest[0]}" if first == "box" else first if first in ("nose", "thing") else ""
        found.setdefault(group, []).append(_blank(each))
    yield from found.items()


def _blank(each: Asked) -> Blank:
    question = each.question
    asks = question.asks.removesuffix("Right, forward, up.").strip()
    match question.form:
        case Form.POINT:
            return Blank(question.label, asks, ("right", "forward", "up"))
        case Form.CHOICE:
            words = (f"{word}: {said}" if said else word for word, said in question.choices)
            return Blank(question.label, asks, (), tuple(words))
        case _:
            return Blank(question.label, asks, ("",))
