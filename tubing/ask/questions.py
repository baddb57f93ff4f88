"""The questions, in the order in which a fitter measures. Each generator yields a question and is sent its value.

Which question comes next depends on the values before it alone, so that walking them again with the same answers
meets the same questions: that is how an unfinished job goes on, and how one goes back.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable
from typing import Any

from tubing.ask.directions import Asking, heading, motor_heading, spindle_and_panel
from tubing.ask.records import Form, Question
from tubing.ask.taping import marks, measured_how, readings_to
from tubing.inputs.catalogue import Former, Tube
from tubing.inputs.records import Shop
from tubing.springback import as_bent_mm
from tubing.units import Quantity, mm, newton

MOST_BOXES, MOST_THINGS = 6, 20
WHOLE = {1: "single", 2: "twin", 3: "triple"}  # what a layout of all wheelboxes is called
POINT_HELP = (
    "Three lengths with commas between them: to the right, forward, up, counted from the origin; a minus for the "
    "other way. Or say the way in words, in any order: 650 mm left, 50 mm back, 35 mm up. Inches may be whole, with a "
    "point or in fractions: 2 in, 2.5 in, 2 1/2 in."
)
FRAME = (
    "All positions count from one point that you choose, the origin: something you can hold a tape to and find again, "
    "such as the middle of the scuttle's edge. Sit in the driver's seat: x counts to the right, y forward, z up. "
    "Left, back and down are minus."
)


def questions(shop: Shop) -> Generator[Question, Any, None]:
    """All questions of a job."""
    yield Question(
        "title", "title", "What is the vehicle, or the job, called?", Form.TEXT,
        explains="It stands at the head of every paper. Say the vehicle, and what tells it from the next one like it.",
    )  # fmt: skip
    yield Question(
        "unit", "usual unit", "Which unit does your tape count? A length that you type without a unit is then in this "
        "one, and is shown with it.", Form.CHOICE, "mm",
        "Millimetres and inches may be mixed: 650 mm here, 2 1/2 in there. The job keeps what you typed.",
        choices=(("mm", "millimetres"), ("cm", "centimetres"), ("in", "inches, also 2 1/2 in")),
    )  # fmt: skip
    yield from _parts(shop)
    how = yield measured_how()
    names_of_marks = (yield from marks()) if how == "taped" else []
    yield from _nose(names_of_marks)
    yield from motor_heading()
    names = yield from _wheelboxes(shop, names_of_marks)
    yield from _layouts(names)
    yield from _drive()
    yield from _surroundings()


def _nose(names_of_marks: list[str]) -> Asking[None]:
    if names_of_marks:
        yield from readings_to("nose", "the motor's nose, the middle of its seat", names_of_marks)
        return
    yield Question(
        "origin", "origin", f"{FRAME} What is your origin?", Form.TEXT, "the middle of the scuttle's edge",
        "In words, so that whoever opens the job finds it again: they are written into it as a remark.",
    )  # fmt: skip
    yield Question(
        "nose", "motor nose", "Where is the motor's nose: the middle of the seat that the tube is pulled against? "
        "Right, forward, up.", Form.POINT, explains=POINT_HELP, shows=True,
    )  # fmt: skip


def _parts(shop: Shop) -> Asking[None]:
    tubes = usable_tubes(shop)
    tube = yield Question(
        "tube", "tube", "Which tube? These are in stock and let the rack through.", Form.CHOICE,
        _first(t.name for t in tubes), "A tube that is not here can be described in the job file afterwards.",
        tuple((t.name, f"{_mm(t.diameter)} {t.material}, wall {_mm(t.wall)}") for t in tubes),
    )  # fmt: skip
    formers = list(shop.catalogue.formers.values())
    yield Question(
        "former", "former", "Which former is the tube bent round? The rack wants a radius of "
        f"{_mm(shop.bench.rack_least_radius)} at least.", Form.CHOICE,
        _first(f.name for f in formers if _wide_enough(f, shop.catalogue.tubes.get(tube), shop)),
        "The radius is to the tube's centre line.",
        tuple((f.name, _former_words(f, shop.catalogue.tubes.get(tube), shop)) for f in formers),
    )  # fmt: skip
    yield Question(
        "motor", "motor", "Which motor?", Form.CHOICE, _first(shop.catalogue.motors),
        "The pull is what the motor is rated for; the plan says what is needed.",
        tuple((m.name, f"pulls {newton(m.pull):.6g} N") for m in shop.catalogue.motors.values()),
    )  # fmt: skip


def usable_tubes(shop: Shop) -> list[Tube]:
    """The tubes in stock that the rack can run in."""
    stocked = {bar.tube for bar in shop.stock}
    return [t for t in shop.catalogue.tubes.values() if t.stock in stocked and t.bore > shop.rack.diameter]


def _first(names: Iterable[str]) -> str | None:
    return next(iter(names), None)


def _former_words(former: Former, tube: Tube | None, shop: Shop) -> str:
    """A former's radius, and what is wrong with one that is too tight."""
    tight = "" if _wide_enough(former, tube, shop) else ": too tight for a bend, only for a run without any"
    return f"radius {_mm(former.radius)}{tight}"


def _wide_enough(former: Former, tube: Tube | None, shop: Shop) -> bool:
    """The rack lies in the bend as it stays; the tube is bent round the former."""
    rack_fits = as_bent_mm(tube, former, shop) >= mm(shop.bench.rack_least_radius)
    return rack_fits and (tube is None or former.radius >= tube.least_radius)


def _mm(length: Quantity) -> str:
    return f"{mm(length):.6g} mm"


def _wheelboxes(shop: Shop, names_of_marks: list[str]) -> Asking[list[str]]:
    boxes = yield Question(
        "boxes", "wheelboxes", "How many wheelboxes do you measure? Count those that only a triple would use.",
        Form.COUNT, "2", "Each has a spindle that comes through the panel and carries one arm. You give them in the "
        "order in which the rack reaches them from the motor.", most=MOST_BOXES,
    )  # fmt: skip
    names: list[str] = []
    for k in range(1, boxes + 1):
        box = f"box {k}"
        counted = f"Wheelbox {k} of {boxes}, counted from the motor"
        name = yield Question(
            f"{box} name", "name", f"{counted}. What do you call it?", Form.TEXT, _usual_name(k, boxes),
            "Its tubes are named after it, such as nose-near.",
        )  # fmt: skip
        names.append(name)
        models = shop.catalogue.wheelboxes.values()
        yield Question(
            f"{box} model", "model", "Which model of wheelbox?", Form.CHOICE, _first(shop.catalogue.wheelboxes),
            "One that is not here can be described in the job file afterwards.",
            tuple((m.name, f"pitch radius {_mm(m.pitch_radius)}, stem {_mm(m.stem)}") for m in models), repeats=True,
        )  # fmt: skip
        hole = yield from _hole(box, name, names_of_marks)
        yield from spindle_and_panel(box, hole)
        yield Question(
            f"{box} panel_thickness", "panel thickness", "How thick is the panel there?", Form.LENGTH,
            _mm(shop.bench.panel_thickness), "With paint and stiffener, where the box is clamped.", repeats=True,
        )  # fmt: skip
        yield from heading(box)
        yield Question(
            f"{box} side", "side", "On which side of the spindle does the rack pass, seen from outside and looking the "
            "way the rack goes?", Form.CHOICE, "free", "Left free, the side that needs the gentler bends is taken.",
            (("free", "let the plan choose"), ("right", "of the spindle"), ("left", "of the spindle")), repeats=True,
        )  # fmt: skip
    return names


def _hole(box: str, name: str, names_of_marks: list[str]) -> Asking[list[str]]:
    """Where a wheelbox's hole is; nothing yet where it is taped."""
    if names_of_marks:
        yield from readings_to(box, f"the hole of {name}, in the panel's outer face", names_of_marks)
        return []
    found: list[str] = yield Question(
        f"{box} hole", "hole", "Where does the spindle's axis leave the panel's outer face? Right, forward, up.",
        Form.POINT, explains=POINT_HELP, shows=True,
    )  # fmt: skip
    return found


def _usual_name(k: int, boxes: int) -> str | None:
    usual = {1: ("middle",), 2: ("near", "far"), 3: ("near", "middle", "far")}.get(boxes, ())
    return usual[k - 1] if usual else None


def _layouts(names: list[str]) -> Asking[None]:
    """With three wheelboxes or more there is a choice; with fewer all are used."""
    if len(names) < 3:
        return
    whole = WHOLE.get(len(names), "all")
    twin = yield Question(
        "twin", "twin", "Which two would a twin use, in order from the motor? Names or numbers with a comma between.",
        Form.NAMES, f"1, {len(names)}", "Then twin and triple can be priced against each other.",
        tuple((name, "") for name in names), none="none", least=2, most=2,
    )  # fmt: skip
    if twin:
        yield Question(
            "layout", "layout", "Which layout is planned when you ask for none?", Form.CHOICE, whole,
            "The other one is planned with: tubing plan JOB --layout NAME. The command cost sets them side by side.",
            choices=((whole, "with all wheelboxes"), ("twin", "with the two")),
        )  # fmt: skip


def _drive() -> Asking[None]:
    yield Question(
        "motion", "motion", "How do the arms move?", Form.CHOICE, "tandem",
        "Tandem: all arms go the same way, and park on the same side. Opposed: neighbours go opposite ways, so the "
        "rack passes on alternate sides of their spindles. With three wheelboxes the first and the third go the "
        "same way "
        "and the middle one against them. They must not meet: the command sweep looks at that.",
        choices=(("tandem", "side by side, the same way"), ("opposed", "towards each other and apart")),
    )  # fmt: skip
    yield Question(
        "sweep", "sweep", "How far does an arm sweep, from end to end?", Form.ANGLE, "110 deg",
        "The usual span is 90 to 140 deg; where the job has a screen, the command sweep compares them.",
    )  # fmt: skip
    yield Question(
        "park", "park", "On which side do the arms park, as seen from the driver's seat?", Form.CHOICE, "left",
        "Parked, the blades lie along the lower edge of the glass, out of the view. The motor stops there by itself: "
        "the plan says whether the rack is then pulled in or pushed out. With opposed arms it is the side of the first "
        "wheelbox; the next one parks on the other side.",
        choices=(("left", "the driver's left"), ("right", "the driver's right")),
    )  # fmt: skip
    yield Question(
        "error", "measuring error", "How far may a position be off, as you measured it?", Form.LENGTH, "1.5 mm",
        "From it follows which pieces are better marked in place than cut by the list.",
    )  # fmt: skip


def _surroundings() -> Asking[None]:
    things = yield Question(
        "things", "things in the way", "How many things must the tubes keep clear of (a heater, a duct, a column)?",
        Form.COUNT, "0", "Only what stands where a tube might run. Each is given as a box, a cylinder or a sphere that "
        "it fits into; the tubes keep off it by the shop's clearance.", least=0, most=MOST_THINGS,
    )  # fmt: skip
    for k in range(1, things + 1):
        yield from _thing(f"thing {k}", k, things)


def _thing(key: str, k: int, things: int) -> Asking[None]:
    yield Question(
        f"{key} name", "name", f"Thing {k} of {things} in the way. What is it?", Form.TEXT,
        explains="A word by which you know it again: the papers and the messages call it that.",
    )  # fmt: skip
    shape = yield Question(
        f"{key} shape", "shape", "What is it most like? Take it large enough.", Form.CHOICE, "box",
        "A box stands level, its edges to the right, forward and up: a thing that stands at a slant needs a "
        "larger one. "
        "A turned box can be written into the job file afterwards.",
        choices=(("box", "level, by two opposite corners"), ("cylinder", "by the ends of its axis, and its radius"),
                 ("sphere", "by its centre and radius")),
    )  # fmt: skip

    def position(part: str, asks: str, last: bool = False) -> Question:
        return Question(f"{key} {part}", part, f"{asks} Right, forward, up.", Form.POINT, None, POINT_HELP, shows=last)

    if shape == "box":
        yield position("from", "Where is one corner?")
        yield position("to", "Where is the corner opposite, across the middle of the box?", last=True)
        return
    if shape == "cylinder":
        yield position("from", "Where is the middle of one end?")
        yield position("to", "Where is the middle of the other end?")
    else:
        yield position("centre", "Where is its centre?")
    across = "Half of what you measure across it."
    yield Question(f"{key} radius", "radius", "What is its radius?", Form.LENGTH, None, across, shows=True)
