"""What a tube's end looks like, and what forming it takes.

Growth:   how far the flare stands out beyond the tube's outside, to one side.
Height:   along the tube, from where the flare starts to its rim.
Slant:    along the cone's face, from where the flare starts to its rim.
Consumed: tube length that forming takes: blank minus finished length.
Seat:     from the port's datum to the rim, away from the tube.
Row:      the line of the flare table that the figures were taken from.

The flare's diameter is the tube's own figure, else the middle of the range of the table's row. A row counts within
0.1 mm of the tube's diameter; of several the one nearest 45 degrees, then the nearest in diameter. With an own figure
the row still bounds the wall and gives the half-angle. Without any row the half-angle is 45 degrees and no wall is
checked. A flare at the nose always has the nut, a plain end never. Only a groove gives a seat. What a double flare
consumes is an estimate; the mean of the shop's trial flares replaces what is consumed, never height or seat.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from msgspec import Struct

from tubing.errors import FlareError
from tubing.inputs.catalogue import FlareRow, Tube
from tubing.inputs.records import TrialFlare
from tubing.trial_statistics import off_the_mean, student
from tubing.units import Quantity, exact_mm, mm, quantity, rad

Where = Literal["nose", "groove", "end stop"]
Flare = Literal["single", "double", "plain"]

USUAL: dict[Where, Flare] = {"nose": "double", "groove": "single", "end stop": "plain"}
USUAL_HALF_ANGLE = quantity(45, "deg")
READING_MM = 0.25 / math.sqrt(3)  # standard deviation: a rule is read to half a millimetre; common practice, no source
ROW_REACH = quantity(Fraction(1, 10), "mm")  # a tube takes a row of the table no further than this from its diameter


def where_is(port: str) -> Where:
    """What kind of port a port's name means.

    >>> where_is("nose"), where_is("near"), where_is("end")
    ('nose', 'groove', 'end stop')
    """
    return {"nose": "nose", "end": "end stop"}.get(port, "groove")  # type: ignore[return-value]


class Learned(Struct, frozen=True):
    """What trial flares of one tube and kind say of the tube that one consumes."""

    mean_mm: float
    trials: int
    sd_mm: float | None  # of one flare; None: a single trial shows no spread
    sure_mm: float | None  # the mean is within this, either way, with 95 % confidence


class EndFlare(Struct, frozen=True):
    """One end of a tube, as it is formed."""

    flare: Flare
    nut: bool  # a nut is threaded on before this end is flared
    height_mm: float  # 0 of a plain end
    diameter_mm: float  # of the rim; the tube's own of a plain end
    consumed_mm: float
    seat_mm: float  # from the port's datum to the rim, away from the tube
    row: str  # which figures were taken, and why


def height_mm(growth_mm: float, half_angle_rad: float) -> float:
    """Height of a flare along the tube, [mm], half-angle between 0 and pi/2; exact, from the right triangle.

    >>> round(height_mm(growth_mm=1.08, half_angle_rad=math.pi / 4), 9)
    1.08
    """
    return growth_mm / math.tan(half_angle_rad)


def slant_mm(growth_mm: float, half_angle_rad: float) -> float:
    """Length of a flare along its face, [mm], half-angle between 0 and pi/2; exact, from the right triangle.

    >>> round(slant_mm(growth_mm=1.08, half_angle_rad=math.pi / 4), 4)
    1.5274
    """
    return growth_mm / math.sin(half_angle_rad)


def consumed_mm(flare: Flare, growth_mm: float, half_angle_rad: float) -> float:
    """Tube length that forming takes, [mm]: single slant - height, double 2 slant - height, plain 0.

    A single flare: the material laid along the slant stands for the height only; wall and cone are taken
    as a line. A double flare: the lip is laid twice, which is an estimate; a shop's measured figure wins.

    >>> round(consumed_mm("single", growth_mm=1.08, half_angle_rad=math.pi / 4), 3)
    0.447
    """
    layers = {"plain": 0, "single": 1, "double": 2}[flare]
    if layers == 0:
        return 0.0
    return layers * slant_mm(growth_mm, half_angle_rad) - height_mm(growth_mm, half_angle_rad)


def end_flare(
    tube: Tube, rows: Sequence[FlareRow], trials: Sequence[TrialFlare], where: Where, flare: Flare | None = None
) -> EndFlare:
    """Form one end of ``tube``: the flare asked for, or the usual one of that port.

    Usual: double with nut at the nose, single at a groove, plain at the end stop; a flare at the nose has the
    nut. The flare's diameter is the tube's own figure, else the middle of the range of the row within 0.1 mm
    of the tube's diameter (SAE J533 in the tables that come with the program).

    Raises FlareError: no row and no own figure; a wall above the row's greatest; an own figure no larger than
    the tube.
    """
    kind = USUAL[where] if flare is None else flare
    if kind == "plain":
        return EndFlare("plain", False, 0.0, mm(tube.diameter), 0.0, 0.0, "plain end: no row is needed")
    diameter, half_angle, row_text = _figures(tube, rows, kind)
    growth_mm, half_angle_rad = mm(diameter - tube.diameter) / 2, rad(half_angle)
    tried = learned(tube, kind, trials)
    height = height_mm(growth_mm, half_angle_rad)
    return EndFlare(
        flare=kind,
        nut=where == "nose",
        height_mm=height,
        diameter_mm=mm(diameter),
        consumed_mm=consumed_mm(kind, growth_mm, half_angle_rad) if tried is None else tried.mean_mm,
        seat_mm=height / 2 if where == "groove" else 0.0,
        row=row_text if tried is None else f"{row_text}; consumed as {_counted(tried.trials)} showed",
    )


def learned(tube: Tube, kind: str, trials: Sequence[TrialFlare]) -> Learned | None:
    """What the trials of the tube's stock and this kind of flare say; None: there are none.

    Mean, standard deviation and Student's interval. Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.2.
    """
    took_mm = [trial.consumed_mm for trial in trials if (trial.tube, trial.kind) == (tube.stock, kind)]
    count = len(took_mm)
    if not took_mm:
        return None
    mean_mm = float(sum(took_mm) / count)
    if count == 1:
        return Learned(mean_mm, 1, None, None)
    sd_mm = statistics.stdev(float(each) for each in took_mm)
    return Learned(mean_mm, count, sd_mm, student(count - 1) * sd_mm / math.sqrt(count))


def odd_flare(tube: str, kind: str, trials: Sequence[TrialFlare]) -> TrialFlare | None:
    """Of three trials or more of one tube of the tables and kind the one that lies off the others; None: none does."""
    tried = [trial for trial in trials if (trial.tube, trial.kind) == (tube, kind)]
    k = off_the_mean([float(trial.consumed_mm) for trial in tried], READING_MM)
    return None if k is None else tried[k]


def _counted(trials: int) -> str:
    return "1 trial" if trials == 1 else f"{trials} trials"


def _figures(tube: Tube, rows: Sequence[FlareRow], kind: Flare) -> tuple[Quantity, Quantity, str]:
    """Flare diameter, half-angle, and in words where they come from."""
    row = _row_of(tube, rows, kind)
    own = tube.single_flare if kind == "single" else tube.double_flare
    if row is not None:
        _check_wall(tube, rows, row)
    if own is not None:
        return _own_figures(tube, kind, own, row)
    if row is None:
        raise FlareError(
            f"tube {tube.name!r}",
            f"no row of the flare table is within {_mm(ROW_REACH)} of its diameter, {_mm(tube.diameter)}",
            f"a {kind} flare needs the table's figures or the tube's own",
            f"give {kind}_flare, the flare's diameter, with the tube, or make the end plain",
        )
    return (row.least_diameter + row.most_diameter) / 2, row.half_angle, _named(tube, row)


def _own_figures(tube: Tube, kind: Flare, own: Quantity, row: FlareRow | None) -> tuple[Quantity, Quantity, str]:
    """The tube's own flare diameter; the half-angle is the row's where there is one."""
    if exact_mm(own) <= exact_mm(tube.diameter):
        raise FlareError(
            f"tube {tube.name!r}",
            f"{kind}_flare is {_mm(own)}",
            f"a flare must be larger than the tube, {_mm(tube.diameter)}",
            f"measure a {kind} flare over its rim and give that diameter",
        )
    own_text = f"the tube's own {kind} flare, {_mm(own)}"
    if row is None:
        return own, USUAL_HALF_ANGLE, f"{own_text}; 45 deg taken; no row to check the wall against"
    return own, row.half_angle, f"{own_text}; wall and half-angle from {_named(tube, row)}"


def _row_of(tube: Tube, rows: Sequence[FlareRow], kind: str) -> FlareRow | None:
    """The row within reach of the tube's diameter; of several, the one nearest 45 deg, then the nearest."""
    near = [row for row in rows if row.kind == kind and abs(_off_mm(tube, row)) <= exact_mm(ROW_REACH)]
    return min(
        near,
        key=lambda row: (
            abs(float((row.half_angle - USUAL_HALF_ANGLE).to("deg").magnitude)),
            abs(_off_mm(tube, row)),
        ),
        default=None,
    )


def _check_wall(tube: Tube, rows: Sequence[FlareRow], row: FlareRow) -> None:
    """Raise FlareError unless the row allows the tube's wall."""
    if _wall_fits(tube, row):
        return
    assert row.greatest_wall is not None, "a row without a limit fits every wall"
    single = _row_of(tube, rows, "single") if row.kind == "double" else None
    raise FlareError(
        f"tube {tube.name!r}",
        f"the wall is {_mm(tube.wall)}",
        f"a {row.kind} flare on {_mm(row.tube_diameter)} tube takes a wall of at most "
        f"{_mm(row.greatest_wall)} ({row.source})",
        "make this end a single flare, or take a tube with a thinner wall"
        if single is not None and _wall_fits(tube, single)
        else "make this end plain, or take a tube with a thinner wall",
    )


def _wall_fits(tube: Tube, row: FlareRow) -> bool:
    """Whether the row allows the wall; a row without a limit does."""
    return row.greatest_wall is None or exact_mm(tube.wall) <= exact_mm(row.greatest_wall)


def _off_mm(tube: Tube, row: FlareRow) -> Fraction:
    return exact_mm(tube.diameter) - exact_mm(row.tube_diameter)


def _named(tube: Tube, row: FlareRow) -> str:
    """The row in words, and how far the tube is from it."""
    off_mm = _off_mm(tube, row)
    taken = f"row {_mm(row.tube_diameter)} {row.kind} ({row.source})"
    if row.greatest_wall is None:
        taken += ", which gives no greatest wall"
    return taken if off_mm == 0 else f"{taken}, {float(abs(off_mm)):.3g} mm from the tube's {_mm(tube.diameter)}"


def _mm(length: Quantity) -> str:
    return f"{mm(length):.6g} mm"
