"""The questions for what has a direction: a motor's nose, a spindle, a panel, a rack's way through a wheelbox."""

from __future__ import annotations

from collections.abc import Generator
from typing import Any, TypeVar

from tubing.ask.records import Form, Question

T = TypeVar("T")
Asking = Generator[Question, Any, T]

NUMBERS_HELP = (
    "How much of the direction goes right, forward and up. Only their ratio counts: 0, 7, 7 is half forward, half up. "
    "One word will do where it fits: right, left, forward, back, up, down."
)
POINTS_HELP = "Right, forward, up. The farther apart the two points, the truer the direction: 300 mm is good."
NUMBERS = ("numbers", "three plain numbers, or a word such as up")


def motor_heading() -> Asking[None]:
    """Which way the rack leaves the motor: a second point on its line, or numbers."""
    how = yield Question(
        "nose heading how", "heading by", "The rack leaves the nose in which direction? How do you give it?",
        Form.CHOICE, "points", "A straight rod, as thick as the rack, held in the nose shows it: measure any point far "
        "out on it. Numbers do where a bracket was made to an angle.",
        (("points", "one more point ahead on the nose's line"), NUMBERS),
    )  # fmt: skip
    if how == "points":
        yield Question(
            "nose heading to", "point ahead", "Hold a straight rod in the nose. Where is a point on it, out ahead? "
            "Right, forward, up.", Form.POINT, explains=POINTS_HELP, shows=True,
        )  # fmt: skip
    else:
        yield _numbers("nose heading", "heading", "Which way does the rack leave the nose?", shows=True)


def spindle_and_panel(box: str, hole: list[str]) -> Asking[None]:
    """A spindle's direction, and the panel's; the panel comes first where the lean is counted from it."""
    how = yield Question(
        f"{box} spindle how", "spindle by", "Which way does the spindle point, out of the panel? How do you give it?",
        Form.CHOICE, "points", "A rod through the hole, held as the spindle will stand, shows its direction.",
        (("points", "two points on a rod held in the hole"), ("lean", "degrees from square to the panel, and which "
         "way"), NUMBERS), repeats=True,
    )  # fmt: skip
    if how == "lean":
        yield from _panel(box, ())
        yield from _direction(f"{box} spindle toward", "lean toward", "Towards which side does the spindle lean?")
        yield Question(
            f"{box} spindle lean", "lean", "How far does it lean from square to the panel?", Form.ANGLE,
            explains="0 deg stands square on the panel.", repeats=True,
        )  # fmt: skip
        return
    if how == "points":
        at = ", ".join(hole) or None
        yield from _points(f"{box} spindle", "the spindle's axis, at the panel", "on it, farther out", at)
    else:
        yield _numbers(f"{box} spindle", "spindle", "Which way does the spindle point, out of the panel?")
    yield from _panel(box, (("none", "not measured: the spindle counts as square to it"),))


def _panel(box: str, none: tuple[tuple[str, str], ...]) -> Asking[None]:
    """The panel's normal: from it follow the slot and the wedge."""
    how = yield Question(
        f"{box} panel how", "panel by", "Which way does the panel face, square out of it at the hole? How do you give "
        "it?", Form.CHOICE, none[0][0] if none else "points",
        "A try square set on the panel shows it. The slot for a leaning spindle follows from it.",
        (*none, ("points", "two points on the blade of a square set on the panel"), NUMBERS), repeats=True,
    )  # fmt: skip
    if how == "points":
        yield from _points(f"{box} panel", "the square's blade, at the panel", "on the blade, farther out", None)
    elif how == "numbers":
        yield _numbers(f"{box} panel", "panel faces", "Which way does the panel face, outwards?")


def heading(box: str) -> Asking[None]:
    """Which way the rack goes through a wheelbox, if the fitter wants a say."""
    how = yield Question(
        f"{box} heading how", "heading by", "Which way does the rack go through the wheelbox, from the motor's side "
        "on? How do you give it?", Form.CHOICE, "free", "It must cross the spindle at a right angle, within 5 deg. "
        "Left free, the one that needs the gentlest bends is taken.",
        (("free", "let the plan choose"), ("points", "two points along it"), NUMBERS), repeats=True,
    )  # fmt: skip
    if how == "points":
        yield from _points(f"{box} heading", "the rack's way, on the motor's side", "farther on", None)
    elif how == "numbers":
        yield _numbers(f"{box} heading", "heading", "Which way does the rack go?")


def _direction(key: str, label: str, asks: str) -> Asking[None]:
    how = yield Question(
        f"{key} how", f"{label} by", f"{asks} How do you give it?", Form.CHOICE, "numbers",
        "Seen from the driver's seat; one word such as back or up will often do.",
        (NUMBERS, ("points", "two points")), repeats=True,
    )  # fmt: skip
    if how == "points":
        yield from _points(key, "the start of it", "where it leads", None)
    else:
        yield _numbers(key, label, asks)


def _points(key: str, start: str, end: str, default: str | None) -> Asking[None]:
    asks = f"Where is a point on {start}? Right, forward, up."
    yield Question(f"{key} from", "first point", asks, Form.POINT, default, POINTS_HELP)
    yield Question(f"{key} to", "second point", f"And a point {end}?", Form.POINT, None, POINTS_HELP)


def _numbers(key: str, label: str, asks: str, shows: bool = False) -> Question:
    return Question(
        f"{key} numbers", label, f"{asks} Right, forward, up, in plain numbers.", Form.NUMBERS, None, NUMBERS_HELP,
        shows=shows, repeats=True,
    )  # fmt: skip
