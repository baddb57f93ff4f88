"""Positions from tape readings: where everything is, how sure that is, which reading is wrong, which to take next.

One of the doors to numpy.
"""

from tubing.measuring.positions import Measured, measured
from tubing.measuring.records import AXES, ORIGIN, Frame, Judged, Network, NextReading, PlacedPoint, Reading

__all__ = [
    "AXES",
    "ORIGIN",
    "Frame",
    "Judged",
    "Measured",
    "Network",
    "NextReading",
    "PlacedPoint",
    "Reading",
    "measured",
]
