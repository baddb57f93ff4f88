"""The way round what is in the way.

The direct tube is kept where it is clear. Otherwise the same ports are joined by other tubes of two bends, then by
three, over one free corner beside a hazard, then over more corners. These are sought on a graph whose nodes are legs
from corner to corner, each in its direction, so that an edge is a bend and its turn can be charged. What a hazard's
corners are sought for is found out on the way: first the hazards that the direct tube enters, then those that the
gentlest tubes round them enter.
"""

from __future__ import annotations

from collections.abc import Sequence

from tubing.centreline.between import Bending, Laid, PortAt, tube_between, tube_name
from tubing.errors import ClearanceError
from tubing.geometry.aims import Ends, aims_round, in_reach
from tubing.geometry.around import Corners, Search
from tubing.geometry.vectors import Vector
from tubing.run.corner_graph import CornerGraph
from tubing.run.in_the_way import Around, Hazard, blocked

ROUNDS = 4  # times that hazards found on the way are added
ADDED = 3  # at each of them, those hit most often
PATHS = 16  # ways over more corners that are laid out
REMEDY = "name corners for this tube, turn a heading, move a box"


def clear_tube(start: PortAt, end: PortAt, bending: Bending, around: Around, corners_mm: Sequence[Vector]) -> Laid:
    """The tube from one port to the next, clear of all that is in the way.

    ``corners_mm``: the fitter's own corners, which are kept. The ports themselves must be clear. Raises ClearanceError
    where no clear tube is found, GeometryError where none can be bent.
    """
    laid = tube_between(start, end, bending, corners_mm)
    wrong = around.entered(laid)
    if not wrong:
        return laid
    if corners_mm:
        raise blocked(
            tube_name(start, end), around.hazards[wrong[0][0]], wrong[0][1], "the way over its corners", "move a corner"
        )
    search = Search(_ends(start, end, bending), around.keepout)
    corners = _round(search, around, [k for k, _ in wrong])
    if corners is None:
        raise _no_way(start, end, search, around, wrong[0])
    return tube_between(start, end, bending, corners)


def _ends(start: PortAt, end: PortAt, bending: Bending) -> Ends:
    least = (max(start.hold_mm, bending.grip_mm), bending.grip_mm, max(end.hold_mm, bending.grip_mm))
    return Ends(start.datum_mm, start.heading, end.datum_mm, end.heading, least, bending.radius_mm)


def _round(search: Search, around: Around, hit: list[int]) -> Corners | None:
    """Corners of the tube with the fewest bends, then the least turn, that is clear; None: none is found."""
    search.known = list(hit)
    found = search.two_bends()
    if found is not None:
        return found
    for _ in range(ROUNDS):
        found = search.round_one(_aims(search.ends, [around.hazards[k] for k in search.known], around))
        if found is not None:
            return found
        if not search.hit:
            break
        search.known += search.hit[:ADDED]
    return _over_more(search, around)


def _aims(ends: Ends, hazards: Sequence[Hazard], around: Around) -> list[Vector]:
    near = [aim for h in hazards for aim in aims_round(h.solid, h.clearance_mm + around.tube_radius_mm, ends)]
    return in_reach(near, ends)


def _over_more(search: Search, around: Around) -> Corners | None:
    """Two corners or more beside hazards: the cheapest paths through the graph of legs, until one is clear."""
    for _ in range(ROUNDS):
        aims = [_aims(search.ends, [around.hazards[k]], around) for k in search.known]
        graph = CornerGraph(search.ends, around.keepout, aims)
        hit: list[int] = []
        for _ in range(PATHS):
            path = graph.cheapest()
            if path is None:
                break
            found = search.over(path)
            if found is not None:
                return found
            hit += [k for k in search.hit if k not in hit]
            graph.give_up(path)
        if not hit:
            return None
        search.known += hit[:ADDED]
    return None


def _no_way(start: PortAt, end: PortAt, search: Search, around: Around, direct: tuple[int, float]) -> ClearanceError:
    """The error that names what stands in the way of the best try, and by how much."""
    which, missing_mm = direct
    if search.missed_over and search.missed_mm < missing_mm:
        wrong = search.wrong_with(search.missed_over)
        which, missing_mm = wrong[0]
    best = "the direct tube" if (which, missing_mm) == direct else "the best way found round it"
    return blocked(tube_name(start, end), around.hazards[which], missing_mm, best, REMEDY)
