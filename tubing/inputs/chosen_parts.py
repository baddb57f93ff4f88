"""The parts that a job names or describes: tube, former, motor and wheelbox models."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import TypeVar

from tubing.errors import JobError
from tubing.inputs.catalogue import Former, Motor, Tube, Wheelbox
from tubing.inputs.job_schema import FormerFigures, JobFile, MotorFigures, TubeFigures, WheelboxFigures, WheelboxSection
from tubing.inputs.records import Shop
from tubing.inputs.table_rows import near
from tubing.units import Quantity, mm, quantity

OWN = ("the job's own figures", "J")  # source and sureness
SAME_DIAMETER = quantity(Fraction(1, 20), "mm")

PART = TypeVar("PART", Tube, Former, Motor, Wheelbox)


def _row(table: Mapping[str, PART], name: str, thing: str, what: str, file: str) -> PART:
    if name not in table:
        raise JobError(
            thing, f"there is no {what} {name!r}", f"it must be a row of {file}, or its figures", near(name, table)
        )
    return table[name]


def tube_of(file: JobFile, shop: Shop, job: str) -> Tube:
    """The tube, with the stock it is cut from. Raises JobError: unknown, no stock, too narrow for the rack."""
    thing, size = f"{job}, tube, size", file.tube.size
    tube = _own_tube(size, shop, thing) if isinstance(size, TubeFigures) else _stocked_tube(size, shop, thing)
    if shop.rack.diameter >= tube.bore:
        raise JobError(
            thing,
            f"the bore is {_mm(tube.bore)}",
            f"the rack of {_mm(shop.rack.diameter)} must run in it",
            "choose a wider tube",
        )
    return tube


def _stocked_tube(name: str, shop: Shop, thing: str) -> Tube:
    tube = _row(shop.catalogue.tubes, name, thing, "tube", "tubes.csv")
    if tube.stock not in {bar.tube for bar in shop.stock}:
        raise JobError(
            thing,
            f"the shop has no stock of {name!r}",
            "there must be tube to cut from",
            f"add a [[stock]] of {name!r} to the shop file",
        )
    return tube


def _own_tube(size: TubeFigures, shop: Shop, thing: str) -> Tube:
    if 2 * size.wall >= size.diameter:
        raise JobError(
            f"{thing}, wall",
            f"{_mm(size.wall)} leaves no bore",
            f"it must be below half the diameter, {_mm(size.diameter / 2)}",
            "measure it again",
        )
    return Tube(
        name=f"{_mm(size.diameter)} {size.material}",
        diameter=size.diameter,
        wall=size.wall,
        material=size.material,
        least_radius=size.least_radius,
        single_flare=size.single_flare,
        double_flare=size.double_flare,
        stock=_stock_of(size, shop, thing),
        source=OWN[0],
        sure=OWN[1],
    )


def _stock_of(size: TubeFigures, shop: Shop, thing: str) -> str:
    """Which stock an own tube is cut from: as it says, else the one of its diameter (then material, then wall)."""
    known = {bar.tube: shop.catalogue.tubes[bar.tube] for bar in shop.stock}
    fits = [tube for tube in known.values() if abs(tube.diameter - size.diameter) <= SAME_DIAMETER]
    if size.stock is not None:
        if size.stock not in known:
            raise JobError(
                f"{thing}, stock",
                f"the shop has no stock of {size.stock!r}",
                "it must be a tube that the shop stocks",
                near(size.stock, known),
            )
        if known[size.stock] not in fits:
            raise JobError(
                f"{thing}, stock",
                f"{size.stock!r} is {_mm(known[size.stock].diameter)} wide",
                f"it must have the tube's diameter, {_mm(size.diameter)}",
                "name another stock or mend the diameter",
            )
        return size.stock
    fits = [tube for tube in fits if tube.material == size.material] or fits
    fits = [tube for tube in fits if tube.wall == size.wall] or fits
    if len(fits) != 1:
        found = "several stocks" if fits else "no stock"
        choice = near("", [tube.name for tube in fits or known.values()])
        raise JobError(
            thing,
            f"the shop has {found} of {_mm(size.diameter)} tube",
            "it must be clear what it is cut from",
            f"give stock; {choice}",
        )
    return fits[0].name


def formers_of(file: JobFile, tube: Tube, shop: Shop, job: str) -> tuple[Former, ...]:
    """The former; or those to be tried: the ones named, or all of the table that the tube and the rack can stand.

    Raises JobError: a name is unknown, none is named, or none of the table will do.
    """
    former, thing = file.tube.former, f"{job}, tube, former"
    if isinstance(former, FormerFigures):
        grip = quantity(10, "mm") if former.grip is None else former.grip
        return (Former(f"own former of {_mm(former.radius)}", former.radius, grip, *OWN, former.radius_is),)
    table = shop.catalogue.formers
    if former is not None:
        names = (former,) if isinstance(former, str) else tuple(dict.fromkeys(former))
        if not names:
            raise JobError(thing, "it names none", "it must name one former or more", "name one, or leave it out")
        return tuple(_row(table, name, thing, "former", "formers.csv") for name in names)
    least = max(tube.least_radius, shop.bench.rack_least_radius)
    found = tuple(each for each in table.values() if each.radius >= least)
    if not found:
        raise JobError(
            thing, f"no row of formers.csv has a radius of {_mm(least)} or more", "tube and rack bend no tighter",
            "give the former's figures",
        )  # fmt: skip
    return found


def motor_of(file: JobFile, shop: Shop, job: str) -> Motor:
    """The motor. Raises JobError when its name is unknown."""
    model = file.motor.model
    if isinstance(model, MotorFigures):
        return Motor("own motor", model.fixed_end, model.nut_length, model.pull, *OWN, model.rod, model.rate)
    return _row(shop.catalogue.motors, model, f"{job}, motor, model", "motor", "motors.csv")


def wheelbox_of(section: WheelboxSection, shop: Shop, thing: str) -> Wheelbox:
    """A wheelbox's model. Raises JobError: unknown, a mouth before the groove, a body of other than three lengths."""
    model = section.model
    if not isinstance(model, WheelboxFigures):
        return _row(shop.catalogue.wheelboxes, model, f"{thing}, model", "wheelbox", "wheelboxes.csv")
    mouth = model.groove_offset + quantity(20, "mm") if model.mouth_offset is None else model.mouth_offset
    if mouth < model.groove_offset:
        raise JobError(
            f"{thing}, model, mouth_offset",
            f"{_mm(mouth)} is nearer than the groove",
            f"it must be at least groove_offset, {_mm(model.groove_offset)}",
            "measure both from the spindle's axis",
        )
    if model.body is not None and len(model.body) != 3:
        raise JobError(
            f"{thing}, model, body",
            f"it is a list of {len(model.body)}",
            "it must be three lengths: along the rack, across it, deep",
            'write it like ["90 mm", "56 mm", "34 mm"]',
        )
    along, across, deep = model.body or (None, None, None)
    return Wheelbox(
        name=f"own box {section.name!r}",
        rack_depth=model.rack_depth,
        pitch_radius=model.pitch_radius,
        groove_offset=model.groove_offset,
        mouth_offset=mouth,
        groove_width=quantity(3, "mm") if model.groove_width is None else model.groove_width,
        bush=model.bush,
        stem=model.stem,
        spacer=model.spacer,
        body=None if along is None or across is None or deep is None else (along, across, deep),
        source=OWN[0],
        sure=OWN[1],
        nut=model.nut,
        washer=model.washer,
    )


def _mm(length: Quantity) -> str:
    return f"{mm(length):.6g} mm"
