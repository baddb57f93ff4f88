"""Wiped area and clearances in the plane of the glass, the only door to shapely; imported when a job has a screen.

``pivots`` puts the wheelboxes on the glass, ``at_sweep`` judges one sweep, ``sweep_table`` compares those on offer,
``best_sweep`` insists on one, ``crank_sizes`` lays the parked blades along the edge, ``as_data`` is the plan's JSON.
"""

from tubing.glass.arms import Wiper
from tubing.glass.cranks import CrankSize, crank_sizes
from tubing.glass.report import CAUTION, LIMITS, Comparison, Limit, as_data, comparisons
from tubing.glass.surface import Pivots, pivots
from tubing.glass.sweeps import (
    SWEEPS_ON_OFFER,
    Fitted,
    Gap,
    Glass,
    Sweep,
    SweepTable,
    at_sweep,
    best_sweep,
    sweep_table,
)

__all__ = [
    "CAUTION",
    "LIMITS",
    "SWEEPS_ON_OFFER",
    "Comparison",
    "CrankSize",
    "Fitted",
    "Gap",
    "Glass",
    "Limit",
    "Pivots",
    "Sweep",
    "SweepTable",
    "Wiper",
    "as_data",
    "at_sweep",
    "best_sweep",
    "comparisons",
    "crank_sizes",
    "pivots",
    "sweep_table",
]
