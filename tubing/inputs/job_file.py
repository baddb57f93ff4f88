"""Makes the records of a job from its sections: names resolved, and what concerns more than one section checked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from tubing.errors import JobError
from tubing.geometry.vectors import Vector, across, add, angle_rad, distance_mm, scale, unit
from tubing.inputs.chosen_parts import formers_of, motor_of, tube_of, wheelbox_of
from tubing.inputs.fields import Leaning
from tubing.inputs.job_schema import (
    TAPED,
    TAPED_SECTIONS,
    JobFile,
    WheelboxSection,
)
from tubing.inputs.records import (
    Cut,
    Done,
    Job,
    Mounting,
    Nose,
    Shop,
    Tail,
    TubeBetween,
)
from tubing.inputs.surroundings import check_screen, obstacles
from tubing.inputs.table_rows import near
from tubing.inputs.toml_files import checked, key_text, read_toml
from tubing.units import mm, rad

NOSE, END = "nose", "end"  # the two ports that no wheelbox may be called by
SAME_SPOT_MM = 1.0  # two wheelboxes nearer than this stand in each other
MOST_VEHICLES = 100  # of one job
LEAST_ANGLE_DEG = 1.0  # between a heading and the spindle's axis


def read_job(path: Path, shop: Shop) -> Job:
    """Read a job file against the shop's catalogue and stock.

    Raises JobError and UnitError with file and full key: which thing, what it is, what it had to be, what to do.
    """
    return job_of(read_toml(path), path.name, shop)


def job_of(data: dict[str, Any], name: str, shop: Shop) -> Job:
    """A job from the tables of its file, which ``name`` stands for in messages. Raises as ``read_job`` does."""
    taped = None
    if _tapes(data):
        from tubing.inputs.taped_points import with_positions  # only for such a job: it takes time to load

        data, taped = with_positions(data, name)
    file = checked(JobFile, data, name)
    names = _box_names(file, name)
    _check_layouts(file, names, name)
    tube = tube_of(file, shop, name)
    formers = formers_of(file, tube, shop, name)
    mountings = {section.name: _mounting(section, shop, name) for section in file.wheelbox}
    _check_spots(file, mountings, name)
    check_screen(file.screen, names, name)
    _check_repeated(file, names, name)
    return Job(
        title=file.title,
        layout=file.layout,
        layouts={layout: tuple(boxes) for layout, boxes in file.layouts.items()},
        tube=tube,
        former=formers[0],
        motion=file.drive.motion,
        order=file.drive.order,
        sweep=file.drive.sweep,
        park=file.drive.park,
        nose=Nose(motor_of(file, shop, name), file.motor.nose, file.motor.heading),
        mountings=mountings,
        between=tuple(file.tube_between),
        tail=file.tail or Tail(),
        in_the_way=obstacles(file, shop, name),
        measuring_error=None if file.measuring is None else file.measuring.error,
        cuts=tuple(file.cut),
        screen=file.screen,
        arms=tuple(file.arm),
        taped=taped,
        formers=formers if len(formers) > 1 else (),
        vehicles=file.vehicles,
        done=file.done,
    )


def _check_vehicles(file: JobFile, job: str) -> None:
    if file.vehicles > MOST_VEHICLES:
        raise JobError(
            f"{job}, vehicles",
            f"there are {file.vehicles}",
            f"there may be {MOST_VEHICLES} of one job",
            "plan them in lots",
        )
    if file.vehicles > 1 and file.cut:
        raise JobError(
            f"{job}, vehicles",
            f"there are {file.vehicles}, and a piece was cut",
            "a piece that was cut belongs to one vehicle",
            "copy the job for that vehicle, and take one off here",
        )


def _tapes(data: dict[str, Any]) -> bool:
    """Whether positions of the job come from readings of a tape."""
    ports = [(data.get("motor"), "nose")]
    boxes = data.get("wheelbox")
    ports += [(box, "hole") for box in boxes] if isinstance(boxes, list) else []
    taped = any(isinstance(table, dict) and table.get(key) == TAPED for table, key in ports)
    return taped or any(key in data for key in TAPED_SECTIONS)


def _box_names(file: JobFile, job: str) -> tuple[str, ...]:
    names = tuple(section.name for section in file.wheelbox)
    for count, name in enumerate(names, start=1):
        if name in (NOSE, END):
            raise JobError(
                f"{job}, wheelbox {name!r}",
                "the name is taken",
                f"{NOSE!r} and {END!r} are the run's own ends",
                "rename it",
            )
        if name in names[: count - 1]:
            raise JobError(
                f"{job}, wheelbox {count}",
                f"the name {name!r} stands twice",
                "each wheelbox must have its own",
                "rename one",
            )
    pieces: dict[str, tuple[str, str]] = {}
    for pair in _pairs(names):
        piece = "-".join(pair)
        if piece in pieces:
            raise JobError(
                f"{job}, wheelbox",
                f"two tubes would both be called {piece!r}",
                "each piece must have its own name",
                f"rename {pair[0]!r} or {pair[1]!r}",
            )
        pieces[piece] = pair
    return names


def _pairs(names: tuple[str, ...]) -> Iterable[tuple[str, str]]:
    """All pairs of ports that a tube may join, in some layout or order."""
    return ((start, end) for start in (NOSE, *names) for end in (*names, END) if start != end and end != NOSE)


def _check_layouts(file: JobFile, names: tuple[str, ...], job: str) -> None:
    if not file.layouts:
        raise JobError(
            f"{job}, layouts", "it is empty", "there must be a layout", 'add a line such as twin = ["near", "far"]'
        )
    if file.layout not in file.layouts:
        raise JobError(
            f"{job}, layout",
            f"there is no layout {file.layout!r}",
            "it must be a key of [layouts]",
            near(file.layout, file.layouts),
        )
    for layout, boxes in file.layouts.items():
        thing = f"{job}, layouts, {key_text(layout)}"
        if not boxes:
            raise JobError(
                thing, "it is empty", "it must name its wheelboxes in order from the motor", "name one at least"
            )
        for count, box in enumerate(boxes):
            if box not in names:
                raise JobError(
                    thing, f"there is no wheelbox {box!r}", "it must be the name of a [[wheelbox]]", near(box, names)
                )
            if box in boxes[:count]:
                raise JobError(thing, f"{box!r} stands twice", "the rack passes a wheelbox once", "take one out")


def _mounting(section: WheelboxSection, shop: Shop, job: str) -> Mounting:
    thing = f"{job}, wheelbox {section.name!r}"
    model = wheelbox_of(section, shop, thing)
    spindle = _spindle(section, thing)
    if section.panel is not None and _angle_deg(section.panel, spindle) >= 90:
        raise JobError(
            f"{thing}, spindle",
            f"it leans {_angle_deg(section.panel, spindle):.4g} deg from the panel's normal",
            "it must come out of the panel, below 90 deg",
            "turn the spindle or the panel's normal round",
        )
    if section.heading is not None:
        angle_deg = _angle_deg(section.heading, spindle)
        if min(angle_deg, 180 - angle_deg) < LEAST_ANGLE_DEG:
            raise JobError(
                f"{thing}, heading",
                "it runs along the spindle",
                "the rack must pass across the spindle",
                "measure both again",
            )
    spacer = section.spacer if section.spacer is not None else model.spacer
    return Mounting(
        name=section.name,
        model=model,
        hole_mm=section.hole,
        spindle=spindle,
        panel=section.panel,
        panel_thickness=shop.bench.panel_thickness if section.panel_thickness is None else section.panel_thickness,
        spacer=shop.bench.spacer if spacer is None else spacer,
        heading=section.heading,
        side=None if section.side is None else {"right": 1, "left": -1}[section.side],
    )


def _angle_deg(u: Vector, v: Vector) -> float:
    return math.degrees(angle_rad(u, v))


def _spindle(section: WheelboxSection, thing: str) -> Vector:
    """The spindle's direction; a lean is counted from the panel's normal towards a direction in the panel."""
    if not isinstance(section.spindle, Leaning):
        return section.spindle
    normal, toward = section.panel, section.spindle.toward
    if normal is None:
        raise JobError(
            f"{thing}, panel",
            "it is missing",
            "a lean is counted from the panel's normal",
            "add panel = [0.0, 0.2, 0.98]",
        )
    if min(_angle_deg(normal, toward), 180 - _angle_deg(normal, toward)) < LEAST_ANGLE_DEG:
        raise JobError(
            f"{thing}, spindle, toward",
            "it runs along the panel's normal",
            "it must point along the panel",
            "give another direction",
        )
    in_panel = unit(across(toward, normal))
    lean_rad = rad(section.spindle.lean)
    return unit(add(scale(normal, math.cos(lean_rad)), in_panel, math.sin(lean_rad)))


def _check_spots(file: JobFile, mountings: Mapping[str, Mounting], job: str) -> None:
    """Two boxes of one layout must not share a spot; boxes of different layouts may."""
    for layout, boxes in file.layouts.items():
        for count, box in enumerate(boxes):
            for other in boxes[:count]:
                if distance_mm(mountings[box].hole_mm, mountings[other].hole_mm) < SAME_SPOT_MM:
                    raise JobError(
                        f"{job}, wheelbox {box!r}, hole",
                        f"it is the same spot as that of {other!r}",
                        f"wheelboxes of one layout ({layout!r}) must stand apart",
                        "measure them again",
                    )


def _check_repeated(file: JobFile, names: tuple[str, ...], job: str) -> None:
    """The tubes, pieces that were cut and arms: of parts that are there, and each once."""
    _check_tubes(file.tube_between, names, job)
    _check_tail(file.tail, job)
    _check_vehicles(file, job)
    _check_cuts(file.cut, names, job)
    _check_done(file.done, names, job)
    _check_arms(file, names, job)


def _check_tubes(tubes: Sequence[TubeBetween], names: tuple[str, ...], job: str) -> None:
    for count, tube in enumerate(tubes):
        thing = f"{job}, tube_between {tube.start + '-' + tube.end!r}"
        _check_port(tube.start, (NOSE, *names), f"{thing}, from", "start from")
        _check_port(tube.end, (*names, END), f"{thing}, to", "end at")
        if tube.start == tube.end:
            raise JobError(thing, "it goes from a port to itself", "it must join two ports", "mend from or to")
        if any((tube.start, tube.end) == (other.start, other.end) for other in tubes[:count]):
            raise JobError(thing, "it stands twice", "each tube must be described once", "put both into one section")
        _check_between(tube, thing)


def _check_port(port: str, ports: tuple[str, ...], thing: str, role: str) -> None:
    if port not in ports:
        raise JobError(
            thing, f"there is no port {port!r} to {role}", f"it must be one of {', '.join(ports)}", near(port, ports)
        )


def _check_between(tube: TubeBetween, thing: str) -> None:
    if tube.corners_mm and tube.measured is not None:
        raise JobError(thing, "it gives both corners and measured", "it must give one of them", "take one out")
    if tube.bends is not None and tube.measured is None:
        raise JobError(
            f"{thing}, bends",
            "it stands without measured",
            "bends are listed for a measured tube alone",
            "add measured, or give corners",
        )
    if tube.end == END and (tube.corners_mm or tube.measured is not None):
        raise JobError(
            thing,
            "it gives the tail tube's way",
            "that stands in [tail], and its length follows from the rack",
            "move the corners to [tail]",
        )


def _check_tail(tail: Tail | None, job: str) -> None:
    if tail is not None and (tail.toward is None) == (not tail.corners_mm):
        found = "it gives neither toward nor corners" if tail.toward is None else "it gives both toward and corners"
        raise JobError(f"{job}, tail", found, "it must give one of them", "give one, or leave [tail] out")


def _check_cuts(cuts: Sequence[Cut], names: tuple[str, ...], job: str) -> None:
    pieces = ["-".join(pair) for pair in _pairs(names)]
    for count, cut in enumerate(cuts):
        thing = f"{job}, cut {cut.piece!r}"
        if cut.piece not in pieces:
            raise JobError(
                thing,
                "there is no such piece",
                "it must be two ports, such as 'nose-near'",
                near(cut.piece, pieces),
            )
        if any(cut.piece == other.piece for other in cuts[:count]):
            raise JobError(thing, "it stands twice", "a piece is cut once", "take one out")
        ports = cut.piece.split("-")
        for key, named in (("ready", cut.ready), ("flared", cut.flared)):
            for port in named:
                if port not in ports:
                    raise JobError(
                        f"{thing}, {key}",
                        f"{port!r} is no end of this piece",
                        f"it must be {' or '.join(map(repr, ports))}",
                        f"name the end {'at which the bar came flared' if key == 'ready' else 'that was flared'}",
                    )
        if cut.trimmed is not None and mm(cut.left) <= 0:
            raise JobError(
                f"{thing}, trimmed",
                f"{mm(cut.trimmed):g} mm was trimmed off {mm(cut.length):g} mm",
                "something of the piece must be left",
                "give what was sawn off, not what is left",
            )


def _check_done(done: Done, names: tuple[str, ...], job: str) -> None:
    for thing in done.fixed:
        if thing not in ("motor", *names):
            raise JobError(
                f"{job}, done, fixed",
                f"there is no {thing!r}",
                f"it must be motor or one of {', '.join(names)}",
                near(thing, ("motor", *names)),
            )


def _check_arms(file: JobFile, names: tuple[str, ...], job: str) -> None:
    for count, arm in enumerate(file.arm):
        thing = f"{job}, arm {arm.on!r}"
        if arm.on not in names:
            raise JobError(
                f"{thing}, on",
                f"there is no wheelbox {arm.on!r}",
                "it must be the name of a [[wheelbox]]",
                near(arm.on, names),
            )
        if file.screen is not None and file.screen.pivots_mm is not None and arm.on not in file.screen.pivots_mm:
            raise JobError(
                thing,
                "the screen gives no pivot for it",
                "an arm must turn about a point of the glass",
                f"add {arm.on} to the screen's pivots",
            )
        if any(arm.on == other.on for other in file.arm[:count]):
            raise JobError(thing, "it stands twice", "a wheelbox carries one arm", "take one out")
