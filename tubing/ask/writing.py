"""A job as the text of its file, with comments in the fitter's words; and how TOML writes a text."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

COMMENTS = {
    "tube": "The tube, its row in tubes.csv, and the former it is bent round, from formers.csv.",
    "layouts": "Which wheelboxes each layout uses, in order from the motor.",
    "drive": "How the arms move and how far, and on which side they park, seen from the driver's seat.",
    "motor": "The motor: the middle of its nose's seat, and which way the rack leaves it.",
    "point": "Marks that the tape was hooked on; about is where one lies by eye, to tell above from below.",
    "taped": "What the tape read, straight from point to point.",
    "frame": "The first mark is the origin, the second lies to its right, the third forward, level.",
    "measuring": "How far a position may be off, as it was measured.",
}
BESIDE = {  # what stands behind a line
    "layout": "planned when none is asked for",
    "nose": "right, forward, up",
    "hole": "where the spindle's axis leaves the panel's outer face",
    "spindle": "which way it points, out of the panel",
    "panel": "which way the panel faces, square out of it",
    "heading": "which way the rack goes",
    "side": "of the spindle on which the rack passes, looking that way",
    "panel_thickness": "where the box is clamped",
}
CAN_BE_ADDED = (
    "What can be added by hand; the README lists every key.",
    "A tube that must go a way of its own, or that was measured with a wire along the way:",
    "[[tube_between]]",
    'from = "nose"',
    'to = "{first}"',
    'corners = [["-400 mm", "0 mm", "0 mm"]]',
    "or, instead of corners:",
    'measured = "412 mm"',
    "What was really cut, so that the rest of the run is made to fit it:",
    "[[cut]]",
    'piece = "nose-{first}"',
    'length = "411.5 mm"',
)


def quoted(text: str) -> str:
    """A text as TOML writes it, whatever is in it.

    >>> print(quoted('5" scuttle'), quoted("C:\\\\cars"))
    "5\\" scuttle" "C:\\\\cars"
    """
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def value_text(value: Any) -> str:
    """A value as TOML writes it.

    >>> value_text({"from": ["1 mm", "0 mm"], "lean": 0.5})
    '{ from = ["1 mm", "0 mm"], lean = 0.5 }'
    """
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, list):
        return f"[{', '.join(map(value_text, value))}]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {value_text(inner)}" for key, inner in value.items()) + " }"
    return repr(value)


def job_text(data: Mapping[str, Any], origin: str) -> str:
    """The whole job file. ``origin``: what the positions count from, in the fitter's words."""
    return "".join(f"{line}\n" for line in _lines(data, origin))


def _lines(data: Mapping[str, Any], origin: str) -> Iterator[str]:
    yield f"# {data['title']}: what was measured on the vehicle. Change any value here, and plan it again."
    yield "# Every length and angle carries its unit: mm, cm, m, in or ft; deg or rad. A direction needs none."
    yield "# Positions count to the right, forward and up, seen from the driver's seat; left, back and down are minus."
    yield f"# They count from: {origin}"
    yield ""
    yield from _table({"title": data["title"], "layout": data["layout"]})
    yield from _taped(data)
    for section in ("layouts", "tube", "drive", "motor"):
        yield from ("", f"# {COMMENTS[section]}", f"[{section}]")
        yield from _table(data[section])
    boxes = data["wheelbox"]
    for k, box in enumerate(boxes, start=1):
        yield from ("", f"# Wheelbox {k} of {len(boxes)}, counted from the motor.", "[[wheelbox]]")
        yield from _table(box)
        yield from _left_free(box)
    for thing in data.get("in_the_way", ()):
        yield from ("", "# In the way: the tubes keep clear of it.", "[[in_the_way]]")
        yield from _table(thing)
    yield from ("", f"# {COMMENTS['measuring']}", "[measuring]")
    yield from _table(data["measuring"])
    yield ""
    first = quoted(boxes[0]["name"])[1:-1]
    yield from (f"# {line.replace('{first}', first)}" for line in CAN_BE_ADDED)


def _taped(data: Mapping[str, Any]) -> Iterator[str]:
    """Marks, readings and frame of a vehicle that was taped."""
    for key in ("point", "taped"):
        if key in data:
            yield from ("", f"# {COMMENTS[key]}", f"{key} = [")
            yield from (f"    {value_text(row)}," for row in data[key])
            yield "]"
    if "frame" in data:
        yield from ("", f"# {COMMENTS['frame']}", "[frame]")
        yield from _table(data["frame"])


def _table(table: Mapping[str, Any]) -> Iterator[str]:
    """The keys of a section, their signs of equality under each other."""
    longest = max(map(len, table))
    for key, value in table.items():
        beside = f"   # {BESIDE[key]}" if key in BESIDE else ""
        yield f"{key:<{longest}} = {value_text(value)}{beside}"


def _left_free(box: Mapping[str, Any]) -> Iterator[str]:
    """What the plan chooses, or a table gives, unless a line says otherwise."""
    if "panel" not in box:
        yield "# panel = [0.0, 0.2, 0.98]   # not measured: the spindle counts as square to the panel"
    yield '# spacer = "6 mm"   # inside the panel; without this line it is what the model comes with'
    if "heading" not in box:
        yield "# heading = [1.0, 0.0, 0.0]   # left free: the plan chooses which way the rack goes"
    if "side" not in box:
        yield '# side = "right"   # left free: the plan chooses the side of the spindle'
