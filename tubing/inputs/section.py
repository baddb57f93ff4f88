"""What every table of a file has in common: its keys are known, and those that must be given are.

Section: a table of the file with its keys.
Figures: a section that describes a part which no catalogue knows.
"""

from __future__ import annotations

from collections.abc import Iterable

from pydantic import BaseModel, ConfigDict, model_validator

from tubing.errors import JobError
from tubing.inputs.table_rows import near
from tubing.inputs.toml_files import shown

EXAMPLES = {  # what to write for a key that is missing
    "title": '"Two-seater"',
    "layout": '"twin"',
    "layouts": 'a section [layouts] with a line twin = ["near", "far"]',
    "tube": "a section [tube]",
    "drive": "a section [drive]",
    "motor": "a section [motor]",
    "wheelbox": "a section [[wheelbox]] for each",
    "size": '"steel-8"',
    "former": '"sheave-230"',
    "motion": '"tandem"',
    "sweep": '"110 deg"',
    "park": '"left"',
    "nose": '["-650 mm", "-50 mm", "-35 mm"]',
    "heading": "[1.0, 0.1, 0.0]",
    "hole": '["-250 mm", "0 mm", "0 mm"]',
    "spindle": "[0.0, 0.71, 0.71]",
    "name": '"near"',
    "currency": '"EUR"',
    "unit": '"each"',
    "tube_by": '"bars"',
    "lean": '"40 deg"',
    "diameter": '"8 mm"',
    "wall": '"0.8 mm"',
    "least_radius": '"28 mm"',
    "radius": '"230 mm"',
    "fixed_end": '"110 mm"',
    "nut_length": '"14 mm"',
    "pull": '"450 N"',
    "rack_depth": '"28 mm"',
    "pitch_radius": '"16 mm"',
    "groove_offset": '"25 mm"',
    "bush": '"16 mm"',
    "stem": '"32 mm"',
    "crank": '"5 deg"',
    "error": '"1.5 mm"',
    "piece": '"nose-near"',
    "length": '"1000 mm"',
    "bench": "a section [bench]",
    "rack": "a section [rack]",
    "stock": "a section [[stock]] for each length",
    "offcuts": "a section [offcuts]",
    "minutes": "a section [minutes]",
    "money": "a section [money]",
    "kerf": '"0 mm"',
    "end_trim": '"5 mm"',
    "springback": "0.03",
    "set": '"62 deg"',
    "got": '"60 deg"',
    "clearance": '"5 mm"',
    "panel_thickness": '"1.2 mm"',
    "spacer": '"6 mm"',
    "clip_spacing": '"300 mm"',
    "tooth_pitch": '"2.5 mm"',
    "price": '"12.50"',
    "amount": '"12.50"',
    "rate_per_hour": '"48.00"',
    "tax": '"20 %"',
    "consumables": '"4.50"',
    "friction": "0.15",
    "engagement": '"25 mm"',
    "tip_clearance": '"10 mm"',
    "keep_from": '"400 mm"',
    "value_per_metre": '"2.00"',
}

_TRIAL = "write what was measured as a [[trial_flare]]: the blank before, and what is left after"
REPLACED = {"single_consumes": _TRIAL, "double_consumes": _TRIAL}


def _add(key: str) -> str:
    """What to do about a missing key."""
    example = EXAMPLES.get(key, "")
    if example.startswith("a "):
        return f"add {example}"
    return f"add {key} = {example}" if example else "add it"


def _instead(key: str, keys: Iterable[str]) -> str:
    """What to do about an unknown key; a key of earlier days is told what took its place."""
    if key in REPLACED:
        return REPLACED[key]
    advice = near(key, keys)
    return advice if advice.startswith("did you mean") else "take it out"


class Section(BaseModel):
    """A table of the file. A key that is not known or is missing is told before any value is looked at."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, arbitrary_types_allowed=True, defer_build=True)

    @model_validator(mode="before")
    @classmethod
    def check_keys(cls, data: object) -> object:
        """Raise JobError for a value that is no table, an unknown key or a missing one."""
        keys = {field.alias or name: field.is_required() for name, field in cls.model_fields.items()}
        if not isinstance(data, dict):
            raise JobError(
                "", f"{shown(data)} is not a table", "it must be a table of keys", f"give the keys {', '.join(keys)}"
            )
        for key in data:
            if key not in keys:
                raise JobError(
                    "", f"there is no key {shown(key)}", f"the keys are {', '.join(keys)}", _instead(key, keys)
                )
        for key, required in keys.items():
            if required and key not in data:
                raise JobError(key, "it is missing", "it must be given", _add(key))
        return data
