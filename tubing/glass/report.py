"""What the plan says of the glass: beside two rules of law where the job names their zones, and as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from msgspec import Struct

from tubing.glass.cranks import CrankSize
from tubing.glass.sweeps import Fitted, Sweep

CAUTION = (
    "This is a comparison and approves nothing: it knows the zones as the job draws them, not how the rules "
    "lay them out, nor how blades wipe a wet screen."
)


class Limit(Struct, frozen=True):
    """The least share of a zone that a rule wants wiped."""

    rule: str
    zone: str
    least_percent: float
    sure: str  # S read in the source, M from memory


LIMITS = (
    Limit("49 CFR 571.104 S4.1.2", "A", 80.0, "M"),
    Limit("49 CFR 571.104 S4.1.2", "B", 94.0, "M"),
    Limit("49 CFR 571.104 S4.1.2", "C", 99.0, "M"),
    Limit("Regulation (EU) 1008/2010 Annex III 1.1", "A", 98.0, "S"),
    Limit("Regulation (EU) 1008/2010 Annex III 1.1", "B", 80.0, "S"),
)


class Comparison(Struct, frozen=True):
    """One zone beside one limit."""

    limit: Limit
    wiped_percent: float
    lagging_percent: float  # with lost motion taken off the sweep

    @property
    def reached(self) -> bool:
        """Whether the limit is reached even with lost motion."""
        return min(self.wiped_percent, self.lagging_percent) >= self.limit.least_percent


def comparisons(sweep: Sweep) -> tuple[Comparison, ...]:
    """The zones that the job names beside the rules that speak of zones of that name.

    Both rules speak of an A and a B and mean different parts of the screen: the reader knows which he drew.
    """
    return tuple(
        Comparison(limit, sweep.zones_percent[limit.zone], sweep.lagging_zones_percent[limit.zone])
        for limit in LIMITS
        if limit.zone in sweep.zones_percent
    )


def as_data(sweep: Sweep, misfits_mm: Mapping[str, float], cranks: Sequence[CrankSize] = ()) -> dict[str, Any]:
    """The plan's JSON key ``glass``: lengths in mm, angles in degrees, shares in percent.

    ``misfits_mm``: of the holes projected on the plane of the glass; empty where the job gives the pivots.
    ``cranks``: what lays the parked blades along the edge.
    """
    compared = comparisons(sweep)
    return {
        "sweep_deg": sweep.sweep_deg,
        "wiped_percent": {"screen": sweep.screen_percent, "zones": dict(sweep.zones_percent)},
        "lagging_percent": {"screen": sweep.lagging_screen_percent, "zones": dict(sweep.lagging_zones_percent)},
        "arms": [_arm(one) for one in sweep.fitted],
        "least_blade_distance_mm": min((gap.least_mm for gap in sweep.gaps), default=None),
        "blade_distances": [{"between": list(gap.between), "least_mm": gap.least_mm} for gap in sweep.gaps],
        "misfit_mm": dict(misfits_mm),
        "crank_along_edge": [_crank(one) for one in cranks],
        "breaks": list(sweep.breaks),
        "comparisons": [_comparison(one) for one in compared],
        "caution": CAUTION if compared else None,
    }


def _arm(one: Fitted) -> dict[str, Any]:
    return {
        "on": one.name,
        "length_mm": one.arm_mm,
        "blade_mm": one.blade_mm,
        "sweep_deg": one.sweep_deg,
        "parked_deg": one.parked_deg,
        "raised_deg": one.raised_deg,
        "tip_clearance_mm": {"outer": one.outer_tip_mm, "inner": one.inner_tip_mm},
        "clearance_mm": one.clearance_mm,
    }


def _crank(one: CrankSize) -> dict[str, Any]:
    return {
        "on": one.name,
        "crank_deg": one.crank_deg,
        "hand": one.hand,
        "parked_deg": one.parked_deg,
        "clearance_mm": one.clearance_mm,
        "fitted_off_deg": one.fitted_off_deg,
    }


def _comparison(one: Comparison) -> dict[str, Any]:
    return {
        "rule": one.limit.rule,
        "zone": one.limit.zone,
        "least_percent": one.limit.least_percent,
        "wiped_percent": one.wiped_percent,
        "lagging_percent": one.lagging_percent,
        "reached": one.reached,
        "sure": one.limit.sure,
    }
