"""The screen developed flat: outline, zones, pivots; what blades wipe of it and how near they come to its edge.

Holes measured on the vehicle come into the plane of the glass through three points of it or more.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import shapely
from msgspec import Struct

from tubing.errors import JobError
from tubing.geometry.vectors import Point2, Vector
from tubing.glass.blade import Blade
from tubing.glass.plane import plane_through
from tubing.inputs.records import Screen
from tubing.units import rounded

FARTHEST_PIVOT_MM = 300.0  # invented limit: how far a pivot may lie outside the outline or off the plane of the glass
ZONE_OUTSIDE_MM = 1.0  # how far a zone may lie outside the outline: nobody measures glass better
STEP_MM = 0.5  # of the points that measure how far a blade goes over the edge: to half of this at worst
THINNEST_MM2 = 1.0  # a smaller area is no screen


class Surface(Struct, frozen=True):
    """A checked outline and zones, as shapely polygons."""

    outline: Any
    zones: dict[str, Any]

    def wiped(self, regions: Iterable[Any]) -> Any:
        """The part of the screen that lies in any of the swept regions."""
        return shapely.unary_union(list(regions)).intersection(self.outline)

    def percents(self, wiped: Any) -> tuple[float, dict[str, float]]:
        """Wiped percent of the screen, and of each zone."""
        zones = {name: 100 * wiped.intersection(zone).area / zone.area for name, zone in self.zones.items()}
        return 100 * wiped.area / self.outline.area, zones

    def clearance_mm(self, line: Any) -> float:
        """Least distance of a line to the outline's edge; negative: how far the line goes over the edge.

        What is over the edge is measured at points STEP_MM apart, so it is right to half of that.
        """
        if self.outline.covers(line):
            return float(self.outline.boundary.distance(line))
        points = shapely.points(shapely.get_coordinates(line.segmentize(STEP_MM)))
        return -float(shapely.distance(self.outline, points).max())

    def keeps(self, line: Any, clearance_mm: float) -> bool:
        """Whether a line lies on the screen, at least so far from its edge; quicker than asking how far."""
        return bool(self.outline.covers(line) and self.outline.boundary.distance(line) >= clearance_mm)

    def tips_mm(self, blade: Blade) -> tuple[float, float]:
        """Clearance of the outer and of the inner tip to the edge through the whole sweep."""
        half = blade.blade_mm / 2
        outer, inner = (shapely.LineString(blade.path_mm(along)) for along in (half, -half))
        return self.clearance_mm(outer), self.clearance_mm(inner)

    def lower_edge_rad(self, from_mm: float, to_mm: float) -> float | None:
        """Direction of the outline's lower edge from one x to another, anticlockwise from the x axis.

        Both are held inside the outline; None where less than 1 mm is left between them.
        """
        left, _, right, _ = self.outline.bounds
        inset = 1e-6 * (right - left)
        start, end = (min(right - inset, max(left + inset, x)) for x in (from_mm, to_mm))
        if abs(end - start) < 1:
            return None
        return math.atan2(self._lower_mm(end) - self._lower_mm(start), end - start)

    def _lower_mm(self, x_mm: float) -> float:
        _, bottom, _, top = self.outline.bounds
        line = shapely.LineString([(x_mm, bottom - 1), (x_mm, top + 1)])
        return float(self.outline.intersection(line).bounds[1])


def surface(screen: Screen) -> Surface:
    """Check a screen's outline and zones. Raises JobError: no area, a crossing edge, a zone off the glass."""
    outline = _polygon("screen, outline", screen.outline_mm)
    zones = {name: _polygon(f"screen, zone {name!r}", points) for name, points in screen.zones_mm.items()}
    for name, zone in zones.items():
        corners = shapely.points(zone.exterior.coords)
        outside_mm = float(shapely.distance(outline, corners).max())
        if outside_mm > ZONE_OUTSIDE_MM or zone.difference(outline.buffer(ZONE_OUTSIDE_MM)).area > THINNEST_MM2:
            far = outside_mm > ZONE_OUTSIDE_MM
            raise JobError(
                f"screen, zone {name!r}",
                f"it reaches {rounded(outside_mm, 0)} mm outside the outline"
                if far
                else "it bridges a bay in the outline",
                "a zone must lie on the glass",
                "measure the zone and the outline from one origin",
            )
    shapely.prepare(outline)
    return Surface(outline, zones)


def _polygon(thing: str, points_mm: tuple[Point2, ...]) -> Any:
    """A polygon from its corners in order, either way round; the first may be repeated at the end."""
    corners = [p for k, p in enumerate(points_mm) if p != points_mm[k - 1] or not k]
    if len(set(corners)) < 3:
        raise JobError(
            thing,
            f"it has {len(set(corners))} different points",
            "it must have 3 or more",
            "give its corners in order round the edge",
        )
    polygon = shapely.Polygon(corners)
    if not polygon.is_valid:
        reason = shapely.is_valid_reason(polygon)
        where = reason[reason.find("[") + 1 : -1].split()
        at = f" at ({rounded(float(where[0]), 1)}, {rounded(float(where[1]), 1)}) mm" if len(where) == 2 else ""
        raise JobError(
            thing, f"its edges cross{at}", "no edge may cross another", "give its corners in order round the edge"
        )
    if polygon.area < THINNEST_MM2:
        raise JobError(
            thing, f"its area is {polygon.area:.2g} mm2", "it must have an area", "measure its corners again"
        )
    return polygon


def swept(blade: Blade) -> Any:
    """The region that a blade wipes, as a polygon, as exact as ``Blade.rings_mm``."""
    parts = [shapely.Polygon(ring) for ring in blade.rings_mm()]
    return parts[0] if len(parts) == 1 else shapely.unary_union(parts)


class Pivots(Struct, frozen=True):
    """Pivots in the plane of the glass, by wheelbox."""

    points_mm: dict[str, Point2]
    misfits_mm: dict[str, float]  # of each hole off the plane, positive towards the driver; empty: given in the plane
    plane_misfit_mm: float = 0.0  # the farthest that a point of the glass lies off its best plane; 0 for three points


def pivots(screen: Screen, holes_mm: Mapping[str, Vector]) -> Pivots:
    """Pivots as the job gives them in the plane, or its holes projected on ``screen.plane_mm``.

    ``holes_mm``: where each spindle leaves the panel, in the vehicle's frame, for the wheelboxes of the layout.
    Raises JobError: a wheelbox without pivot, no plane, a plane that is none, a pivot far from the glass.
    """
    outline = surface(screen).outline
    if screen.pivots_mm is not None:
        placed = Pivots({name: _named(screen.pivots_mm, name) for name in holes_mm}, {})
    else:
        placed = _projected(screen, holes_mm)
    for name, point in placed.points_mm.items():
        outside_mm = float(outline.distance(shapely.Point(point)))
        off_mm = abs(placed.misfits_mm.get(name, 0.0))
        if outside_mm > FARTHEST_PIVOT_MM:
            raise _far(name, f"it lies {rounded(outside_mm, 0)} mm outside the outline")
        if off_mm > FARTHEST_PIVOT_MM:
            raise _far(name, f"its hole lies {rounded(off_mm, 0)} mm off the plane of the glass")
    return placed


def _far(name: str, found: str) -> JobError:
    return JobError(
        f"screen, pivot {name!r}",
        found,
        f"a pivot must lie within {FARTHEST_PIVOT_MM:g} mm of the glass",
        "measure it from the outline's origin, x to the driver's right, y up the glass",
    )


def _named(points_mm: Mapping[str, Point2], name: str) -> Point2:
    if name not in points_mm:
        raise JobError(
            "screen, pivots",
            f"there is none for the wheelbox {name!r}",
            "each wheelbox of the layout needs one",
            f"add '{name} = [point]', or give 'plane' and leave 'pivots' out",
        )
    return points_mm[name]


def _projected(screen: Screen, holes_mm: Mapping[str, Vector]) -> Pivots:
    """Holes in the outline's coordinates, and how far each lies off the plane."""
    if screen.plane_mm is None:
        raise JobError(
            "screen",
            "neither 'pivots' nor 'plane' is given",
            "the blades must turn about something",
            "give the pivots in the plane of the glass, or three points of that plane",
        )
    plane = plane_through(screen.plane_mm)
    found = {name: plane.on_glass_mm(hole) for name, hole in holes_mm.items()}
    return Pivots(
        {name: point for name, (point, _) in found.items()},
        {name: misfit_mm for name, (_, misfit_mm) in found.items()},
        plane.misfit_mm,
    )
