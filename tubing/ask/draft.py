"""The answers so far as the tables of a job file, with stand-ins where nothing was asked yet.

So the job's own reader can judge every answer at once; the stand-ins are chosen so that they never offend.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tubing.ask.questions import WHOLE
from tubing.ask.taping import is_taped, taped_tables

Values = Mapping[str, Any]  # by the question's key
FAR_OFF = ["0 mm", "0 mm", "9.9 m"]  # where no measured position lies
UP, RIGHT = [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]


def job_data(values: Values, tube: str) -> dict[str, Any]:
    """The tables of the job file; ``tube`` stands in until one is chosen.

    Complete, and without a stand-in, once all questions are answered.
    """
    boxes = [f"box {k}" for k in range(1, values.get("boxes", 0) + 1) if f"box {k} name" in values]
    things = [f"thing {k}" for k in range(1, values.get("things", 0) + 1) if f"thing {k} name" in values]
    wheelboxes = [_wheelbox(values, box) for box in boxes] or [_wheelbox({}, "box 1")]
    names = [box["name"] for box in wheelboxes]
    whole = WHOLE.get(len(names), "all")
    layouts = {whole: names} | ({"twin": values["twin"]} if values.get("twin") else {})
    data: dict[str, Any] = {
        "title": values.get("title", "no title yet"),
        "layout": values.get("layout", whole),
        "layouts": layouts,
        "tube": {"size": values.get("tube", tube), "former": values.get("former", {"radius": "300 mm"})},
        "drive": {
            "motion": values.get("motion", "tandem"),
            "sweep": values.get("sweep", "110 deg"),
            "park": values.get("park", "left"),
        },
        "motor": _motor(values),
        "wheelbox": wheelboxes,
    }
    if things:
        data["in_the_way"] = [_thing(values, thing) for thing in things]
    taped = taped_tables(values, {"nose": "nose"} | dict(zip(boxes, names, strict=False)))
    if "error" in values or taped:
        data["measuring"] = {"error": values.get("error", "1.5 mm")}
    return data | taped


_MOTOR = {"fixed_end": "110 mm", "nut_length": "14 mm", "pull": "450 N"}
_BOX = {"rack_depth": "28 mm", "pitch_radius": "16 mm", "groove_offset": "25 mm", "bush": "16 mm", "stem": "32 mm"}


def _motor(values: Values) -> dict[str, Any]:
    nose = "taped" if is_taped(values, "nose") else values.get("nose", FAR_OFF)
    return {
        "model": values.get("motor", _MOTOR),
        "nose": nose,
        "heading": _direction({"nose heading from": nose, **values}, "nose heading", RIGHT),
    }


def _direction(values: Values, key: str, otherwise: Any) -> Any:
    if values.get(f"{key} how") == "free":
        return otherwise
    if f"{key} numbers" in values:
        return values[f"{key} numbers"]
    if f"{key} from" in values and f"{key} to" in values:
        return {"from": values[f"{key} from"], "to": values[f"{key} to"]}
    return otherwise


def _wheelbox(values: Values, box: str) -> dict[str, Any]:
    panel = _direction(values, f"{box} panel", None)
    found = {
        "name": values.get(f"{box} name", "a wheelbox"),
        "model": values.get(f"{box} model", _BOX),
        "hole": "taped" if is_taped(values, box) else values.get(f"{box} hole", _far_off(box)),
        "spindle": _spindle(values, box, UP if panel is None else panel),
        "panel": panel,
        "panel_thickness": values.get(f"{box} panel_thickness"),
        "heading": _direction(values, f"{box} heading", None),
        "side": None if values.get(f"{box} side") == "free" else values.get(f"{box} side"),
    }
    return {key: value for key, value in found.items() if value is not None}


def _far_off(box: str) -> list[str]:
    return [f"{box.split()[1]} m", *FAR_OFF[1:]]


def _spindle(values: Values, box: str, otherwise: Any) -> Any:
    """A spindle that is not yet known stands square on the panel."""
    toward = _direction(values, f"{box} spindle toward", None)
    if toward is not None:
        return {"lean": values.get(f"{box} spindle lean", "0 deg"), "toward": toward}
    return _direction(values, f"{box} spindle", otherwise)


def _thing(values: Values, thing: str) -> dict[str, Any]:
    parts = {part: values.get(f"{thing} {part}") for part in ("name", "from", "to", "centre", "radius", "shape")}
    name, start, end, centre, radius, shape = parts.values()
    if shape == "box" and start is not None and end is not None:
        return {"name": name, "box": {"from": start, "to": end}}
    if shape == "cylinder" and start is not None and end is not None:
        return {"name": name, "cylinder": {"from": start, "to": end, "radius": radius or "1 mm"}}
    return {"name": name, "sphere": {"centre": centre or start or FAR_OFF, "radius": radius or "1 mm"}}
