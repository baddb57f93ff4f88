"""What is around the run: the records of things in the way, and the checks of the screen."""

from __future__ import annotations

from tubing.errors import JobError
from tubing.geometry.vectors import Vector, distance_mm
from tubing.inputs.fields import SAME_POINT_MM
from tubing.inputs.job_schema import BoxSection, JobFile, ObstacleSection
from tubing.inputs.records import Box, Cylinder, Obstacle, Screen, Shop, Sphere
from tubing.inputs.table_rows import near
from tubing.units import mm, rad

SHAPES = ("box", "cylinder", "sphere")


def obstacles(file: JobFile, shop: Shop, job: str) -> tuple[Obstacle, ...]:
    """The things in the way. Raises JobError: none or several shapes, no size, a name that stands twice."""
    found: dict[str, Obstacle] = {}
    for section in file.in_the_way:
        thing = f"{job}, in_the_way {section.name!r}"
        if section.name in found:
            raise JobError(thing, "the name stands twice", "each thing must have its own", "rename one")
        clearance = shop.bench.clearance if section.clearance is None else section.clearance
        found[section.name] = Obstacle(section.name, _shape(section, thing), clearance)
    return tuple(found.values())


def _shape(section: ObstacleSection, thing: str) -> Box | Cylinder | Sphere:
    given = [shape for shape in SHAPES if getattr(section, shape) is not None]
    if len(given) != 1:
        found = f"it gives {' and '.join(given)}" if given else "it has no shape"
        raise JobError(thing, found, "it must be one of box, cylinder, sphere", "give one shape")
    if section.box is not None:
        return _box(section.box, f"{thing}, box")
    if section.cylinder is not None:
        _check_cylinder(section.cylinder, f"{thing}, cylinder")
        return section.cylinder
    assert section.sphere is not None  # the only one left
    return section.sphere


def _box(section: BoxSection, thing: str) -> Box:
    corners = section.start is not None, section.end is not None
    middle = section.centre is not None, section.size is not None
    if section.start is not None and section.end is not None and not any(middle) and section.turned is None:
        return _box_between(section.start, section.end, thing)
    if section.centre is None or section.size is None or any(corners):
        raise JobError(
            thing,
            "its keys do not go together",
            "it must give from and to, or centre, size and maybe turned",
            "give one or the other",
        )
    if len(section.size) != 3:
        raise JobError(
            f"{thing}, size",
            f"it is a list of {len(section.size)}",
            "it must be three lengths, along x, y and z",
            'write it like ["80 mm", "60 mm", "40 mm"]',
        )
    turned = section.turned or []
    if section.turned is not None and len(turned) != 3:
        raise JobError(
            f"{thing}, turned",
            f"it is a list of {len(turned)}",
            "it must be three angles, about x, y and z",
            'write it like ["0 deg", "0 deg", "30 deg"]',
        )
    x, y, z = (mm(side) for side in section.size)
    about_x, about_y, about_z = (rad(angle) for angle in turned) if turned else (0.0, 0.0, 0.0)
    return Box(section.centre, (x, y, z), (about_x, about_y, about_z))


def _box_between(start: Vector, end: Vector, thing: str) -> Box:
    """A box by two opposite corners, in any order."""
    for axis, a, b in zip("xyz", start, end, strict=True):
        if abs(a - b) < SAME_POINT_MM:
            raise JobError(
                thing, f"from and to have the same {axis}", "a box must have a size each way", "measure them again"
            )
    x, y, z = ((a + b) / 2 for a, b in zip(start, end, strict=True))
    wide, deep, high = (abs(a - b) for a, b in zip(start, end, strict=True))
    return Box((x, y, z), (wide, deep, high))


def _check_cylinder(cylinder: Cylinder, thing: str) -> None:
    if distance_mm(cylinder.start_mm, cylinder.end_mm) < SAME_POINT_MM:
        raise JobError(thing, "from and to are the same point", "a cylinder must have a length", "measure them again")


def check_screen(screen: Screen | None, names: tuple[str, ...], job: str) -> None:
    """Raise JobError: pivots of unknown wheelboxes, neither pivots nor plane, or both."""
    if screen is None:
        return
    thing = f"{job}, screen"
    for box in screen.pivots_mm or ():
        if box not in names:
            raise JobError(
                f"{thing}, pivots",
                f"there is no wheelbox {box!r}",
                "it must be the name of a [[wheelbox]]",
                near(box, names),
            )
    if (screen.pivots_mm is None) == (screen.plane_mm is None):
        found = "it gives neither pivots nor plane" if screen.plane_mm is None else "it gives both pivots and plane"
        raise JobError(
            thing, found, "it must give one of them", "give the pivots on the glass, or three points of its plane"
        )
