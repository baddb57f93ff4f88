"""The order of work in words: each operation of the plan, like ones together, and what to take care of.

What has to be done, and what before what, is decided in ``tubing.bench_work``; here it is only said.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

from tubing.bench_work.order import Step
from tubing.bench_work.records import Does
from tubing.plan import Plan
from tubing.sheet.driving import crank_hand
from tubing.sheet.records import Lines, Show
from tubing.sheet.words import DEAD_END, angle_text, counted, end_text, length_text, listed, short_length
from tubing.units import deg, mm

Sayer = Callable[[Sequence[Step]], str]

CAUTIONS = (
    "Cut and flared ends are sharp. Deburr before you handle the tube; keep filings and grinding dust out of the bore "
    "and off the rack.",
    "Wear eye protection for cutting, grinding, drilling and blowing through, and point the open end away from people.",
    "Before you drill, look at what lies behind the panel: wiring, pipes, glass.",
    "Disconnect the battery while you work on rack, boxes or arms. With it connected keep hands, hair and clothes "
    "away: a parked wiper may start by itself.",
    "Lengths are only as good as the measured positions. Cut and try the first piece before you cut the rest.",
    "Wipers and the driver's view are a matter of law and of roadworthiness. This sheet approves nothing: follow the "
    "local rules, have the vehicle inspected where they ask for it, and leave to licensed people what is theirs.",
)


ON_THE_VEHICLE = frozenset(list(Does)[list(Does).index(Does.RACK) :])
"""What is done once every piece is finished: from the rack to the wet screen."""


def order_of_work(plan: Plan, show: Show) -> tuple[Lines, Lines]:
    """Every step in order: from the stock to the finished pieces, and from the rack to the wet screen.

    The second list goes on counting where the first ends.
    """
    words, steps = Words(plan, show), together(plan.work)
    said = [words.said(same) for same in steps]
    first = next(k for k, same in enumerate(steps) if same[0].does in ON_THE_VEHICLE)
    return (
        Lines("Order of work", tuple(said[:first]), first=1),
        Lines("Fitting on the vehicle", tuple(said[first:]), first=first + 1),
    )


def together(steps: Sequence[Step]) -> list[list[Step]]:
    """Steps that follow each other and do the same, as one."""
    return [list(same) for _, same in itertools.groupby(steps, key=lambda step: step.does)]


def cautions() -> Lines:
    """What every job has to take care of."""
    return Lines("Take care", CAUTIONS)


class Words:
    """What is said of the steps of one plan."""

    def __init__(self, plan: Plan, show: Show) -> None:
        self.plan, self.show = plan, show
        self.blanks = {blank.piece.id: blank for blank in plan.sawn}
        self.sayers = {**self._at_the_bench(), **self._on_the_vehicle()}

    def _at_the_bench(self) -> dict[Does, Sayer]:
        return {
            Does.STOCK: self._stock,
            Does.SAW: self._saw,
            Does.DEBURR: self._deburr,
            Does.MARK: lambda steps: f"Mark each bend's start and end, and the line along the tube: {_things(steps)}.",
            Does.FIRST_FLARE: lambda steps: f"First flare: {self._flares(steps)}.",
            Does.BEND: self._bend,
            Does.LAY: self._lay,
            Does.TRIM: self._trim,
            Does.DRESS: lambda steps: f"Deburr the trimmed {_ends(steps)} of {_things(steps)}, and blow through.",
            Does.NUT: lambda steps: (
                f"Put the nut on {_things(steps)}, its thread towards the open end, before that end is flared."
            ),
            Does.LAST_FLARE: lambda steps: f"Last flare: {self._flares(steps)}.",
            Does.MEASURE: self._measure,
        }

    def _on_the_vehicle(self) -> dict[Does, Sayer]:
        plan = self.plan
        return {
            Does.DRILL: self._drill,
            Does.FIX: lambda steps: f"Fix {_things(steps)} where they are to stay.",
            Does.RACK: self._rack,
            Does.GREASE: lambda steps: "Blow every tube through once more and grease the rack.",
            Does.THREAD: self._thread,
            Does.SEAT: lambda steps: "Seat every flare in its groove, close the boxes, tighten boxes, motor and nut.",
            Does.CLIP: lambda steps: f"Fit {counted(len(plan.clips), 'clip')} by the list.",
            Does.PULL: self._pull,
            Does.STOP: lambda steps: "Fit the end stop on the tail tube.",
            Does.PARK: lambda steps: (
                "Connect the battery, run the motor without arms and let it stop at park: rack "
                f"{DEAD_END[plan.drive.park.at]}."
            ),
            Does.ARMS: lambda steps: _arms_on(plan),
            Does.TURN: lambda steps: (
                "Turn the motor once round by hand or in short bursts: blades must clear the edge of the glass and "
                "each other."
            ),
            Does.WATER: lambda steps: (
                "Water test: run it wet at every speed, then look for leaks at the bushes and tighten once more."
            ),
        }

    def said(self, steps: Sequence[Step]) -> str:
        """One sentence or two for steps that do the same."""
        return self.sayers[steps[0].does](steps)

    def _stock(self, steps: Sequence[Step]) -> str:
        bars = counted(self.plan.nest.bar_count, "bar")
        return f"Check the stock: {bars} as listed, the right size, straight, clean inside."

    def _drill(self, steps: Sequence[Step]) -> str:
        holes = counted(len(steps), "hole")
        return f"Drill and file {holes} by the list ({_things(steps)}); paint the bare edges."

    def _saw(self, steps: Sequence[Step]) -> str:
        return f"Saw {counted(len(steps), 'blank')} by the saw list, and write on each what it is."

    def _deburr(self, steps: Sequence[Step]) -> str:
        which = "every sawn end" if len(steps) == len(self.blanks) else f"the ends of {_things(steps)}"
        return f"Deburr {which} inside and out; blow through."

    def _flares(self, steps: Sequence[Step]) -> str:
        said = []
        for step in steps:
            piece = self.blanks[step.thing].piece
            end = piece.ends[piece.tube.ports.index(step.at)]
            said.append(f"{step.thing} at {step.at} ({end_text(end)})")
        return listed(said)

    def _bend(self, steps: Sequence[Step]) -> str:
        radius = short_length(mm(self.plan.job.former.radius), self.show)
        each = [f"{step.thing} ({counted(len(self.blanks[step.thing].piece.bends), 'bend')})" for step in steps]
        by_wire = [step.thing for step in steps if not self.blanks[step.thing].piece.bends_known]
        places = f" Of {listed(by_wire)} bend where the wire bent." if by_wire else ""
        return f"Bend on the former of {radius} radius: {listed(each)}.{places}"

    def _lay(self, steps: Sequence[Step]) -> str:
        said = []
        for step in steps:
            start, end = self.blanks[step.thing].piece.tube.ports
            if step.at:
                seated = end if step.at == start else start
                where = "the nose's seat" if step.at == "nose" else f"the middle of {step.at}'s groove"
                said.append(
                    f"Lay {step.thing} in place, seated at {seated}, its long end beside its seat; mark it at {where}."
                )
            else:
                said.append(
                    f"Lay {step.thing} in place, seated at {start}, before the hole for {end} is drilled: mark that "
                    "hole where the piece brings its groove."
                )
        return " ".join(said)

    def _trim(self, steps: Sequence[Step]) -> str:
        each = []
        for step in steps:
            piece = self.blanks[step.thing].piece
            end = piece.ends[piece.tube.ports.index(step.at)]
            beyond = length_text(end.seat_mm + end.consumed_mm, self.show)
            each.append(f"{step.thing} {beyond} beyond its mark at {step.at}")
        return f"Trim what was left over length (what the flare takes is allowed for): {listed(each)}."

    def _measure(self, steps: Sequence[Step]) -> str:
        rims = [f"{step.thing} {length_text(self.blanks[step.thing].piece.rim_to_rim_mm, self.show)}" for step in steps]
        trimmed = any(self.blanks[step.thing].over_end is not None for step in steps)
        change = " A trimmed piece may differ by as much as its trim did." if trimmed else ""
        return f"Check straight from rim to rim with a tape: {listed(rims)}.{change}"

    def _rack(self, steps: Sequence[Step]) -> str:
        rack = self.plan.drive.rack
        return (
            f"Cut the rack to {length_text(rack.to_gap_mm, self.show)} from its fixed end, in the gap after tooth "
            f"{rack.teeth}; dress the end so that it cannot catch."
        )

    def _thread(self, steps: Sequence[Step]) -> str:
        in_turn = ["motor"]
        for piece, box in itertools.zip_longest(self.plan.pieces, self.plan.run.boxes):
            in_turn += [piece.id] if box is None else [piece.id, f"box {box.name}"]
        pulled = [
            f"{piece.id} by {length_text(piece.pull_in.distance_mm, self.show)} and "
            f"{angle_text(math.degrees(piece.pull_in.angle_rad))}"
            for piece in self.plan.pieces
            if piece.pull_in.noticed
        ]
        by_hand = f" Pull into place by hand, never with the nuts: {listed(pulled)}." if pulled else ""
        return (
            f"Thread the tubes on the rack in order from the motor: {', '.join(in_turn)}. Take a box off its hole "
            f"where it has to come on with them.{by_hand}"
        )

    def _pull(self, steps: Sequence[Step]) -> str:
        past_mm = self.plan.drive.rack.past_end_face_mm
        past = length_text(past_mm, self.show)
        where = f" Pulled in, it ends {past} past the last box's end face." if past_mm > 0 else ""
        return (
            "Before the arms go on, pull the rack by hand through its whole stroke of "
            f"{length_text(self.plan.drive.stroke_mm, self.show)}: it must run free, without a tight spot.{where}"
        )


def _things(steps: Sequence[Step]) -> str:
    return listed([step.thing for step in steps])


def _ends(steps: Sequence[Step]) -> str:
    return "end" if len(steps) == 1 else "ends"


def _arms_on(plan: Plan) -> str:
    """How the arms go on: as the job cranks them; where it says nothing, as arms that stop above the lower edge."""
    cranks_deg = {arm.on: deg(arm.crank) for arm in plan.job.arms}
    unknown = [arm for arm in plan.drive.park.arms if arm.name not in cranks_deg]
    if len({arm.crank_hand for arm in unknown}) == 1:
        hands = f"cranks to the {unknown[0].crank_hand}"
    else:
        hands = listed([f"{arm.name} cranked to the {arm.crank_hand}" for arm in unknown])
    alike: dict[str, list[str]] = {}
    for arm in plan.drive.park.arms:
        if arm.name in cranks_deg:
            crank_deg = cranks_deg[arm.name]
            words = f"cranked {angle_text(abs(crank_deg))} to the {crank_hand(crank_deg, arm.parks)}"
            alike.setdefault(words if crank_deg else "straight", []).append(arm.name)
    if not alike:
        return f"Put the arms on at park, blades along the edge of the glass, {hands}."
    known = listed([f"{listed(names)} {words}" for words, names in alike.items()])
    rest = f"; {listed([arm.name for arm in unknown])} along the edge of the glass, {hands}" if unknown else ""
    return (
        f"Put the arms on at park as the job has them: {known}{rest}. A blade parks along the edge of the glass only "
        "where its arm is cranked to suit."
    )
