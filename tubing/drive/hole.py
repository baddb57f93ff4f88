"""The hole a leaning spindle needs, and whether its stem is long enough. On pint quantities.

Lean:   angle between the panel's normal and the spindle.
Slot:   the hole in the panel, drilled and filed square to it.
Stem:   the wheelbox's threaded stem, from its seating face outwards.
Wedge:  a spacer cut at an angle, so that box and nut bear on a panel the spindle does not stand square to.
"""

from __future__ import annotations

import math

from msgspec import Struct

from tubing.drive.records import PathToBox
from tubing.errors import DriveError
from tubing.geometry.vectors import Vector, across, angle_rad, scale, unit
from tubing.units import Quantity, checked, deg, mm, quantity, rad

NO_WASHER = quantity(0, "mm")


@checked("mm", bush="mm", lean="rad", thickness="mm")
def slot_length(bush: Quantity, lean: Quantity, thickness: Quantity) -> Quantity:
    """Length of the slot along the lean: bush / cos + thickness x tan, for a lean below a right angle; exact.

    The bush cuts each face of the panel in an ellipse d by d / cos; the two lie thickness x tan apart.

    >>> round(mm(slot_length(quantity(16, "mm"), quantity(60, "deg"), quantity(0, "mm"))), 9)
    32.0
    """
    result: Quantity = bush / math.cos(rad(lean)) + thickness * math.tan(rad(lean))
    return result


@checked("mm", lean="rad", thickness="mm")
def slot_offset(lean: Quantity, thickness: Quantity) -> Quantity:
    """The slot's centre from the point where the axis leaves the outer face, against the lean: t tan / 2; exact."""
    result: Quantity = thickness * math.tan(rad(lean)) / 2
    return result


@checked("mm", thickness="mm", lean="rad")
def through_panel(thickness: Quantity, lean: Quantity) -> Quantity:
    """Length of the spindle's axis inside the panel: thickness / cos(lean); exact."""
    result: Quantity = thickness / math.cos(rad(lean))
    return result


@checked("mm", bush="mm", lean="rad")
def wedge_takes(bush: Quantity, lean: Quantity) -> Quantity:
    """Least length of stem, on its axis, that an outer wedge takes: a wedge that runs out to nothing at the bush.

    Half the bush times tan(lean); exact for a wedge as wide as the bush, and a wider one takes more.
    """
    result: Quantity = bush / 2 * math.tan(rad(lean))
    return result


@checked("mm", nut="mm", washer="mm")
def nut_takes(nut: Quantity, washer: Quantity) -> Quantity:
    """Length of stem that the washer and the whole nut on it take; a nut that is not full on the thread may let go."""
    result: Quantity = nut + washer
    return result


class Hole(Struct, frozen=True):
    """The hole for one wheelbox."""

    lean_rad: float
    lean_known: bool  # False: no panel was given, and the lean counts as 0
    width_mm: float  # of the slot: the bush
    length_mm: float  # along the lean
    offset_mm: float  # its centre from where the axis leaves the outer face
    offset_toward: Vector | None  # unit vector in the panel, against the lean; None: no lean
    wedge_rad: float  # angle that wedge spacers are cut to
    wedge_off_rad: float  # lean less that angle
    stem_taken_mm: float  # by the inner spacer and the panel, along the spindle
    stem_left_mm: float  # for outer spacer or wedge, washer and nut
    nut_room_mm: float  # of that, what the least outer wedge leaves for washer and nut
    nut_needs_mm: float | None  # what washer and nut take; None: the nut's length is not known

    @property
    def nut_spare_mm(self) -> float | None:
        """Thread beyond the nut; below 0 the nut is not full on it; None: the nut's length is not known."""
        return None if self.nut_needs_mm is None else self.nut_room_mm - self.nut_needs_mm


def hole(box: PathToBox, wedge: Quantity) -> Hole:
    """Slot, wedge and stem of one wheelbox.

    Raises DriveError: the panel's normal and the spindle point to different sides; a stem that ends in the panel.
    """
    lean = lean_of(box)
    offset_toward = None
    if box.panel is not None and rad(lean) > 0:
        offset_toward = unit(scale(across(box.spindle, unit(box.panel)), -1.0))
    taken = box.spacer + through_panel(box.panel_thickness, lean)
    left = box.model.stem - taken
    if mm(left) <= 0:
        raise DriveError(
            f"wheelbox {box.name!r}",
            f"inner spacer and panel take {mm(taken):.4g} mm of its stem",
            f"the stem is {mm(box.model.stem):.6g} mm and must come out of the panel",
            "take a thinner inner spacer, or a wheelbox with a longer stem",
        )
    return Hole(
        lean_rad=rad(lean),
        lean_known=box.panel is not None,
        width_mm=mm(box.model.bush),
        length_mm=mm(slot_length(box.model.bush, lean, box.panel_thickness)),
        offset_mm=mm(slot_offset(lean, box.panel_thickness)),
        offset_toward=offset_toward,
        wedge_rad=rad(wedge),
        wedge_off_rad=rad(lean - wedge),
        stem_taken_mm=mm(taken),
        stem_left_mm=mm(left),
        nut_room_mm=mm(left - wedge_takes(box.model.bush, lean)),
        nut_needs_mm=None if box.model.nut is None else mm(nut_takes(box.model.nut, box.model.washer or NO_WASHER)),
    )


def lean_of(box: PathToBox) -> Quantity:
    """Angle between the panel's normal and the spindle, 0 where no panel is given. Raises DriveError: 90 deg up."""
    if box.panel is None:
        return quantity(0.0, "rad")
    lean = quantity(angle_rad(box.panel, box.spindle), "rad")
    if rad(lean) >= math.pi / 2:
        raise DriveError(
            f"wheelbox {box.name!r}",
            f"its spindle leans {deg(lean):.4g} deg from the panel's normal",
            "it must be less than 90 deg",
            "give both pointing out of the panel",
        )
    return lean
