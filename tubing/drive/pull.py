"""What the motor has to pull, and what the bends make of it: friction and lost motion. On pint quantities.

Own pull:    force at the rack that one box's blade asks for.
Pull ratio:  what a pull at a box grows to on its way to the motor.
Lost motion: angle that a spindle stands still at each reversal, while the rack goes over from the inside of the
             bends, where it lies when pulled, to their outside, where it lies when pushed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from tubing.drive.records import BendOnWay, DriveFacts, PathToBox
from tubing.errors import DriveError
from tubing.inputs.records import FittedArm
from tubing.units import RAD, Quantity, checked, deg, mm, newton, quantity, rad

ROUGH = (
    "the pull is an estimate: a stiff rack in a tube obeys the capstan relation only roughly; "
    "measure it on the bench and enter it as measured_pull"
)
GREATEST_EXPONENT = 700.0  # beyond it the ratio is no number any more


@checked("", friction="", turn="rad")
def pull_ratio(friction: float, turn: Quantity) -> float:
    """Ratio of the pulls on both sides of so much turn: exp(friction x turn), the capstan relation.

    For a limp rope it is exact, whatever the bends' radii; a stiff rack obeys it only roughly.
    Source: engineering mechanics, belt friction.

    >>> round(pull_ratio(0.3, quantity(360, "deg")), 1)
    6.6
    """
    exponent = friction * rad(turn)
    if exponent > GREATEST_EXPONENT:
        raise DriveError(
            "pull", f"friction {friction:g} over {deg(turn):.6g} deg of turn", "no motor could pull it",
            "take a run with less turn, or check friction in [drive] of the shop file",
        )  # fmt: skip
    return math.exp(exponent)


@checked("N", blade_load="N/m", blade="mm", rubber="", reach="mm", pitch_radius="mm")
def own_pull(blade_load: Quantity, blade: Quantity, rubber: float, reach: Quantity, pitch_radius: Quantity) -> Quantity:
    """Force at the rack for one blade: load x blade x rubber friction, at the arm's reach, over the pitch radius.

    The blade's drag is taken at the arm's tip; exact for a blade in line with its arm and held in its middle. A
    cranked blade asks for a little more: 1 % at 30 degrees on usual lengths.
    """
    result: Quantity = (blade_load * blade * rubber * reach / pitch_radius).to("N")
    return result


@checked("rad", bore="mm", rack="mm", turn="rad", pitch_radius="mm")
def lost_motion(bore: Quantity, rack: Quantity, turn: Quantity, pitch_radius: Quantity) -> Quantity:
    """Angle that a spindle stands still at each reversal: (bore - rack diameter) x turn / pitch radius; exact.

    The two ways through a bend, along its inside and its outside, differ by the play times the turn.
    """
    result: Quantity = ((bore - rack) * turn / pitch_radius).to("rad")
    return result


@checked("mm", angle="rad", reach="mm")
def tip_movement(angle: Quantity, reach: Quantity) -> Quantity:
    """Way along its arc of a point at ``reach`` from the spindle."""
    result: Quantity = angle.to("rad") * reach / RAD
    return result


class BoxPull(Struct, frozen=True):
    """What one box adds to the pull at the motor."""

    name: str
    ratio: float  # pull ratio from the motor to this box
    wet_n: float  # own pull, at the box
    dry_n: float
    share: float  # of the pull at the motor, 0 to 1; the same wet and dry


class BendCost(Struct, frozen=True):
    """What one bend adds to the pull at the motor, all others left as they are."""

    bend: BendOnWay
    share: float  # of the pull at the motor that would go if this bend were straight, 0 to 1


class Pull(Struct, frozen=True):
    """The pull at the motor."""

    needed_n: float | None  # as measured, else with dry rubber, the greater; None: not known
    why: str  # where ``needed_n`` comes from, or why there is none
    rating_n: float  # of the motor
    wet_n: float | None  # at the motor by the capstan relation; None: arms or blades are not given
    dry_n: float | None
    boxes: tuple[BoxPull, ...]  # in order from the motor; none where arms or blades are not given
    bends: tuple[BendCost, ...]  # the costliest first

    @property
    def costliest_box(self) -> BoxPull | None:
        """The box that adds most to the pull at the motor."""
        return max(self.boxes, key=lambda box: box.share, default=None)


def pull(facts: DriveFacts) -> Pull:
    """The pull at the motor, against its rating: what was measured, else by the capstan relation with dry rubber."""
    rating_n, measured = newton(facts.motor.pull), facts.settings.measured_pull
    measured_n = None if measured is None else newton(measured)
    missing = [box.name for box in facts.boxes if _blade_on(box, facts.arms) is None]
    if missing:
        why = f"no arm and blade with their lengths are given for {', '.join(missing)}"
        if measured_n is not None:
            return Pull(measured_n, "as measured", rating_n, None, None, (), ())
        return Pull(None, why, rating_n, None, None, (), ())
    boxes = _box_pulls(facts)
    wet_n, dry_n = sum(box.wet_n * box.ratio for box in boxes), sum(box.dry_n * box.ratio for box in boxes)
    needed_n, why = (dry_n, "capstan relation, dry rubber") if measured_n is None else (measured_n, "as measured")
    return Pull(needed_n, why, rating_n, wet_n, dry_n, boxes, _bend_costs(facts, boxes))


def _blade_on(box: PathToBox, arms: Sequence[FittedArm]) -> tuple[Quantity, Quantity] | None:
    """Lengths of the arm and the blade on a box, where both are known."""
    for arm in arms:
        if arm.on == box.name and arm.length is not None and arm.blade is not None:
            return arm.length, arm.blade
    return None


def _box_pulls(facts: DriveFacts) -> tuple[BoxPull, ...]:
    settings = facts.settings
    found = []
    for box in facts.boxes:
        lengths = _blade_on(box, facts.arms)
        assert lengths is not None, "the caller has looked"
        arm, blade = lengths
        wet_n, dry_n = (
            newton(own_pull(settings.blade_load, blade, rubber, arm, box.model.pitch_radius))
            for rubber in (settings.rubber_wet, settings.rubber_dry)
        )
        found.append((box.name, pull_ratio(settings.friction, box.turn), wet_n, dry_n))
    total_n = sum(dry_n * ratio for _, ratio, _, dry_n in found)
    return tuple(
        BoxPull(name, ratio, wet_n, dry_n, dry_n * ratio / total_n if total_n else 0.0)
        for name, ratio, wet_n, dry_n in found
    )


def _bend_costs(facts: DriveFacts, boxes: Sequence[BoxPull]) -> tuple[BendCost, ...]:
    """For each bend the share of the pull that is due to it, the costliest first."""
    costs = []
    for bend in facts.boxes[-1].bends:
        beyond = sum(box.share for path, box in zip(facts.boxes, boxes, strict=True) if bend in path.bends)
        costs.append(BendCost(bend, beyond * (1 - 1 / pull_ratio(facts.settings.friction, bend.turn))))
    return tuple(sorted(costs, key=lambda cost: -cost.share))


def tip_reach(arm: FittedArm) -> Quantity | None:
    """Spindle to the blade's farther tip, the blade held in its middle; None: a length is not given.

    By the cosine rule on half the blade, turned from the arm by its crank angle.
    """
    if arm.length is None or arm.blade is None:
        return None
    length_mm, half_mm, crank_rad = mm(arm.length), mm(arm.blade) / 2, rad(arm.crank)
    return quantity(math.hypot(length_mm + half_mm * math.cos(crank_rad), half_mm * math.sin(crank_rad)), "mm")
