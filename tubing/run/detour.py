"""The way round what is in the way.

The direct tube is kept where it is clear. Otherwise the same ports are joined by other tubes of two bends, then by
three, over one free corner beside a hazard. Which hazards' corners are looked at is found out on the way: first those
that the direct tube enters, then those that the gentlest tubes round these enter. Where that finds none, a second
search that shares nothing with the first grows ways from both ports over corners drawn at random; what it finds is
shortened, corner by corner, and made gentler.
"""

from __future__ import annotations

from collections.abc import Sequence

from tubing.centreline.between import Bending, Laid, PortAt, tube_between, tube_name
from tubing.errors import ClearanceError
from tubing.geometry.corner_aims import Ends, aims_round, in_reach
from tubing.geometry.grown_ways import grown_way
from tubing.geometry.vectors import Vector
from tubing.geometry.ways_round import Corners, Search
from tubing.run.hazards import Around, Hazard, blocked

ROUNDS = 2  # times that the corners of hazards are looked at
ADDED = 3  # hazards added after each, those hit most often
REMEDY = "name corners for this tube, turn a heading, move a box"


class Detour:
    """The ways round between two ports whose direct tube is not clear, the gentlest kind first."""

    def __init__(self, start: PortAt, end: PortAt, bending: Bending, around: Around, direct: Laid) -> None:
        self.start, self.end, self.bending, self.around = start, end, bending, around
        self._wrong = around.entered(direct)
        self._search = Search(ends_of(start, end, bending), around.keepout)
        self._tried = 0  # corners of ways grown
        self._search.known = [k for k, _ in self._wrong]

    def of_two_bends(self) -> Laid | None:
        """The gentlest clear tube of two bends; None: none is found."""
        return self._laid(self._search.two_bends())

    def over_corners(self) -> Laid:
        """The clear tube with the fewest bends, then the least turn, of more than two bends.

        Raises ClearanceError where none is found.
        """
        laid = self._laid(self._over_one() or self._over_more())
        if laid is None:
            raise self._no_way()
        return laid

    def _laid(self, corners: Corners | None) -> Laid | None:
        return None if corners is None else tube_between(self.start, self.end, self.bending, corners)

    def _over_one(self) -> Corners | None:
        search = self._search
        for _ in range(ROUNDS):
            found = search.round_one(self._aims(search.known))
            if found is not None:
                return found
            if not search.hit:
                break
            search.known += search.hit[:ADDED]
        return None

    def _over_more(self) -> Corners | None:
        """A way grown from both ports, over as few corners and as gently as it can be made."""
        grown = grown_way(self._search.ends, self.around.keepout)
        self._tried = grown.drawn
        return None if grown.corners is None else self._search.shortened(grown.corners)

    def _aims(self, chosen: Sequence[int]) -> list[Vector]:
        hazards: list[Hazard] = [self.around.hazards[k] for k in chosen]
        ends, tube_mm = self._search.ends, self.around.tube_radius_mm
        return in_reach([aim for h in hazards for aim in aims_round(h.solid, h.clearance_mm + tube_mm, ends)], ends)

    def _no_way(self) -> ClearanceError:
        """The error that names what stands in the way of the best try, and by how much."""
        which, missing_mm = direct = self._wrong[0]
        search = self._search
        if search.missed_over and search.missed_mm < missing_mm:
            which, missing_mm = search.wrong_with(search.missed_over)[0]
        best = "the direct tube" if (which, missing_mm) == direct else "the best way found round it"
        best += f" ({self._tried:,} corners were tried)"
        return blocked(tube_name(self.start, self.end), self.around.hazards[which], missing_mm, best, REMEDY)


def with_set_bends(start: PortAt, end: PortAt, bending: Bending, around: Around) -> Laid | None:
    """The gentlest clear tube of two bends that can both be set; None: there is none."""
    corners = Search(ends_of(start, end, bending), around.keepout).two_bends()
    return None if corners is None else tube_between(start, end, bending, corners)


def ends_of(start: PortAt, end: PortAt, bending: Bending) -> Ends:
    """Two ports with the least straights that every tube between them must keep."""
    least = (max(start.hold_mm, bending.grip_mm), bending.grip_mm, max(end.hold_mm, bending.grip_mm))
    return Ends(start.datum_mm, start.heading, end.datum_mm, end.heading, least, bending.radius_mm)
