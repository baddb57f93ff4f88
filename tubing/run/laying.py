"""Each tube laid between its ports as the job asks: measured, over corners, or the shortest way clear of all."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from tubing.centreline.between import Bending, Laid, PortAt, tube_between
from tubing.errors import GeometryError
from tubing.flares import USUAL, where_is
from tubing.geometry.many import Look, Rules, quick_look
from tubing.geometry.vectors import Vector
from tubing.job.records import Flare, Job, Mounting, Shop, TubeBetween
from tubing.run.in_the_way import blocked, bodies_of, check_port, surroundings
from tubing.run.placing import PlacedBox, box_port, nose_port
from tubing.run.records import Measured, RunTube
from tubing.run.tail import tail_tube
from tubing.units import mm, rad

TailLength = Callable[[Mounting, Mounting], float]  # of the first and the last wheelbox, [mm]


class Layer:
    """Lays the tubes of one job, and remembers what it has laid."""

    def __init__(self, job: Job, shop: Shop, names: Sequence[str], tail_length_mm: TailLength) -> None:
        self.job, self.bench, self.tail_length_mm = job, shop.bench, tail_length_mm
        self.bending = bending_of(job, shop)
        self.around = surroundings(job, shop, bodies_of(job.mountings, names, shop))
        self._laid: dict[tuple[object, ...], RunTube | GeometryError] = {}

    def tube(self, before: PlacedBox | None, after: PlacedBox) -> RunTube | GeometryError:
        """The tube into a box from the box before it; None: from the nose."""
        return self._remembered((before, after), lambda: self._lay(before, after))

    def tail(self, first: PlacedBox, last: PlacedBox) -> RunTube | GeometryError:
        """The tail tube behind the last box."""
        return self._remembered((first.mounting, last, "end"), lambda: self._lay_tail(first, last))

    def _remembered(self, key: tuple[object, ...], lay: Callable[[], RunTube]) -> RunTube | GeometryError:
        known = self._laid.get(key)
        if known is None:
            try:
                known = lay()
            except GeometryError as error:
                known = error
            self._laid[key] = known
        return known

    def looks(self, befores: Sequence[PlacedBox | None], afters: Sequence[PlacedBox]) -> list[list[Look | None]]:
        """What each pair would cost; at least, where something is in the way; exactly, where the job says how."""
        start_name, end_name = befores[0].name if befores[0] else "nose", afters[0].name
        said = self._said(start_name, end_name)
        if said is not None and (said.corners_mm or said.measured is not None):
            return [[_look_of(self.tube(b, a)) for a in afters] for b in befores]
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
        )
        return quick_look([(s.datum_mm, s.heading) for s in starts], [(e.datum_mm, e.heading) for e in ends], rules)

    def nose(self, first_box: str) -> PortAt:
        """The motor's nose as a port."""
        return nose_port(self.job.nose, self.bench, self._flare("nose", first_box, at_start=True))

    def _start(self, before: PlacedBox | None, end_name: str) -> PortAt:
        if before is None:
            return self.nose(end_name)
        return box_port(before, self.bench, self._flare(before.name, end_name, at_start=True), out=True)

    def _end(self, start_name: str, after: PlacedBox) -> PortAt:
        return box_port(after, self.bench, self._flare(start_name, after.name, at_start=False), out=False)

    def _lay(self, before: PlacedBox | None, after: PlacedBox) -> RunTube:
        start_name = before.name if before else "nose"
        flares = self._flare(start_name, after.name, True), self._flare(start_name, after.name, False)
        start, end = self._start(before, after.name), self._end(start_name, after)
        said = self._said(start_name, after.name)
        if said and said.measured is not None:
            inside_mm = _mouth_to_groove_mm(after.mounting) + (_mouth_to_groove_mm(before.mounting) if before else 0.0)
            measured = Measured(mm(said.measured) + inside_mm, tuple(rad(b) for b in said.bends))
            return RunTube(start, end, flares, measured)
        corners = said.corners_mm if said else ()
        around = self.around.between(start.name, end.name)
        if not around.hazards:
            return RunTube(start, end, flares, tube_between(start, end, self.bending, corners))
        check_port(start, True, around)
        check_port(end, False, around)
        direct = self._direct(start, end, corners)
        if direct is not None and not around.entered(direct):
            return RunTube(start, end, flares, direct)
        from tubing.run.detour import clear_tube  # only where something is in the way: it takes time to load

        return RunTube(start, end, flares, clear_tube(start, end, self.bending, around, corners))

    def _direct(self, start: PortAt, end: PortAt, corners: Sequence[Vector]) -> Laid | None:
        """The tube as it would lie with nothing in the way; None: there is none."""
        try:
            return tube_between(start, end, self.bending, corners)
        except GeometryError:
            return None

    def _lay_tail(self, first: PlacedBox, last: PlacedBox) -> RunTube:
        flares = self._flare(last.name, "end", True), self._flare(last.name, "end", False)
        port = box_port(last, self.bench, flares[0], out=True)
        length_mm = self.tail_length_mm(first.mounting, last.mounting)
        laid = tail_tube(port, self.job.tail, length_mm, self.bending)
        around = self.around.between(last.name, "end")
        wrong = around.entered(laid) if around.hazards else []
        if wrong:
            remedy = "turn the tail with [tail], turn the box's heading"
            raise blocked("tail tube", around.hazards[wrong[0][0]], wrong[0][1], "the tail tube", remedy)
        end = PortAt("end", laid.line.points_mm[-1], laid.line.directions[-1], 0.0)
        return RunTube(port, end, flares, laid)

    def _said(self, start: str, end: str) -> TubeBetween | None:
        """What the job says of a tube."""
        return next((t for t in self.job.between if (t.start, t.end) == (start, end)), None)

    def _flare(self, start: str, end: str, at_start: bool) -> Flare:
        said = self._said(start, end)
        asked = (said.start_flare if at_start else said.end_flare) if said else None
        return asked or USUAL[where_is(start if at_start else end)]


def bending_of(job: Job, shop: Shop) -> Bending:
    """What the job's former and the shop's fit-up ask of every tube."""
    bench = shop.bench
    return Bending(mm(job.former.radius), mm(job.former.grip), mm(bench.fit_up_distance), rad(bench.fit_up_angle))


def _look_of(tube: RunTube | GeometryError) -> Look | None:
    if isinstance(tube, GeometryError):
        return None
    cost = tube.cost
    return Look(cost.bends, cost.turn_rad, cost.length_mm)


def _mouth_to_groove_mm(mounting: Mounting) -> float:
    return mm(mounting.model.mouth_offset) - mm(mounting.model.groove_offset)
