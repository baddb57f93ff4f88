"""Each tube laid between its ports as the job asks: measured, over corners, or the shortest way clear of all."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from tubing.centreline.between import Bending, Laid, PortAt, tube_between, tube_name
from tubing.errors import ClearanceError, GeometryError
from tubing.flares import USUAL, where_is
from tubing.geometry.bends import LEAST_BEND_RAD
from tubing.geometry.quick_look import Look, Looks, Rules
from tubing.geometry.vectors import distance_mm
from tubing.inputs.records import Flare, Job, Mounting, Shop, TubeBetween
from tubing.run.crowding import crowded, crowded_error
from tubing.run.hazards import (
    Surroundings,
    blocked,
    bodies_of,
    bodies_placed,
    check_port,
    clear_direct,
    surroundings,
)
from tubing.run.placing import PlacedBox, box_hold_mm, box_port, nose_hold_mm, nose_port
from tubing.run.records import Measured, RunTube
from tubing.run.tail_tubes import clear_tail, tail_tube
from tubing.springback import as_bent_mm
from tubing.units import mm, rad

if TYPE_CHECKING:
    from tubing.run.detour import Detour

TailLength = Callable[[Mounting, Mounting], float]  # of the first and the last wheelbox, [mm]
Outcome = RunTube | GeometryError | None  # None: the ways looked at so far are not clear


class Layer:
    """Lays the tubes of one job, and remembers what it has laid."""

    def __init__(self, job: Job, shop: Shop, names: Sequence[str], tail_length_mm: TailLength) -> None:
        self.job, self.shop, self.bench, self.tail_length_mm = job, shop, shop.bench, tail_length_mm
        self.bending = bending_of(job, shop)
        self.around = surroundings(job, shop, bodies_of(job.mountings, names, shop))
        self._known: dict[tuple[object, ...], Outcome] = {}
        self._holds: dict[tuple[str, str, bool], float] = {}
        self._detours: dict[tuple[object, ...], Detour] = {}

    def tube(self, before: PlacedBox | None, after: PlacedBox) -> RunTube | GeometryError:
        """The tube into a box from the box before it, led round what is in its way; None: from the nose."""
        found = self.direct(before, after) or self.of_two_bends(before, after)
        if found is None:
            found = self._remembered("over corners", before, after, lambda: self._detour(before, after).over_corners())
        assert found is not None
        return found

    def direct(self, before: PlacedBox | None, after: PlacedBox) -> Outcome:
        """The tube as the job asks for it, or as it lies with nothing in its way; None: it is not clear."""
        return self._remembered("direct", before, after, lambda: self._lay_direct(before, after))

    def of_two_bends(self, before: PlacedBox | None, after: PlacedBox) -> Outcome:
        """The gentlest clear tube of two bends, where the direct tube is not clear; None: there is none."""
        return self._remembered("two bends", before, after, lambda: self._detour(before, after).of_two_bends())

    def direct_tail(self, first: PlacedBox, last: PlacedBox) -> Outcome:
        """The tail tube behind the last box, as the job asks for it; None: it is not clear."""
        return self._remembered(f"direct tail, {first.name} first", last, None, lambda: self._lay_tail(first, last))

    def tail(self, first: PlacedBox, last: PlacedBox) -> RunTube | GeometryError:
        """The tail tube behind the last box, led round what is in its way."""
        found = self.direct_tail(first, last)
        if found is None:
            how = f"tail, {first.name} first"
            found = self._remembered(how, last, None, lambda: self._lay_tail(first, last, lead=True))
        assert found is not None
        return found

    def _remembered(
        self,
        how: str,
        before: PlacedBox | None,
        after: PlacedBox | None,
        lay: Callable[[], RunTube | Laid | None],
    ) -> Outcome:
        key = (how, *((box.name, box.heading, box.side) if box else None for box in (before, after)))
        if key not in self._known:
            try:
                found = lay()
                if isinstance(found, Laid):
                    assert after is not None
                    found = RunTube(*self._ports(before, after), self._flares(before, after), found)
                self._known[key] = found
            except GeometryError as error:
                self._known[key] = error
        return self._known[key]

    def too_near(self, boxes: Sequence[PlacedBox], tubes: Sequence[RunTube]) -> tuple[int, ClearanceError] | None:
        """The first tube that enters a body or comes too near to its own run, and its error.

        Looked at: the bodies of wheelboxes whose heading was free while the tube was laid, and what lies at its ends.
        """
        free = [box for box in boxes if box.mounting.heading is None]
        placed = Surroundings(tuple(bodies_placed(free, self.shop)), self.around.tube_radius_mm)
        for k, tube in enumerate(tubes):
            around = placed.between(*tube.ports)
            wrong = around.entered(tube.shape) if around.hazards and isinstance(tube.shape, Laid) else []
            if wrong:
                remedy = "give the box's heading, name corners for this tube"
                which, missing_mm = wrong[0]
                return k, blocked(f"tube {tube.id}", around.hazards[which], missing_mm, "the tube", remedy)
        found = crowded(tubes, boxes, self.around.tube_radius_mm, mm(self.bench.clearance))
        return None if found is None else (found.tube, crowded_error(tubes[found.tube].id, found))

    def looks(
        self, befores: Sequence[PlacedBox | None], afters: Sequence[PlacedBox], most_rad: float = math.pi / 2
    ) -> Looks:
        """What each pair would cost; at least, where something is in the way; exactly, where the job says how.

        ``most_rad``: of a bend.
        """
        start_name, end_name = _name(befores[0]), afters[0].name
        said = self._said(start_name, end_name)
        if said is not None and (said.corners_mm or said.measured is not None):
            return Looks.known([[_look_of(self.tube(b, a)) for a in afters] for b in befores])
        starts = [self._start(before, end_name) for before in befores]
        ends = [self._end(start_name, after) for after in afters]
        bending = self.bending
        rules = Rules(
            bending.radius_mm,
            starts[0].hold_mm,
            bending.grip_mm,
            ends[0].hold_mm,
            bending.fit_up_mm,
            bending.fit_up_rad,
            most_rad,
        )
        return Looks([(s.datum_mm, s.heading) for s in starts], [(e.datum_mm, e.heading) for e in ends], rules)

    def entering(self, looks: Looks, names: tuple[str, str], pairs: Sequence[tuple[int, int]]) -> list[bool]:
        """For each pair looked at whether its tube surely comes too near to something; False: it is not known."""
        around = self.around.between(*names)
        return looks.entering(pairs, around.keepout) if around.hazards else [False] * len(pairs)

    def straight_mm(self, start: str, end: str) -> float:
        """The least length of a straight tube between two ports, [mm]."""
        return self._hold_mm(start, end, at_start=True) + self._hold_mm(start, end, at_start=False)

    def nose(self, first_box: str) -> PortAt:
        """The motor's nose as a port."""
        return nose_port(self.job.nose, self._hold_mm("nose", first_box, at_start=True))

    def _start(self, before: PlacedBox | None, end_name: str) -> PortAt:
        if before is None:
            return self.nose(end_name)
        return box_port(before, self._hold_mm(before.name, end_name, at_start=True), out=True)

    def _end(self, start_name: str, after: PlacedBox) -> PortAt:
        return box_port(after, self._hold_mm(start_name, after.name, at_start=False), out=False)

    def _ports(self, before: PlacedBox | None, after: PlacedBox) -> tuple[PortAt, PortAt]:
        return self._start(before, after.name), self._end(_name(before), after)

    def _hold_mm(self, start: str, end: str, at_start: bool) -> float:
        """Straight tube that flare, nut and box need at one end of a tube."""
        key = (start, end, at_start)
        if key not in self._holds:
            name, flare = start if at_start else end, self._flare(start, end, at_start)
            self._holds[key] = (
                nose_hold_mm(self.job.nose, self.bench, flare)
                if name == "nose"
                else box_hold_mm(self.job.mountings[name], self.bench, flare)
            )
        return self._holds[key]

    def _lay_direct(self, before: PlacedBox | None, after: PlacedBox) -> RunTube | None:
        start, end = self._ports(before, after)
        flares = self._flares(before, after)
        said = self._said(start.name, end.name)
        if said and said.measured is not None:
            inside_mm = mm(after.mounting.model.holds) + (mm(before.mounting.model.holds) if before else 0.0)
            measured = Measured(mm(said.measured) + inside_mm, tuple(rad(b) for b in said.bends or ()))
            _check_wire(start, end, measured, self.bending.fit_up_mm)
            return RunTube(start, end, flares, measured)
        corners = said.corners_mm if said else ()
        around = self.around.between(start.name, end.name)
        if around.hazards:
            check_port(start, True, around)
            check_port(end, False, around)
        laid = clear_direct(start, end, self.bending, around, corners)
        if laid is not None and not corners and any(b.angle_rad < LEAST_BEND_RAD for b in laid.line.bends):
            from tubing.run.detour import with_set_bends

            laid = with_set_bends(start, end, self.bending, around) or laid
        return None if laid is None else RunTube(start, end, flares, laid)

    def _detour(self, before: PlacedBox | None, after: PlacedBox) -> Detour:
        """The search for ways round between two ports."""
        from tubing.run.detour import Detour  # only where something is in the way: it takes time to load

        start, end = self._ports(before, after)
        key = (start, end)
        if key not in self._detours:
            direct = tube_between(start, end, self.bending)
            around = self.around.between(start.name, end.name)
            self._detours[key] = Detour(start, end, self.bending, around, direct)
        return self._detours[key]

    def _lay_tail(self, first: PlacedBox, last: PlacedBox, lead: bool = False) -> RunTube | None:
        flares = self._flare(last.name, "end", True), self._flare(last.name, "end", False)
        port = box_port(last, self._hold_mm(last.name, "end", at_start=True), out=True)
        length_mm = self.tail_length_mm(first.mounting, last.mounting)
        around = self.around.between(last.name, "end")
        if around.hazards:
            check_port(port, True, around)
        if lead:
            laid = clear_tail(port, self.job.tail, length_mm, self.bending, around)
        else:
            laid = tail_tube(port, self.job.tail, length_mm, self.bending)
            if around.hazards and around.entered(laid):
                return None
        end = PortAt("end", laid.line.points_mm[-1], laid.line.directions[-1], 0.0)
        return RunTube(port, end, flares, laid)

    def _said(self, start: str, end: str) -> TubeBetween | None:
        """What the job says of a tube."""
        return next((t for t in self.job.between if (t.start, t.end) == (start, end)), None)

    def _flares(self, before: PlacedBox | None, after: PlacedBox) -> tuple[Flare, Flare]:
        names = _name(before), after.name
        return self._flare(*names, at_start=True), self._flare(*names, at_start=False)

    def _flare(self, start: str, end: str, at_start: bool) -> Flare:
        said = self._said(start, end)
        asked = (said.ends.start if at_start else said.ends.end) if said else None
        return asked or USUAL[where_is(start if at_start else end)]


def bending_of(job: Job, shop: Shop) -> Bending:
    """What the job's former and the shop's fit-up ask of every tube; the radius is that of the bend as it stays."""
    bench = shop.bench
    radius_mm = as_bent_mm(job.tube, job.former, shop)
    fit_up = bench.fit_up
    return Bending(radius_mm, mm(job.former.grip), mm(fit_up.distance), rad(fit_up.angle), rad(bench.greatest_bend))


def _name(before: PlacedBox | None) -> str:
    return before.name if before else "nose"


def _look_of(tube: RunTube | GeometryError) -> Look | None:
    if isinstance(tube, GeometryError):
        return None
    cost = tube.cost
    return Look(cost.bends, cost.turn_rad, cost.length_mm)


def _check_wire(start: PortAt, end: PortAt, measured: Measured, slack_mm: float) -> None:
    """Raise GeometryError where the wire is shorter than the straight way between its ports."""
    apart_mm = distance_mm(start.datum_mm, end.datum_mm)
    if measured.length_mm < apart_mm - slack_mm:
        raise GeometryError(
            f"{tube_name(start, end)}, measured",
            f"the wire makes it {measured.length_mm:.1f} mm from groove to groove",
            f"no tube between these ports is shorter than {apart_mm:.1f} mm, the straight way",
            "lay the wire again, or measure the positions again",
        )
