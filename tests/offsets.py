"""Offsets and saddles corner by corner, and the marks, angles and shortening of the tubes over them."""

import math

from tubing.centreline.develop import develop


def over(corners, radius):
    """The centre line over corners of one plane, with straights of 200 before and after."""
    points = [(0.0, 0.0), *((200.0 + x, y) for x, y in corners), (400.0 + corners[-1][0], corners[-1][1])]
    return develop([(float(x), float(y), 0.0) for x, y in points], radius)


def offset(rise, degrees):
    """Corners of an offset."""
    return [(0.0, 0.0), (rise / math.tan(math.radians(degrees)), rise)]


def saddle_of_four(rise, degrees, level):
    """Corners of a saddle of four bends: an offset up, a level part, an offset down."""
    along = rise / math.tan(math.radians(degrees))
    return [(0.0, 0.0), (along, rise), (along + level, rise), (2 * along + level, 0.0)]


def saddle_of_three(rise, degrees):
    """Corners of a saddle of three bends: the middle one twice the outer ones' angle."""
    along = rise / math.tan(math.radians(degrees))
    return [(0.0, 0.0), (along, rise), (2 * along, 0.0)]


def marks(line):
    """Where each bend starts along the blank."""
    at, found = 0.0, []
    for straight, bend in zip(line.straights_mm, line.bends, strict=False):
        found.append(at + straight)
        at += straight + bend.radius_mm * bend.angle_rad
    return found


def angles(line):
    """Bends and rotations in degrees."""
    return [(round(math.degrees(b.angle_rad), 6), round(math.degrees(b.rotation_rad), 6)) for b in line.bends]


def shrink(line):
    """How much longer the tube is than its run from end to end along the wall."""
    return line.length_mm - (line.points_mm[-1][0] - line.points_mm[0][0])
