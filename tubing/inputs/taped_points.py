"""Points that were measured with a tape: their sections of a job file, and the names that stand for them elsewhere.

The readings are adjusted before the rest of the file is read. Then each name of a point, wherever the job wants one,
is replaced by the three texts of its position, and the file is read as any other.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Annotated, Any

from msgspec import Struct
from pydantic import Field

from tubing.errors import InputError, JobError
from tubing.geometry.vectors import Vector
from tubing.inputs.fields import SAME_POINT_MM, Name, Point, of
from tubing.inputs.job_schema import TAPED, TAPED_SECTIONS
from tubing.inputs.section import Section
from tubing.inputs.table_rows import near
from tubing.inputs.toml_files import checked
from tubing.measuring import AXES, ORIGIN, Frame, Measured, Network, Reading, measured
from tubing.units import Quantity, mm

TAKEN = ("end", TAPED, "origin")
MOST_READINGS = 2000
LEAST_ERROR_MM = 0.01  # a reading that is never wrong would outweigh all others


class PointSection(Section):
    """[[point]]"""

    name: Name
    at: Point | None = None
    about: Point | None = None


class TapedSection(Section):
    """[[taped]]"""

    start: Name = Field(alias="from")
    end: Name = Field(alias="to")
    length: Annotated[Quantity, of("taped length")]
    error: Annotated[Quantity, of("tape's error")] | None = None


class OffsetSection(Section):
    """[[offset]]"""

    start: Name = Field(alias="from")
    end: Name = Field(alias="to")
    right: Annotated[Quantity, of("coordinate")] | None = None
    forward: Annotated[Quantity, of("coordinate")] | None = None
    up: Annotated[Quantity, of("coordinate")] | None = None
    error: Annotated[Quantity, of("tape's error")] | None = None


class FrameSection(Section):
    """[frame]"""

    origin: Name
    right: Name
    forward: Name | None = None
    up: Name | None = None


class ErrorSection(Section):
    """[measuring], as far as readings need it"""

    error: Annotated[Quantity, of("tape's error")]


class TapedFile(Section):
    """The sections of a job file that say what was taped."""

    point: list[PointSection] = Field(default_factory=list)
    taped: list[TapedSection] = Field(default_factory=list)
    offset: list[OffsetSection] = Field(default_factory=list)
    frame: FrameSection | None = None
    measuring: ErrorSection


class Taped(Struct, frozen=True):
    """What taping came to: all positions, and which point stands for what in the job."""

    measured: Measured
    stands_for: dict[str, str]  # "nose", the name of a wheelbox, or "corner 1 of a-b": to the name of the point


class Place(Struct):
    """One place in a job file where a point stands or may stand."""

    holder: Any  # the table or list that holds it
    key: Any
    called: str  # what the job calls it, such as "nose", or what messages call it


def with_positions(data: dict[str, Any], job: str) -> tuple[dict[str, Any], Taped]:
    """The tables of a job file that tapes, with every name of a point replaced by its position.

    ``data`` stays as it is. Raises JobError, UnitError: what is wrong with a point or a reading, and what to add.
    """
    said = {key: data[key] for key in (*TAPED_SECTIONS, "measuring") if key in data}
    if "measuring" not in said:
        raise JobError(
            f"{job}, measuring, error", "it is missing", "readings need to say how far they may be out",
            'add [measuring] error = "2 mm"',
        )  # fmt: skip
    file = checked(TapedFile, said, job)
    rest = copy.deepcopy({key: value for key, value in data.items() if key not in TAPED_SECTIONS})
    places = list(_places(rest))
    network = _network(file, _given(file, places, job), places, job)
    found = measured(network, job)
    return rest, Taped(found, _fill(places, network, found, job))


def _ports(data: dict[str, Any]) -> Iterator[Place]:
    """The nose and the holes."""
    motor = data.get("motor")
    if isinstance(motor, dict):
        yield Place(motor, "nose", "nose")
    boxes = data.get("wheelbox")
    for box in boxes if isinstance(boxes, list) else ():
        if isinstance(box, dict) and isinstance(box.get("name"), str):
            yield Place(box, "hole", box["name"])


def _places(data: dict[str, Any]) -> Iterator[Place]:
    """Every place of a job file where a point may stand."""
    yield from _ports(data)
    for table in (data.get("motor"), *_list(data.get("wheelbox"))):
        yield from _of_directions(table, ("heading", "spindle", "panel"))
    for tube in _list(data.get("tube_between")):
        if isinstance(tube, dict):
            yield from _of_list(tube, "corners", f"corner {{}} of {tube.get('from')}-{tube.get('to')}")
    tail = data.get("tail")
    if isinstance(tail, dict):
        yield from _of_list(tail, "corners", "corner {} of tail")
        yield from _of_directions(tail, ("toward",))
    screen = data.get("screen")
    if isinstance(screen, dict):
        yield from _of_list(screen, "plane", "screen, plane, point {}")
    for thing in _list(data.get("in_the_way")):
        for key in ("box", "cylinder", "sphere"):
            yield from _of_table(thing.get(key) if isinstance(thing, dict) else None, ("from", "to", "centre"))


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _of_list(table: dict[str, Any], key: str, called: str) -> Iterator[Place]:
    for k, _ in enumerate(_list(table.get(key))):
        yield Place(table[key], k, called.replace("{}", str(k + 1), 1))


def _of_directions(table: Any, keys: tuple[str, ...]) -> Iterator[Place]:
    for key in keys:
        direction = table.get(key) if isinstance(table, dict) else None
        yield from _of_table(direction, ("from", "to"))
        if isinstance(direction, dict):
            yield from _of_table(direction.get("toward"), ("from", "to"))


def _of_table(table: Any, keys: tuple[str, ...]) -> Iterator[Place]:
    if isinstance(table, dict):
        yield from (Place(table, key, key) for key in keys if key in table)


def _value(place: Place) -> Any:
    return place.holder.get(place.key) if isinstance(place.holder, dict) else place.holder[place.key]


def _is_taped(place: Place) -> bool:
    return _value(place) in (None, TAPED)


def _given(file: TapedFile, places: list[Place], job: str) -> dict[str, Vector | None]:
    """Every point by name, with its coordinates where the job gives them; names checked.

    Raises JobError: a name twice, or one that means something else.
    """
    ports = [place for place in places if place.called == "nose" or place.key == "hole"]
    given: dict[str, Vector | None] = {}
    for place in ports:
        if place.called not in given:  # a name that stands twice is told with the rest of the file
            value = _value(place)
            named = _is_taped(place) or isinstance(value, str)
            given[place.called] = None if named else _coordinates(value, job, place)
    ports_given = set(given)
    for count, point in enumerate(file.point, start=1):
        if point.name in ports_given and point.at is None and point.about is not None:
            continue  # roughly where the nose or a wheelbox is
        if point.name in given or point.name in TAKEN:
            raise JobError(
                f"{job}, point {count}, name",
                f"{point.name!r} is the name of something else",
                "each point has a name of its own; nose and the wheelboxes' names stand for their own places",
                "rename it",
            )
        given[point.name] = point.at
    return given


def _coordinates(value: Any, job: str, place: Place) -> Vector:
    thing = "motor" if place.called == "nose" else f"wheelbox {place.called!r}"
    try:
        return checked(_AtSection, {"at": value}, f"{job}, {thing}, {place.key}").at
    except InputError as error:
        error.thing = error.thing.replace(", at", "", 1)
        raise


class _AtSection(Section):
    at: Point


def _network(file: TapedFile, given: dict[str, Vector | None], places: list[Place], job: str) -> Network:
    """The points that are measured from each other, with all readings. Raises JobError for a wrong name."""
    readings = list(_readings(file, given, job))
    if len(readings) > MOST_READINGS:
        raise JobError(
            f"{job}, taped", f"there are {len(readings)} readings", f"there may be {MOST_READINGS}", "leave some out"
        )
    wanted = {place.called for place in places if _is_port(place) and _is_taped(place)}
    wanted |= {_value(place) for place in places if isinstance(_value(place), str) and _value(place) in given}
    frame = _frame(file, given, job)
    used = {name for r in readings for name in (r.start, r.end)} | wanted
    used |= {frame.origin, frame.right, frame.third} if frame else set()
    error_mm = _error_mm(file.measuring.error)
    for name in (name for name in given if name in used):
        at_mm = given[name]
        if at_mm is not None and not (frame and name == frame.origin):
            readings += [Reading(ORIGIN, name, axis, at_mm[k], error_mm) for k, axis in enumerate(AXES)]
    about = {point.name: point.about for point in file.point if point.about is not None}
    about |= {name: at_mm for name, at_mm in given.items() if at_mm is not None}
    names = tuple(name for name in given if name in used)
    return Network(names, tuple(readings), frame, {name: about[name] for name in names if name in about})


def _is_port(place: Place) -> bool:
    return place.key in ("nose", "hole")


def _readings(file: TapedFile, given: dict[str, Vector | None], job: str) -> Iterator[Reading]:
    error_mm = _error_mm(file.measuring.error)
    for count, taped in enumerate(file.taped, start=1):
        _check_ends(taped.start, taped.end, given, f"{job}, taped {count}")
        own = error_mm if taped.error is None else _error_mm(taped.error)
        yield Reading(taped.start, taped.end, "taped", mm(taped.length), own)
    for count, offset in enumerate(file.offset, start=1):
        thing = f"{job}, offset {count}"
        _check_ends(offset.start, offset.end, given, thing)
        own = error_mm if offset.error is None else _error_mm(offset.error)
        parts = [(axis, getattr(offset, axis)) for axis in AXES if getattr(offset, axis) is not None]
        if not parts:
            raise JobError(thing, "it says nothing", "it must say right, forward or up", 'add up = "0 mm"')
        yield from (Reading(offset.start, offset.end, axis, mm(value), own) for axis, value in parts)


def _error_mm(error: Quantity) -> float:
    return max(mm(error), LEAST_ERROR_MM)


def _check_ends(start: str, end: str, given: dict[str, Vector | None], thing: str) -> None:
    for key, name in (("from", start), ("to", end)):
        if name not in given:
            raise JobError(
                f"{thing}, {key}", f"there is no point {name!r}", "it must be a [[point]], nose or a wheelbox",
                near(name, given),
            )  # fmt: skip
    if start == end:
        raise JobError(thing, f"it goes from {start!r} to itself", "it must lead to another point", "change one end")


def _frame(file: TapedFile, given: dict[str, Vector | None], job: str) -> Frame | None:
    frame = file.frame
    if frame is None:
        return None
    third = frame.forward or frame.up
    if third is None or (frame.forward and frame.up):
        raise JobError(
            f"{job}, frame", "it names " + ("both forward and up" if third else "neither forward nor up"),
            "one of the two fixes the level", "give forward, or up where a plumb line hangs",
        )  # fmt: skip
    names = (frame.origin, frame.right, third)
    for name in names:
        if name not in given:
            raise JobError(f"{job}, frame", f"there is no point {name!r}", "it must be a [[point]]", near(name, given))
    origin_mm = given[frame.origin]
    if origin_mm is not None and any(abs(part) > SAME_POINT_MM for part in origin_mm):
        raise JobError(
            f"{job}, frame", f"its origin {frame.origin!r} has a position of its own",
            "with a frame, all positions count from the frame's origin", "leave out that position, or the frame",
        )  # fmt: skip
    if len(set(names)) < len(names):
        raise JobError(f"{job}, frame", f"it names {' and '.join(names)}", "three different points", "change one")
    return Frame(*names, forward=frame.forward is not None)


def _fill(places: list[Place], network: Network, found: Measured, job: str) -> dict[str, str]:
    """Write positions for names; gives back which point stands for what."""
    stands_for: dict[str, str] = {}
    for place in places:
        value = _value(place)
        taped = _is_port(place) and (_is_taped(place) or place.called in network.points)
        name = place.called if taped and not (isinstance(value, str) and value != TAPED) else value
        if not isinstance(name, str):
            continue
        if name not in network.points:
            raise JobError(
                f"{job}, {place.called}", f"there is no point {name!r}",
                "it must be three texts such as ['-640 mm', '-40 mm', '30 mm'], or the name of a point",
                near(name, network.points),
            )  # fmt: skip
        place.holder[place.key] = [f"{part:.9f} mm" for part in found.at_mm(name)]
        stands_for.setdefault(place.called, name)
    return stands_for
