"""A fitter who has only the CSV tables and the order of work, and does what they say, step by step.

He knows nothing of the planner: a blank is a straight length, a bend an arc from mark to mark, a flare takes what
his tool takes. It shares no code with what it checks.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

Point = NDArray[np.float64]


class Tube:
    """One piece on the bench."""

    def __init__(self, row: Mapping[str, str]) -> None:
        self.ports = (row["from"], row["to"])
        self.forms = dict(zip(self.ports, (row["from: its end"], row["to: its end"]), strict=True))
        self.cut_mm = float(row["cut [mm]"])
        self.length_mm = 0.0  # nothing is sawn yet
        self.beyond_mm: float | None = None  # its mark in place it is trimmed; None: it is not trimmed
        self.marks: list[dict[str, str]] = []
        self.bends: list[tuple[float, float, float, float]] = []  # from the counted end: start, end, angle, rotation
        self.counted = self.ports[0]  # the end that marks count from
        self.flared: set[str] = {port for port, form in self.forms.items() if "ready" in form}

    @property
    def other(self) -> str:
        """The end that marks do not count from."""
        return self.ports[1] if self.counted == self.ports[0] else self.ports[0]


class Fitter:
    """The bench: ``takes_mm`` is what a flare of each kind takes of the tube with this fitter's tools."""

    def __init__(self, files: Mapping[str, str], takes_mm: Mapping[str, float]) -> None:
        self.takes_mm = takes_mm
        self.tubes = {row["piece"]: Tube(row) for row in _rows(files["cut-list.csv"])}
        self.on_bars = _rows(files["saw-list.csv"])
        self.bend_rows = _rows(files["bends.csv"])
        for name, tube in self.tubes.items():
            ends = {row["from end"] for row in self.bend_rows if row["piece"] == name}
            tube.counted = ends.pop() if ends else tube.counted

    def works(self, steps: list[dict[str, Any]]) -> None:
        """Do every step in order; those on the vehicle are left to the vehicle, but for the trimming in place."""
        for step in steps:
            do = getattr(self, step["does"].replace(" ", "_"), None)
            if do is not None and step["piece"] is not None:
                do(self.tubes[step["piece"]], step)

    def saw(self, tube: Tube, step: dict[str, Any]) -> None:
        """By the saw list's marks, which leave the length that the cut list says."""
        [row] = [row for row in self.on_bars if row["what lies before the mark"].split(",")[0] == step["piece"]]
        assert float(row["length [mm]"]) == tube.cut_mm
        tube.length_mm = tube.cut_mm

    def mark(self, tube: Tube, step: dict[str, Any]) -> None:
        """Only a straight blank with a cut end, or a ready rim, to measure from."""
        assert tube.length_mm
        assert not tube.bends
        assert tube.flared <= {port for port, form in tube.forms.items() if "ready" in form}
        tube.marks = [row for row in self.bend_rows if row["piece"] == step["piece"]]
        for row in tube.marks:
            assert float(_place(row, "starts")) < float(_place(row, "ends")) < tube.length_mm

    def flare(self, tube: Tube, step: dict[str, Any]) -> None:
        """A flare is formed once, and takes its share of the tube at its end."""
        assert tube.length_mm
        assert step["at"] not in tube.flared
        tube.flared.add(step["at"])

    last_flare = flare

    def bend(self, tube: Tube, step: dict[str, Any]) -> None:
        """From mark to mark, by angle and rotation; the arc must be as long as its radius says."""
        assert tube.marks
        for row in tube.marks:
            start, end = float(_place(row, "starts")), float(_place(row, "ends"))
            angle, rotation = math.radians(float(row["angle [deg]"])), math.radians(float(row["rotation [deg]"]))
            assert abs(float(row["radius as bent [mm]"]) * angle - (end - start)) < 0.11 + 0.06 * angle + 0.3
            tube.bends.append((start, end, angle, rotation))

    def trim(self, tube: Tube, step: dict[str, Any]) -> None:
        """Beyond the mark that was made in place; where that is the vehicle tells, see ``trimmed_to``."""
        assert step["at"] not in tube.flared
        [beyond] = re.findall(rf"{re.escape(step['piece'])} ([\d.]+) mm beyond its mark", step["text"])
        tube.beyond_mm = float(beyond)

    def rim_mm(self, tube: Tube, port: str) -> float:
        """How far the rim at an end lies inside the cut that was there."""
        taken_mm = self.taken_mm(tube.forms[port])
        assert port in tube.flared or not taken_mm, f"{port} was never flared"
        return taken_mm

    def taken_mm(self, form: str) -> float:
        """What forming an end takes of the tube: nothing where it stays plain, or came flared."""
        if "plain" in form or "ready" in form:
            return 0.0
        return self.takes_mm["double" if "double" in form else "single"]

    def centre_line(self, tube: Tube, at: Point, way: Point, roll_rad: float) -> tuple[Point, Point]:
        """Where the other end's rim comes, and which way the tube leaves it.

        ``at`` and ``way``: the counted end's rim and the way into the tube; ``roll_rad`` turns the tube about that.
        """
        inside = np.cross(way, [0.0, 0.0, 1.0] if abs(way[2]) < 0.9 else [1.0, 0.0, 0.0])
        inside = _turned(inside / np.linalg.norm(inside), way, roll_rad)
        reached = self.rim_mm(tube, tube.counted)
        for k, (start, end, angle, rotation) in enumerate(tube.bends):
            at = at + way * (start - reached)
            inside = inside if k == 0 else _turned(inside, way, rotation)
            radius = (end - start) / angle
            centre, axis = at + inside * radius, np.cross(way, inside)
            at = centre + _turned(at - centre, axis, angle)
            way, inside = _turned(way, axis, angle), _turned(inside, axis, angle)
            reached = end
        return at + way * (tube.length_mm - self.rim_mm(tube, tube.other) - reached), way

    def trimmed_to(self, tube: Tube, at: Point, way: Point, wanted: Point, wanted_way: Point) -> None:
        """Lay it in place by ``at`` and ``way``, roll it in, mark it at the seat, and trim beyond the mark."""
        was = tube.length_mm
        assert tube.beyond_mm is not None
        form, tube.flared = tube.flared, {*tube.flared, tube.other}  # as it will be, to know where its end lies
        rim, out = self.centre_line(tube, at, way, self.rolled_in(tube, at, way, wanted, wanted_way))
        tube.flared = form
        end = rim + out * self.taken_mm(tube.forms[tube.other])
        seat = end + out * float((wanted - end) @ out)  # square across from the seat
        tube.length_mm = was - float((end - seat) @ out) + tube.beyond_mm
        assert tube.length_mm < was + 0.06, "it was not left long enough"

    def misfit_mm(self, tube: Tube, at: Point, way: Point, roll: float, wanted: Point, wanted_way: Point) -> float:
        """How far the other end lies beside its port, with what it is askew counted over the piece's reach, [mm]."""
        end, out = self.centre_line(tube, at, way, roll)
        beside = wanted - end - out * float((wanted - end) @ out)
        askew = math.acos(float(np.clip(-out @ wanted_way, -1.0, 1.0)))
        return float(np.linalg.norm(beside)) + askew * float(np.linalg.norm(wanted - at))

    def rolled_in(self, tube: Tube, at: Point, way: Point, wanted: Point, wanted_way: Point) -> float:
        """The roll that brings the other end nearest to where it belongs, and to its heading."""
        if not tube.bends:
            return 0.0

        def off(roll: float) -> float:
            return self.misfit_mm(tube, at, way, roll, wanted, wanted_way)

        best = min(np.linspace(0.0, 2 * math.pi, 24, endpoint=False), key=off)
        return float(minimize_scalar(off, bounds=(best - 0.3, best + 0.3), method="bounded").x)


def _rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def _place(row: Mapping[str, str], which: str) -> str:
    """A mark from the cut end, or where that end comes flared from its rim."""
    return row[f"{which}, from cut end [mm]"] or row[f"{which}, from rim [mm]"]


def _turned(vector: Point, axis: Point, angle: float) -> Point:
    """Rodrigues' formula: a vector turned about a unit axis by the right hand."""
    turned: Point = (
        vector * math.cos(angle)
        + np.cross(axis, vector) * math.sin(angle)
        + axis * float(axis @ vector) * (1 - math.cos(angle))
    )
    return turned
