"""Ways over several free corners, as paths through a graph.

Leg:   from one corner to the next, in its direction.  Graph: node.
Bend:  from one leg into the next.                     Graph: edge; so its turn can be charged.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import networkx as nx

from tubing.geometry.bends import arc_mm, tangent_mm
from tubing.geometry.corner_aims import Ends, aims_ahead, clear_legs, clear_points, lead_legs
from tubing.geometry.solids import Keepout
from tubing.geometry.vectors import Vector, add, angle_rad, distance_mm, dot, norm, sub, unit
from tubing.run.records import RunCost

MOST_AIMS = 40  # corners in the graph
SHARPEST_RAD = math.radians(120)  # of a bend at a free corner
START, END = -1, -2


class CornerGraph:
    """Legs between free corners beside hazards, and the bends from one into the next."""

    def __init__(self, ends: Ends, keepout: Keepout, aims_by_hazard: Sequence[Sequence[Vector]]) -> None:
        self.ends = ends
        self.aims = _spread(ends, keepout, aims_by_hazard)
        self._graph = nx.DiGraph()
        self._graph.add_nodes_from(["start", "end"])
        self._add_legs(keepout)
        self._add_bends(keepout)

    def cheapest(self) -> list[Vector] | None:
        """The corners of the cheapest path that has not been given up; None: there is none."""
        try:
            path = nx.shortest_path(self._graph, "start", "end", weight="weight")
        except nx.NetworkXNoPath:
            return None
        return [self.aims[leg[0]] for leg in path[2:-1]]

    def give_up(self, corners: Sequence[Vector]) -> None:
        """Leave out the sharpest bend of a path that cannot be laid, so that the next path is another one."""
        places = [START, *(self.aims.index(c) for c in corners), END]
        legs = list(itertools.pairwise(places))
        bends = list(itertools.pairwise(legs))
        self._graph.remove_edge(*max(bends, key=lambda b: (self._graph.edges[b]["turn_rad"], b)))

    def _add_legs(self, keepout: Keepout) -> None:
        """Nodes: clear legs that lead onwards, with their direction and how much of them bends may take."""
        way = sub(self.ends.end_mm, self.ends.start_mm)
        count = len(self.aims)
        pairs = [
            (i, j)
            for i, j in itertools.permutations(range(count), 2)
            if dot(sub(self.aims[j], self.aims[i]), way) > 0
            and distance_mm(self.aims[i], self.aims[j]) > self.ends.least_mm[1]
        ]
        clear = clear_legs([(self.aims[i], self.aims[j]) for i, j in pairs], keepout)
        for (i, j), free in zip(pairs, clear, strict=True):
            if free:
                step = sub(self.aims[j], self.aims[i])
                self._graph.add_node(
                    (i, j), along=unit(step), room_mm=norm(step) - self.ends.least_mm[1], length_mm=norm(step)
                )
        self._add_leads(keepout, at_start=True)
        self._add_leads(keepout, at_start=False)

    def _add_leads(self, keepout: Keepout, at_start: bool) -> None:
        """Nodes: clear legs between a port and the corners, each after its lead bend, which its edge charges."""
        leads = lead_legs(self.ends, self.aims, at_start)
        found = [(k, lead) for k, lead in enumerate(leads) if lead is not None]
        legs = [
            (self.aims[k], add(self.aims[k], lead.along, -lead.straight_mm if at_start else lead.straight_mm))
            for k, lead in found
        ]
        for (k, lead), free in zip(found, clear_legs(legs, keepout), strict=True):
            if free:
                node = (START, k) if at_start else (k, END)
                self._graph.add_node(node, along=lead.along, room_mm=lead.straight_mm - self.ends.least_mm[1])
                cost = RunCost(int(lead.turn_rad > 1e-9), lead.turn_rad, lead.length_mm)
                edge = ("start", node) if at_start else (node, "end")
                self._graph.add_edge(*edge, weight=cost.weight)

    def _add_bends(self, keepout: Keepout) -> None:
        """Edges: bends that both their legs have room for and that are clear half way round."""
        radius_mm = self.ends.radius_mm
        nodes = self._graph.nodes
        leaving: dict[int, list[tuple[int, int]]] = {}
        legs = [leg for leg in nodes if isinstance(leg, tuple)]
        for leg in legs:
            leaving.setdefault(leg[0], []).append(leg)
        bends = []
        for leg in legs:
            here = nodes[leg]
            for following in leaving.get(leg[1], ()):
                if leg[0] == START and following[1] == END:
                    continue  # over one corner only: these have been looked at
                after = nodes[following]
                turn = angle_rad(here["along"], after["along"])
                if turn <= SHARPEST_RAD and tangent_mm(radius_mm, turn) <= min(here["room_mm"], after["room_mm"]):
                    bends.append((leg, following, turn))
        halfway = [self._halfway(leg, following, turn) for leg, following, turn in bends]
        for (leg, following, turn), free in zip(bends, clear_points(halfway, keepout), strict=True):
            if free:
                length_mm = nodes[following].get("length_mm", 0.0)
                gained_mm = 2 * tangent_mm(radius_mm, turn) - arc_mm(radius_mm, turn)
                cost = RunCost(1, turn, length_mm - gained_mm)
                self._graph.add_edge(leg, following, weight=cost.weight, turn_rad=turn)

    def _halfway(self, leg: tuple[int, int], following: tuple[int, int], turn_rad: float) -> Vector:
        """The middle of the bend's arc, which lies furthest from its corner."""
        inside = sub(self._graph.nodes[following]["along"], self._graph.nodes[leg]["along"])
        if norm(inside) < 1e-9:
            return self.aims[leg[1]]
        return add(self.aims[leg[1]], unit(inside), self.ends.radius_mm * (1 / math.cos(turn_rad / 2) - 1))


def _spread(ends: Ends, keepout: Keepout, aims_by_hazard: Sequence[Sequence[Vector]]) -> list[Vector]:
    """Of each hazard's clear corners those on the shortest ways, no two of them close together."""

    def over_mm(aim: Vector) -> float:
        return distance_mm(ends.start_mm, aim) + distance_mm(aim, ends.end_mm)

    each = max(6, MOST_AIMS // max(1, len(aims_by_hazard)))
    apart_mm = 0.25 * ends.radius_mm
    ahead = aims_ahead(ends)
    kept = [aim for aim, free in zip(ahead, clear_points(ahead, keepout), strict=True) if free]
    for aims in aims_by_hazard:
        clear = [aim for aim, free in zip(aims, clear_points(aims, keepout), strict=True) if free]
        mine: list[Vector] = []
        for aim in sorted(clear, key=over_mm):
            if len(mine) < each and all(distance_mm(aim, k) >= apart_mm for k in (*kept, *mine)):
                mine.append(aim)
        kept += mine
    return kept
