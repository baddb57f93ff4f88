"""Reads the tables of a data folder; each row is checked, and a wrong one names its file, line and column."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Literal, TypeVar

from tubing.inputs.catalogue import Arm, Catalogue, FlareRow, Former, Motor, Tube, Wheelbox
from tubing.inputs.table_rows import Row, read_rows

SURE = {"S": "read in the source", "S2": "read in a text that quotes it", "M": "from memory", "I": "invented"}
TUBE_COLUMNS = "diameter_mm wall_mm material least_radius_mm"
TUBE_OPTIONS = "single_flare_mm double_flare_mm yield_mpa modulus_gpa"
BOX_COLUMNS = "rack_depth_mm pitch_radius_mm groove_offset_mm mouth_offset_mm groove_width_mm bush_mm stem_mm"
BODY = ("body_along_mm", "body_across_mm", "body_deep_mm")
BOX_OPTIONS = ("spacer_mm", *BODY, "nut_mm", "washer_mm")
WALL_NEEDS = ("the wall must be less than half the diameter", "measure it again")
MOUTH_NEEDS = ("the mouth must lie beyond the groove", "measure both from the spindle's axis")

NAMED = TypeVar("NAMED", Tube, Former, Motor, Wheelbox, Arm)


def _by_name(path: Path, make: Callable[[Row], NAMED], required: str, optional: str = "") -> dict[str, NAMED]:
    table: dict[str, NAMED] = {}
    for row in read_rows(path, ("name", *required.split(), "source", "sure"), tuple(optional.split())):
        record = make(row)
        if record.name in table:
            raise row.wrong(
                "name", f"{record.name!r} stands twice", "each name must stand once", "rename one of the rows"
            )
        table[record.name] = record
    return table


def _origin(row: Row) -> tuple[str, str]:
    """Source and sureness of a row."""
    if row.text("sure") not in SURE:
        raise row.wrong(
            "sure",
            f"{row.cells['sure']!r} is not known",
            f"it must be one of {', '.join(SURE)}",
            "choose one",
        )
    return row.text("source"), row.cells["sure"]


def _tube(row: Row) -> Tube:
    tube = Tube(
        row.text("name"),
        row.length("diameter_mm", "tube diameter"),
        row.length("wall_mm", "tube wall"),
        row.text("material"),
        row.length("least_radius_mm", "least radius of a tube"),
        row.length_or_none("single_flare_mm", "flare diameter"),
        row.length_or_none("double_flare_mm", "flare diameter"),
        row.text("name"),  # a row of the table is cut from the stock of its own name
        *_origin(row),
        row.figure("yield_mpa", "yield strength", "MPa") if row.cells.get("yield_mpa") else None,
        row.figure("modulus_gpa", "modulus", "GPa") if row.cells.get("modulus_gpa") else None,
    )
    if 2 * tube.wall >= tube.diameter:
        raise row.wrong("wall_mm", f"{row.cells['wall_mm']!r} leaves no bore", *WALL_NEEDS)
    return tube


def _former(row: Row) -> Former:
    return Former(
        row.text("name"),
        row.length("radius_mm", "radius of a former"),
        row.length("grip_mm", "former's grip"),
        *_origin(row),
        _radius_is(row),
    )


def _radius_is(row: Row) -> Literal["former", "as bent"]:
    """What the stated radius is; an empty cell: the former's own."""
    match row.cells.get("radius_is") or "former":
        case "former":
            return "former"
        case "as bent":
            return "as bent"
        case other:
            raise row.wrong("radius_is", f"{other!r} is not known", "it must be former or as bent", "choose one")


def _motor(row: Row) -> Motor:
    return Motor(
        row.text("name"),
        row.length("fixed_end_mm", "fixed end of a rack"),
        row.length("nut_length_mm", "nut's length"),
        row.figure("pull_n", "pull", "N"),
        *_origin(row),
        row.length_or_none("rod_mm", "connecting rod"),
        row.figure("rate_per_min", "working speed", "cycle/min") if row.cells.get("rate_per_min") else None,
    )


def _wheelbox(row: Row) -> Wheelbox:
    body = [row.length_or_none(column, "side of a body") for column in BODY]
    for column, size in zip(BODY, body, strict=True):
        if size is None and any(body):
            raise row.wrong(column, "it is empty", f"{', '.join(BODY)} go together", "give all three or none")
    along, across, deep = body
    box = Wheelbox(
        row.text("name"),
        row.length("rack_depth_mm", "rack depth"),
        row.length("pitch_radius_mm", "pitch radius"),
        row.length("groove_offset_mm", "groove offset"),
        row.length("mouth_offset_mm", "mouth offset"),
        row.length("groove_width_mm", "groove width"),
        row.length("bush_mm", "bush"),
        row.length("stem_mm", "stem"),
        row.length_or_none("spacer_mm", "spacer"),
        (along, across, deep) if along is not None and across is not None and deep is not None else None,
        *_origin(row),
        row.length_or_none("nut_mm", "nut on a stem"),
        row.length_or_none("washer_mm", "washer"),
    )
    if box.mouth_offset < box.groove_offset:
        raise row.wrong("mouth_offset_mm", f"{row.cells['mouth_offset_mm']!r} is nearer than the groove", *MOUTH_NEEDS)
    return box


def _arm(row: Row) -> Arm:
    return Arm(row.text("name"), row.length("length_mm", "arm"), row.length("blade_mm", "blade"), *_origin(row))


def _flares(path: Path) -> tuple[FlareRow, ...]:
    columns = ("tube_diameter_mm", "kind", "half_angle_deg", "least_diameter_mm", "most_diameter_mm")
    rows: dict[tuple[object, ...], FlareRow] = {}
    for row in read_rows(path, (*columns, "greatest_wall_mm", "source", "sure")):
        if row.text("kind") not in ("single", "double"):
            raise row.wrong("kind", f"{row.cells['kind']!r} is not known", "it must be single or double", "choose one")
        flare = FlareRow(
            row.length("tube_diameter_mm", "tube diameter"),
            row.text("kind"),
            row.figure("half_angle_deg", "half angle of a flare", "deg"),
            row.length("least_diameter_mm", "flare diameter"),
            row.length("most_diameter_mm", "flare diameter"),
            row.length_or_none("greatest_wall_mm", "tube wall"),
            *_origin(row),
        )
        _check_flare(row, flare)
        key = (flare.tube_diameter.magnitude, flare.kind, flare.half_angle.magnitude)
        if key in rows:
            raise row.wrong("kind", "this flare stands twice", "each must stand once", "take one of the rows out")
        rows[key] = flare
    return tuple(rows.values())


def _check_flare(row: Row, flare: FlareRow) -> None:
    if flare.least_diameter <= flare.tube_diameter:
        raise row.wrong(
            "least_diameter_mm",
            f"{row.cells['least_diameter_mm']!r} is not wider than the tube",
            "a flare must be wider than its tube",
            "measure it again",
        )
    if flare.most_diameter < flare.least_diameter:
        raise row.wrong(
            "most_diameter_mm",
            f"{row.cells['most_diameter_mm']!r} is less than the least diameter",
            "it must be at least that",
            "swap the two",
        )


def read_catalogue(folder: Path, otherwise: Path | None = None) -> Catalogue:
    """All tables of a folder; one that is not there comes from the folder ``otherwise``, if that is given.

    Raises CatalogueError with file, line and column for a wrong row, InputError for an unreadable file.
    """

    def place(name: str) -> Path:
        return folder / name if otherwise is None or (folder / name).exists() else otherwise / name

    return Catalogue(
        tubes=_by_name(place("tubes.csv"), _tube, TUBE_COLUMNS, TUBE_OPTIONS),
        flares=_flares(place("flares.csv")),
        formers=_by_name(place("formers.csv"), _former, "radius_mm grip_mm", "radius_is"),
        motors=_by_name(place("motors.csv"), _motor, "fixed_end_mm nut_length_mm pull_n", "rod_mm rate_per_min"),
        wheelboxes=_by_name(place("wheelboxes.csv"), _wheelbox, BOX_COLUMNS, " ".join(BOX_OPTIONS)),
        arms=_by_name(place("arms.csv"), _arm, "length_mm blade_mm"),
    )
