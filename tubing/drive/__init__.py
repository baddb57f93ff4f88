"""Rack, friction, lost motion, holes, park. Every formula works on pint quantities and is checked for dimension."""

from tubing.drive.motion import Motion, MotionPoint
from tubing.drive.rack import TailTube, tail_tube
from tubing.drive.records import BendOnWay, DriveFacts, PathToBox
from tubing.drive.stage import BoxDrive, Drive, drive

__all__ = [
    "BendOnWay",
    "BoxDrive",
    "Drive",
    "DriveFacts",
    "Motion",
    "MotionPoint",
    "PathToBox",
    "TailTube",
    "drive",
    "tail_tube",
]
