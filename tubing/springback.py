"""How a bend springs back: how far to set the bender, and the radius that the bend ends up at.

Proportional: degrees to add per degree of bend; the tube's own part.
Fixed:        degrees to add to every bend, whatever its angle; the bender's play.
As bent:      as it stays, off the former. The formed arc keeps its length, so its radius grows as its angle falls.
Trial:        a bend that was made to see this: how far the bender was set, and what angle stayed.

set = got x (1 + proportional) + fixed. Play forms no arc, so radius as bent = former's radius x (1 + proportional).
Springback grows with radius over diameter, so a trial holds for its own tube and former only.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from tubing.inputs.catalogue import Former, Tube
from tubing.inputs.records import Shop, TrialBend
from tubing.trial_statistics import Line, off_the_line, slope_through_origin, straight_line, student
from tubing.units import mm, number, rad

READING_RAD = math.radians(0.25) / math.sqrt(3)  # a protractor is read to half a degree; common practice, no source
TRIAL_LEG_MM = 100.0  # straight tube on either side of a trial bend


class Springback(Struct, frozen=True):
    """What a tube does on a former, and how it is known."""

    proportional: float
    fixed_rad: float = 0.0
    trials: int = 0  # 0: the bench's own figure, not tried
    tried_rad: tuple[float, float] | None = None  # least and greatest angle that stayed
    line: Line | None = None  # of set less got on got, rad; None: fewer than three trials, or no line was laid

    @property
    def sure_rad(self) -> float | None:
        """What is added to a bend in the middle of those tried is within this, either way, with 95 % confidence."""
        if self.line is None or self.tried_rad is None:
            return None
        return student(self.trials - 2) * self.line.sd_at(sum(self.tried_rad) / 2)

    @property
    def sure_proportional(self) -> float | None:
        """The proportional part is within this, either way, with 95 % confidence; None: no line was laid."""
        return None if self.line is None else student(self.trials - 2) * self.line.slope_sd

    def set_rad(self, angle_rad: float) -> float:
        """How far to turn the bender, [rad], so that ``angle_rad`` stays. Common practice, no source.

        >>> round(math.degrees(Springback(0.05, math.radians(1.5)).set_rad(math.radians(90))), 9)
        96.0
        """
        return angle_rad * (1 + self.proportional) + self.fixed_rad


def learned(trials: Sequence[TrialBend]) -> Springback:
    """What trials of one tube on one former say; one at least, and of several not all of one angle.

    One trial gives the proportional part alone, two solve both parts, more are fitted by a straight line. Neither part
    is below nothing: such a line is laid through the origin, or level.
    """
    points = [(rad(trial.got), rad(trial.set) - rad(trial.got)) for trial in trials]
    angles = [angle for angle, _ in points]
    count, tried = len(points), (min(angles), max(angles))
    if count == 1:
        return Springback(slope_through_origin(points), 0.0, 1, tried)
    line = straight_line(points)
    if line.slope < 0:
        return Springback(0.0, math.fsum(back for _, back in points) / count, count, tried)
    if line.intercept < 0:
        return Springback(slope_through_origin(points), 0.0, count, tried)
    return Springback(line.slope, line.intercept, count, tried, line if count > 2 else None)


def estimated(tube: Tube, former: Former) -> float | None:
    """What the elastic relation gives for the proportional part; None: no strength or modulus is known.

    Of a round tube, wholly plastic and not hardening, got / set = 1 - R sy Z / (E I) stays, with R the radius to the
    centre line, Z = 4/3 (ro^3 - ri^3) and I = pi/4 (ro^4 - ri^4). Derived from the plastic bending moment sy Z.
    """
    if tube.yield_strength is None or tube.modulus is None:
        return None
    outer, inner = mm(tube.diameter) / 2, mm(tube.bore) / 2
    plastic, second = 4 / 3 * (outer**3 - inner**3), math.pi / 4 * (outer**4 - inner**4)
    strain = number(tube.yield_strength / tube.modulus)
    return 1 / (1 - mm(former.radius) * strain * plastic / second) - 1


def odd_trial(trials: Sequence[TrialBend]) -> TrialBend | None:
    """Of four trials or more of one tube on one former the one that lies off the others; None: none does."""
    points = [(rad(trial.got), rad(trial.set) - rad(trial.got)) for trial in trials]
    k = off_the_line(points, READING_RAD)
    return None if k is None else trials[k]


def trials_of(tube: str | None, former: str, shop: Shop) -> list[TrialBend]:
    """The shop's trial bends of one tube of the tables on one former."""
    return [trial for trial in shop.trial_bends if (trial.tube, trial.former) == (tube, former)]


def springback_of(tube: Tube | None, former: Former, shop: Shop) -> Springback:
    """What a tube does on a former: by trials of this pair, else by the bench's own figure."""
    of_pair = trials_of(tube.stock if tube else None, former.name, shop)
    return learned(of_pair) if of_pair else Springback(shop.bench.springback)


def as_bent_mm(tube: Tube | None, former: Former, shop: Shop) -> float:
    """The radius that a bend on a former ends up at, to the tube's centre line, [mm].

    Derived: the formed arc, radius x angle, is the same before and after. A former whose stated radius is what it
    gives opens no further.
    """
    opens = 0.0 if former.radius_is == "as bent" else springback_of(tube, former, shop).proportional
    return mm(former.radius) * (1 + opens)


def trial_blank_mm(bent_mm: float, angle_rad: float) -> int:
    """A blank for a trial bend, [mm]: its arc and a straight on either side for a protractor; whole fifties."""
    return math.ceil((bent_mm * angle_rad + 2 * TRIAL_LEG_MM) / 50) * 50
