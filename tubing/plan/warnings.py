"""What a plan leaves for the fitter to settle, in his words."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence

from tubing.flares import odd_flare
from tubing.geometry.solids import TurnedBox, overlap_mm
from tubing.geometry.vectors import off_line_mm
from tubing.inputs.records import Job, Shop
from tubing.pieces.as_cut import AsCut, no_longer_ready
from tubing.pieces.blanks import Piece
from tubing.pieces.tolerance import Tolerance
from tubing.run.hairpins import Hairpin
from tubing.run.hazards import body
from tubing.run.records import Measured, Run
from tubing.springback import as_bent_mm, estimated, odd_trial, springback_of, trial_blank_mm, trials_of
from tubing.units import mm, rad, rounded

SLIGHT_BEND_RAD = math.radians(2)  # common practice, no source: a smaller bend vanishes in springback
TRIAL_RAD = math.radians(60)  # a trial bend: far enough to measure, and within reach of any bender
ROUNDING_RAD = math.radians(0.05)  # the last digit that a protractor or the sheet shows
BENT_OFF_RAD = math.radians(0.5)  # a bend that is less off is pulled into place by hand: common practice, no source
BENT_OFF_MM = 2.0  # likewise
SAME_WALL_MM = 0.05  # walls that differ by less are the same: about the tolerance of a tube's wall


def geometry_warnings(run: Run, pieces: Sequence[Piece], shop: Shop) -> list[str]:
    """Headings that were corrected, pieces to pull into place, plain ends in a groove, and sharp bends."""
    said = [
        f"wheelbox {box.name}: its heading was {_deg(box.off_rad)} from perpendicular to the spindle "
        "and was made perpendicular"
        for box in run.boxes
        if box.off_rad
    ]
    said += [
        f"piece {piece.id}: pull it into place by hand: it is {_mm(piece.pull_in.distance_mm)} and "
        f"{_deg(piece.pull_in.angle_rad)} out of line"
        for piece in pieces
        if piece.pull_in.noticed
    ]
    said += [
        f"piece {piece.id}: its end at {port.name} is left plain, and nothing holds it in the groove"
        for piece in pieces
        for port, end in zip((piece.tube.start, piece.tube.end), piece.ends, strict=True)
        if end.flare == "plain" and port.name != "end"
    ]
    said += [
        f"{bend}, more than a right angle; name corners for this tube if there is another way"
        for bend in sharp_bends(pieces, rad(shop.bench.greatest_bend))
    ]
    return said


def hairpin_warnings(found: Sequence[Hairpin], run: Run, shop: Shop) -> list[str]:
    """Bends beyond what the shop's bender reaches, with the heading that forces each and the one that spares it."""
    now = f", not {run.cost.bends} and {_deg(run.cost.turn_rad)}"
    said = []
    for one in found:
        ends = " and ".join(one.piece.split("-"))
        said.append(
            f"piece {one.piece}: bend {one.number} turns {_deg(one.angle_rad)}, and [bench] greatest_bend is "
            f"{_deg(rad(shop.bench.greatest_bend))}; "
            + (f"{one.spared_by}{now}" if one.spared_by else f"no other heading spares it: measure {ends} again")
        )
    return said


def sharp_bends(pieces: Sequence[Piece], most_rad: float = math.pi) -> list[str]:
    """Every bend over a right angle, up to ``most_rad``, in words; a fitter seldom wants one."""
    return [
        f"piece {piece.id}: bend {number} turns {_deg(bend.angle_rad)}"
        for piece in pieces
        for number, bend in enumerate(piece.bends, 1)
        if math.radians(90.5) < bend.angle_rad <= most_rad
    ]


def springback_warnings(pieces: Sequence[Piece], job: Job, shop: Shop) -> list[str]:
    """A pair of tube and former that was never tried, or bends beyond the angles that were."""
    springback, pair = springback_of(job.tube, job.former, shop), f"{job.tube.name} on {job.former.name}"
    bends = [(piece.id, number, bend) for piece in pieces for number, bend in enumerate(piece.bends, 1)]
    if not bends:
        return []
    if springback.tried_rad is None:
        no_row = job.former.name not in shop.catalogue.formers  # described by the job itself
        first = "give the former a row in formers.csv, " if no_row else ""
        piece_mm = trial_blank_mm(as_bent_mm(job.tube, job.former, shop), TRIAL_RAD)
        return [
            f"the springback of {pair} was not tried, and {rounded(100 * springback.proportional, 1)} % is reckoned "
            f"with{_estimate(job)}: bend a trial piece of {piece_mm} mm, set to {_deg(TRIAL_RAD)}, and measure the "
            "angle that stays; "
            f"{first}write both under [[trial_bend]] in the shop file and plan again"
        ]
    least, most = springback.tried_rad
    return [
        f"piece {name}: bend {number}, {_deg(bend.angle_rad)}, lies outside what was tried of {pair}, "
        f"{_deg(least)} to {_deg(most)}: try that angle on a trial piece first"
        for name, number, bend in bends
        if springback.trials > 1 and not least - ROUNDING_RAD <= bend.angle_rad <= most + ROUNDING_RAD
    ]


def _estimate(job: Job) -> str:
    """What the tube's strength says of its springback, where its row bears it."""
    share = estimated(job.tube, job.former)
    return "" if share is None else f", though by strength and modulus it would be about {rounded(100 * share, 0)} %"


def slight_bend_warnings(pieces: Sequence[Piece]) -> list[str]:
    """Bends too slight to set; where a piece has no others, the change that would make it straight."""
    said = []
    for piece in pieces:
        start, end = piece.tube.start, piece.tube.end
        slight = [k for k, bend in enumerate(piece.bends, 1) if bend.angle_rad < SLIGHT_BEND_RAD]
        if not slight or end.name == "end" or piece.bends[0].from_rim_mm is None:
            continue
        most_rad = max(piece.bends[k - 1].angle_rad for k in slight)
        off_mm = off_line_mm(end.datum_mm, start.datum_mm, start.heading)
        said.append(
            f"piece {piece.id}: its {len(slight)} bends turn no more than {_deg(most_rad)}, which is hard to set; "
            f"wheelbox {end.name} is {_mm(off_mm)} off the line on which the rack leaves {start.name}: move either by "
            "that and the tube is straight, or allow the shop's fit_up so much"
            if len(slight) == len(piece.bends) > 1
            else f"piece {piece.id}: bend {slight[0]} turns only {_deg(most_rad)}, which is hard to set; bend it by "
            "hand in place, or turn a box a little"
        )
    return said


def unused_tube_notes(job: Job) -> list[str]:
    """What the job says of tubes that none of its layouts has. With a free order any two boxes may be neighbours."""
    pairs = {pair for names in job.layouts.values() for pair in itertools.pairwise(["nose", *names, "end"])}
    if job.order == "free":
        return []
    return [
        f"[[tube_between]] {said.start} and {said.end}: no layout has such a tube, so what it says is left alone"
        for said in job.between
        if (said.start, said.end) not in pairs
    ]


def crowded_warnings(run: Run) -> list[str]:
    """Wheelboxes whose bodies overlap."""
    solids = [(box.name, body(box.mounting, box.heading)) for box in run.boxes]
    return [
        f"wheelboxes {one} and {other}: their bodies overlap by {_mm(deep_mm)} as they are turned; move them apart, "
        "or give headings that turn them clear"
        for (one, a), (other, b) in itertools.combinations(solids, 2)
        if isinstance(a, TurnedBox) and isinstance(b, TurnedBox) and (deep_mm := overlap_mm(a, b)) > 0
    ]


def stock_warnings(job: Job, shop: Shop) -> list[str]:
    """Where the job's tube is cut from stock of another wall."""
    stock, tube = shop.catalogue.tubes[job.tube.stock], job.tube
    if abs(mm(stock.wall) - mm(tube.wall)) < SAME_WALL_MM:
        return []
    return [
        f"tube {tube.name}: its wall is {mm(tube.wall):g} mm, and the stock {stock.name} that it is cut from has "
        f"{mm(stock.wall):g} mm; bore, bends and flares are worked out for {mm(tube.wall):g} mm: put the tube you cut "
        "among the shop's stock, or give its wall"
    ]


def unchecked_warnings(run: Run, job: Job) -> list[str]:
    """Tubes of unknown shape, which cannot be checked against the things in the way that the job names."""
    return [
        f"piece {tube.id}: it was laid out with a wire, so its way is not known; see for yourself that it keeps "
        "clear of what is in the way"
        for tube in run.tubes
        if job.in_the_way and isinstance(tube.shape, Measured)
    ]


def taped_warnings(job: Job) -> list[str]:
    """Readings of the tape that the others contradict."""
    if job.taped is None:
        return []
    measured = job.taped.measured
    said = [
        f"{judged.reading.called}: it was read {_mm(judged.reading.value_mm)}, and by the others it is "
        f"{_mm(judged.others_mm)}: measure it again; the plan is made without it"
        for judged in measured.readings
        if judged.doubtful and judged.reading.called not in measured.one_of
    ]
    if measured.one_of:
        said.append(
            f"one of these readings is wrong, and nothing tells which: {', '.join(measured.one_of)}; measure them "
            "again, or tape one of their points from another mark"
        )
    return said


def tolerance_warnings(tolerances: Mapping[str, Tolerance]) -> list[str]:
    """The pieces that must be marked in place, and what to measure or to try again for each."""
    return [
        f"piece {name}: mark it in place, for {_errors_of(each)} may make it {_mm(each.worst_mm)} wrong and its "
        f"grooves take up {_mm(each.takes_up_mm)}; {_again(each)}"
        for name, each in tolerances.items()
        if each.mark_in_place
    ]


def _errors_of(tolerance: Tolerance) -> str:
    tools = [name for name, part in (("bender", tolerance.bender_mm), ("flares", tolerance.flare_mm)) if part]
    return f"{', '.join(['tape', *tools[:-1]])} and {tools[-1]}" if tools else "the tape's error"


def _again(tolerance: Tolerance) -> str:
    if tolerance.source == "tape":
        return f"measure again: {tolerance.most}"
    return f"the {tolerance.source} adds most, {_mm(getattr(tolerance, tolerance.source + '_mm'))}: try more pieces"


def trial_warnings(pieces: Sequence[Piece], job: Job, shop: Shop) -> list[str]:
    """Trials of this job's tube that lie off the others, where they matter to it."""
    said = []
    bend = odd_trial(trials_of(job.tube.stock, job.former.name, shop)) if any(p.bends for p in pieces) else None
    if bend is not None:
        said.append(
            f"the trial bend of {bend.tube} on {bend.former} that was set to {_deg(rad(bend.set))} and stayed at "
            f"{_deg(rad(bend.got))} lies off the others: measure it again, or bend it anew"
        )
    for kind in ("single", "double"):
        flare = odd_flare(job.tube.stock, kind, shop.trial_flares)
        if flare is not None and any(end.flare == kind for piece in pieces for end in piece.ends):
            said.append(
                f"the {kind} trial flare of {flare.tube} that left {mm(flare.after):g} mm of {mm(flare.before):g} mm "
                "lies off the others: measure it again, or flare it anew"
            )
    return said


def gone_bar_warnings(pieces: Sequence[Piece], job: Job, shop: Shop) -> list[str]:
    """The cut pieces with an end that came ready-flared, where the shop has no such bar (any more)."""
    if shop.book:
        return []  # the book knows which bars were sawn
    cuts = {cut.piece: cut for cut in job.cuts}
    return [
        f"piece {piece.id}: the job says that its {end.flare} {'flare with its nut' if end.nut else 'flare'} came with "
        "the bar; no bar of the shop comes so now, which is right only if that bar was taken out of stock since"
        for piece in pieces
        if piece.id in cuts
        for end in no_longer_ready(piece, cuts[piece.id], shop)
    ]


def as_cut_warnings(cuts: Sequence[AsCut], run: Run, past_tip_mm: float) -> list[str]:
    """What the pieces that were really cut mean for the boxes at their ends, which ``run`` has where they move to.

    ``past_tip_mm``: tail tube beyond the rack's tip, pushed out, where nothing is cut otherwise.
    """
    ends = {tube.id: tube.end.name for tube in run.tubes}
    holes = {box.name: box.mounting.hole_mm for box in run.boxes}
    said = []
    for cut in cuts:
        if ends[cut.piece] == "end" and cut.off_mm < 0:
            left_mm = past_tip_mm + cut.off_mm
            said.append(
                f"piece {cut.piece}: cut {_mm(-cut.off_mm)} short it leaves the rack's tip {_mm(left_mm)} at the "
                "dead end pushed out" + ("" if left_mm > 0 else "; the rack would strike the end stop: cut it again")
            )
        if not cut.holds:
            hole = ", ".join(rounded(part, 1) for part in holes[ends[cut.piece]])
            said.append(_does_not_hold(cut, ends[cut.piece], hole, _because(cut, cuts, run)))
        elif (bent := _bent_otherwise(cut)) is not None:
            said.append(f"piece {cut.piece}: {bent}")
    return said


def _does_not_hold(cut: AsCut, box: str, hole: str, because: str) -> str:
    """What a piece that is too long or too short for its grooves means, and what can still be done."""
    off, way = "long" if cut.off_mm > 0 else "short", "along" if cut.moved_mm > 0 else "against"
    if cut.trimmed:
        return (
            f"piece {cut.piece}: trimmed in place to {_mm(cut.length_mm)} it is {_mm(abs(cut.off_mm))} too {off} for "
            f"the positions{because}, so wheelbox {box} stands {_mm(abs(cut.moved_mm))} {way} its heading from where "
            f"it was measured, its hole at ({hole}) mm; what follows is planned from there"
        )
    ways = [f"move wheelbox {box} {_mm(abs(cut.moved_mm))} {way} its heading, its hole to ({hole}) mm"]
    if cut.off_mm > 0 and cut.trim_at:
        ways.append(f"trim the piece by {_mm(cut.off_mm)} at {cut.trim_at} before that end is formed")
    ways.append(f"cut the piece again, {_mm(cut.needed_mm)} long")
    bent = _bent_otherwise(cut)
    more = "" if bent is None else f"; {bent}"
    return (
        f"piece {cut.piece}: cut {_mm(cut.length_mm)} long it is {_mm(abs(cut.off_mm))} too {off}{because} and its "
        f"grooves cannot take that up; {', or '.join(ways)}; what follows is planned with the box moved{more}"
    )


def _bent_otherwise(cut: AsCut) -> str | None:
    """What is wrong with the bends of a piece that is bent already; None: nothing that a hand would notice."""
    off = cut.bent_off
    if off is None or (off.angle_rad <= BENT_OFF_RAD and off.place_mm <= BENT_OFF_MM):
        return None
    if off.angle_rad >= math.pi:
        return "it is bent already, and would now need another number of bends: cut and bend a new piece"
    return (
        f"it is bent already, and its bends are up to {_deg(off.angle_rad)} and {_mm(off.place_mm)} from where they "
        "are needed now: try it in place, or cut and bend a new piece"
    )


def _because(cut: AsCut, cuts: Sequence[AsCut], run: Run) -> str:
    """Why a piece needs another length than the plan gave it before anything was cut; nothing where it does not."""
    if _mm(cut.needed_mm) == _mm(cut.planned_mm):
        return ""
    starts = {tube.id: tube.start.name for tube in run.tubes}
    ends = {tube.id: tube.end.name for tube in run.tubes}
    mover = next((one for one in cuts if ends[one.piece] == starts[cut.piece] and not one.holds), None)
    box = f", since {mover.piece} as it was cut moves wheelbox {starts[cut.piece]}" if mover is not None else ""
    return f" (it needs {_mm(cut.needed_mm)} now, not {_mm(cut.planned_mm)}{box})"


def _mm(length_mm: float) -> str:
    return f"{rounded(length_mm, 1)} mm"


def _deg(angle_rad: float) -> str:
    return f"{rounded(math.degrees(angle_rad), 1)} deg"
