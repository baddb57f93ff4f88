"""The order of work at the bench, only the steps that this plan needs, and what to take care of."""

from __future__ import annotations

import math
from collections.abc import Sequence

from tubing.pieces.blanks import Piece
from tubing.pieces.sawn import SawnBlank
from tubing.plan import Plan
from tubing.sheet.cutting import bends_known
from tubing.sheet.driving import crank_hand
from tubing.sheet.records import Lines, Show
from tubing.sheet.words import DEAD_END, angle_text, counted, end_text, length_text, listed, short_length
from tubing.units import deg, mm

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


def order_of_work(plan: Plan, show: Show) -> Lines:
    """Every step from the stock to the wet screen, in order."""
    steps = [*_tubes(plan, show), *_vehicle(plan, show), *_running(plan, show)]
    return Lines("Order of work", tuple(steps), numbered=True)


def cautions() -> Lines:
    """What every job has to take care of."""
    return Lines("Take care", CAUTIONS)


def _tubes(plan: Plan, show: Show) -> list[str]:
    """From the stock to finished pieces."""
    pieces = plan.pieces
    bars = counted(plan.nest.bar_count, "bar")
    bent = [piece for piece in pieces if piece.bends]
    marked = [piece for piece in bent if bends_known(piece)]
    done = {cut.piece for cut in plan.cuts}
    doubtful = [piece for piece in pieces if piece.id not in done and _in_place(plan, piece)]
    steps = [
        f"Check the stock: {bars} as listed, the right size, straight, clean inside.",
        f"Cut {counted(len(pieces) - len(done), 'blank')} by the saw lists and write on each what it is.",
        "Deburr every end inside and out, and blow through.",
    ]
    if doubtful:
        over = listed([f"{p.id} by {length_text(plan.tolerances[p.id].worst_mm, show)}" for p in doubtful])
        steps[1:1] = [
            "Measure again what matters most by the list of lengths. Where that settles nothing, leave the blank over "
            f"length ({over}), and before its second flare seat the first, lay it in place, and cut the second end "
            "where its groove asks for it."
        ]
    if marked:
        steps.append(
            f"Before flaring, mark on {_ids(marked)}: the start and end of each bend, and the line along the tube."
        )
    first, second = _flaring_order(plan.sawn)
    if first:
        steps.append(f"First flare: {_flares(first)}.")
    if bent:
        radius = short_length(mm(plan.job.former.radius), show)
        each = listed([f"{piece.id} ({counted(len(piece.bends), 'bend')})" for piece in bent])
        steps.append(f"Bend on the former of {radius} radius: {each}.")
    nuts = [piece for piece, end in second if piece.ends[end].nut]
    if nuts:
        steps.append(f"Thread the nut on {_ids(nuts)}, its thread towards the open end, before the second flare.")
    if second:
        steps.append(f"Second flare: {_flares(second)}.")
    if bent:
        rims = listed([f"{piece.id} {length_text(piece.rim_to_rim_mm, show)}" for piece in bent])
        steps.append(f"Check straight from rim to rim with a tape: {rims}.")
    return steps


def _in_place(plan: Plan, piece: Piece) -> bool:
    """Whether a piece is to be marked in place."""
    tolerance = plan.tolerances.get(piece.id)
    return tolerance is not None and tolerance.mark_in_place


def _flaring_order(blanks: Sequence[SawnBlank]) -> tuple[list[tuple[Piece, int]], list[tuple[Piece, int]]]:
    """Which end of each piece is flared first, and which second: one with a nut always last."""
    first: list[tuple[Piece, int]] = []
    second: list[tuple[Piece, int]] = []
    for blank in blanks:
        piece = blank.piece
        ends = [k for k in (0, 1) if piece.ends[k].flare != "plain" and not blank.ready[k]]
        ends.sort(key=lambda k: piece.ends[k].nut)
        # The nut goes on from an end, and comes on when the bends are made: so it has the second flare.
        early = [k for k in ends[:1] if not piece.ends[k].nut]
        first += [(piece, k) for k in early]
        second += [(piece, k) for k in ends if k not in early]
    return first, second


def _flares(ends: Sequence[tuple[Piece, int]]) -> str:
    return listed([f"{piece.id} at {_port(piece, end)} ({end_text(piece.ends[end])})" for piece, end in ends])


def _port(piece: Piece, end: int) -> str:
    return (piece.tube.start, piece.tube.end)[end].name


def _ids(pieces: Sequence[Piece]) -> str:
    return listed([piece.id for piece in pieces])


def _vehicle(plan: Plan, show: Show) -> list[str]:
    """From finished pieces to a rack that runs by hand."""
    boxes = [box.name for box in plan.run.boxes]
    rack = plan.drive.rack
    threaded = ["motor"]
    for piece, name in zip(plan.pieces, [*(f"box {name}" for name in boxes), "end"], strict=True):
        threaded += [piece.id] if name == "end" else [piece.id, name]
    steps = [
        f"Drill and file {counted(len(boxes), 'hole')} by the list of holes, paint the bare edges, and fit "
        f"{counted(len(boxes), 'wheelbox', 'wheelboxes')} and motor loosely.",
        f"Cut the rack to {length_text(rack.to_gap_mm, show)} from its fixed end, in the gap after tooth "
        f"{rack.teeth}; dress the end so that it cannot catch.",
        "Blow every tube through once more and grease the rack.",
        f"Thread tubes and boxes on the rack in order from the motor: {', '.join(threaded)}.",
    ]
    pulled = [
        f"{piece.id} by {length_text(piece.pull_in.distance_mm, show)} and "
        f"{angle_text(math.degrees(piece.pull_in.angle_rad))}"
        for piece in plan.pieces
        if piece.pull_in.noticed
    ]
    if pulled:
        steps.append(f"Pull into place by hand, never with the nuts: {listed(pulled)}.")
    held = f", and fit {counted(len(plan.clips), 'clip')} by the list" if plan.clips else ""
    steps.append(f"Seat every flare in its groove, close the boxes, tighten boxes, motor and nut{held}.")
    past_mm = rack.past_end_face_mm
    where = f" Pulled in, it ends {length_text(past_mm, show)} past the last box's end face." if past_mm > 0 else ""
    stroke = length_text(plan.drive.stroke_mm, show)
    steps.append(
        f"Before the arms go on, pull the rack by hand through its whole stroke of {stroke}: it must run free, "
        f"without a tight spot.{where}"
    )
    return steps


def _running(plan: Plan, show: Show) -> list[str]:
    """From the end stop to the water test."""
    at_park = DEAD_END[plan.drive.park.at]
    return [
        "Fit the end stop on the tail tube.",
        f"Connect the battery, run the motor without arms and let it stop at park: rack {at_park}.",
        _arms_on(plan),
        "Turn the motor once round by hand or in short bursts: blades must clear the edge of the glass and each other.",
        "Water test: run it wet at every speed, then look for leaks at the bushes and tighten once more.",
    ]


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
