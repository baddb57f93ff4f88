"""The sweeps on offer beside each other: what each wipes, what it keeps clear of, and which is best.

On offer:  a sweep that the first wheelbox can be had with; the others follow by their pitch radii.
Keeps:     a clearance is kept when it is at least what was asked, to the edge and between neighbours.
Lagging:   with each arm's lost motion taken off its sweep, half at each dead end.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from tubing.errors import FitError, JobError
from tubing.glass.arms import Option, Wiper, free, options, placed
from tubing.glass.blade import Blade, Segment, check_sweep
from tubing.glass.nearness import keep_apart, least_distance_mm
from tubing.glass.surface import Surface, surface, swept
from tubing.inputs.catalogue import Arm
from tubing.inputs.records import FittedArm, Screen
from tubing.units import Quantity, deg, quantity, rad, rounded

SWEEPS_ON_OFFER = tuple(quantity(angle, "deg") for angle in range(90, 141, 10))  # common practice, no source
SAME_MM2 = 1.0  # areas that differ by less count as equal: the chords of the arcs are no more exact


class Glass(Struct, frozen=True):
    """All that the comparison of sweeps needs to know."""

    screen: Screen
    wipers: tuple[Wiper, ...]  # in order from the motor; the first one's sweep is the sweep on offer
    arms: tuple[FittedArm, ...]  # a wheelbox without one takes any arm on offer
    on_offer: tuple[Arm, ...]
    clearance_mm: float  # asked for, to the edge and between blades


class Fitted(Struct, frozen=True):
    """One arm and blade at one sweep."""

    name: str  # of the wheelbox
    arm_mm: float
    blade_mm: float
    sweep_deg: float
    parked_deg: float  # the arm's direction at park, anticlockwise from the x axis
    raised_deg: float  # how far the parked blade had to be raised off the lower edge to keep the clearance
    parked_tips_mm: Segment  # inner and outer tip at park
    outer_tip_mm: float  # clearance to the edge through the cycle; negative: over the edge
    inner_tip_mm: float
    clearance_mm: float  # the same of the whole blade


class Gap(Struct, frozen=True):
    """Two neighbouring blades."""

    between: tuple[str, str]
    least_mm: float  # through the whole cycle, lost motion counted at its worst; 0: they meet


class Sweep(Struct, frozen=True):
    """What one sweep gives, with the arms that suit it best."""

    sweep_deg: float  # of the first wheelbox
    fitted: tuple[Fitted, ...]
    gaps: tuple[Gap, ...]
    screen_percent: float  # wiped
    zones_percent: dict[str, float]
    lagging_screen_percent: float
    lagging_zones_percent: dict[str, float]
    wiped_mm2: float
    breaks: tuple[str, ...]  # clearances that are not kept, in words; empty: it fits


class SweepTable(Struct, frozen=True):
    """The sweeps on offer, least first."""

    sweeps: tuple[Sweep, ...]
    best: Sweep | None  # None: none keeps the clearances
    reason: str
    asked_mm: float  # the clearance


class _Candidate(Struct, frozen=True):
    """A blade that may be fitted."""

    blade: Blade
    raised_rad: float
    region: Any  # swept


def sweep_table(glass: Glass, sweeps: Sequence[Quantity] = SWEEPS_ON_OFFER) -> SweepTable:
    """Compare sweeps of the first wheelbox; the best wipes most of those that keep all clearances, or is None.

    Raises JobError: a sweep of 0 or 360 degrees, a blade that its arm cannot carry, a screen that is none.
    Raises FitError: an arm left free, and none on offer.
    """
    rows = tuple(at_sweep(glass, sweep) for sweep in sorted(sweeps, key=rad))
    asked_mm = glass.clearance_mm
    fitting = [row for row in rows if not row.breaks]
    if not fitting:
        return SweepTable(rows, None, f"no sweep on offer keeps {asked_mm:g} mm everywhere", asked_mm)
    most_mm2 = max(row.wiped_mm2 for row in fitting)
    best = next(row for row in fitting if row.wiped_mm2 >= most_mm2 - SAME_MM2)
    return SweepTable(rows, best, _reason(rows, best, asked_mm), asked_mm)


def best_sweep(table: SweepTable) -> Sweep:
    """The best sweep. Raises FitError: none keeps the clearances; the message names what the nearest one breaks."""
    if table.best is not None:
        return table.best
    nearest = min(table.sweeps, key=lambda row: (round(_short_mm(row, table.asked_mm), 1), row.sweep_deg))
    raise FitError(
        "sweep",
        f"{table.reason}; at {nearest.sweep_deg:g} deg, which comes nearest, {nearest.breaks[0]}",
        f"every blade must keep {table.asked_mm:g} mm to the edge and to its neighbour",
        "choose shorter blades, move a pivot, or ask for less clearance",
    )


def _short_mm(row: Sweep, asked_mm: float) -> float:
    """How much the worst clearance lacks, [mm]."""
    kept = [fitted.clearance_mm for fitted in row.fitted] + [gap.least_mm for gap in row.gaps]
    return asked_mm - min(kept)


def _reason(rows: Sequence[Sweep], best: Sweep, asked_mm: float) -> str:
    """The reason for the choice of the best sweep, in a sentence."""
    sentence = f"{best.sweep_deg:g} deg wipes {rounded(best.screen_percent, 1)} % of the screen"
    if len(rows) == 1:
        return f"{sentence} and keeps {asked_mm:g} mm everywhere"
    sentence += f", the most of those that keep {asked_mm:g} mm everywhere"
    more = [row for row in rows if row.breaks and row.wiped_mm2 > best.wiped_mm2 + SAME_MM2]
    if more:
        sentence += (
            f"; {more[0].sweep_deg:g} deg would wipe {rounded(more[0].screen_percent, 1)} %, but {more[0].breaks[0]}"
        )
    return sentence


def at_sweep(glass: Glass, sweep: Quantity) -> Sweep:
    """The arms and blades that wipe most at one sweep of the first wheelbox and keep all clearances.

    Where none keep them, those that come nearest to it, and ``breaks`` says what they break. Lengths that the job
    gives are never changed. Raises as ``sweep_table``.
    """
    check_sweep(glass.wipers[0].name, rad(sweep))
    on, asked_mm = surface(glass.screen), glass.clearance_mm
    given = {arm.on: arm for arm in glass.arms}
    first_rad = glass.wipers[0].sweep_rad
    columns = []
    for wiper in sorted(glass.wipers, key=lambda w: w.pivot_mm):  # neighbours across the glass
        if wiper.turning not in (-1, 1):
            raise JobError(
                f"wheelbox {wiper.name!r}", f"its turning is {wiper.turning}", "it must be +1 or -1", "use one of them"
            )
        own = replace(wiper, sweep_rad=wiper.sweep_rad * rad(sweep) / first_rad)
        fitted = given.get(wiper.name) or free(wiper.name)
        columns.append([_candidate(on, own, fitted, o, asked_mm) for o in options(fitted, glass.on_offer)])
    return _judged(on, _most_wiped(on, columns, asked_mm), sweep, asked_mm)


def _candidate(on: Surface, wiper: Wiper, fitted: FittedArm, option: Option, asked_mm: float) -> _Candidate:
    blade, raised_rad = placed(on, wiper, fitted, option, asked_mm)
    return _Candidate(blade, raised_rad, swept(blade))


def _most_wiped(on: Surface, columns: list[list[_Candidate]], asked_mm: float) -> tuple[_Candidate, ...]:
    """One candidate for each wheelbox: the most wiped area together that keeps the clearances.

    Exact over the candidates: combinations are looked at by the sum of their areas, largest first, which is never less
    than what they wipe together, until no later one can be better.
    """
    if all(len(column) == 1 for column in columns):
        return tuple(column[0] for column in columns)
    clear = [[c for c in column if on.keeps(c.region.boundary, asked_mm)] for column in columns]
    if not all(clear):
        return _nearest(on, columns, clear)
    alone_mm2 = [[candidate.region.area for candidate in column] for column in clear]

    def summed_mm2(places: tuple[int, ...]) -> float:
        return math.fsum(areas[k] for areas, k in zip(alone_mm2, places, strict=True))

    apart: dict[tuple[int, int, int], bool] = {}
    best, best_mm2 = None, -math.inf
    for places in sorted(itertools.product(*(range(len(column)) for column in clear)), key=lambda p: -summed_mm2(p)):
        if summed_mm2(places) <= best_mm2:
            break
        if _all_apart(clear, places, apart, asked_mm):
            choice = tuple(column[k] for column, k in zip(clear, places, strict=True))
            together_mm2 = on.wiped(c.region for c in choice).area
            if together_mm2 > best_mm2 + SAME_MM2:
                best, best_mm2 = choice, together_mm2
    return best or _nearest(on, columns, clear)


def _all_apart(
    columns: list[list[_Candidate]],
    places: tuple[int, ...],
    apart: dict[tuple[int, int, int], bool],
    asked_mm: float,
) -> bool:
    """Whether all neighbours keep apart, of each column the candidate at its place; ``apart`` remembers pairs."""
    for column, (one, other) in enumerate(itertools.pairwise(places)):
        key = (column, one, other)
        if key not in apart:
            apart[key] = keep_apart(columns[column][one].blade, columns[column + 1][other].blade, asked_mm)
        if not apart[key]:
            return False
    return True


def _nearest(on: Surface, columns: list[list[_Candidate]], clear: list[list[_Candidate]]) -> tuple[_Candidate, ...]:
    """The arms to show where no choice keeps the clearances.

    Each wheelbox on its own: the shortest reach that keeps clear of the edge, else the blade that goes least over it.
    """
    return tuple(
        min(kept, key=lambda c: c.blade.reach_mm)
        if kept
        else max(column, key=lambda c: on.clearance_mm(c.region.boundary))
        for column, kept in zip(columns, clear, strict=True)
    )


def _judged(on: Surface, chosen: tuple[_Candidate, ...], sweep: Quantity, asked_mm: float) -> Sweep:
    """All figures of the chosen blades at one sweep."""
    blades = [c.blade for c in chosen]
    gaps = tuple(Gap((a.name, b.name), least_distance_mm(a, b)) for a, b in itertools.pairwise(blades))
    fitted = tuple(_fitted(on, c) for c in chosen)
    wiped = on.wiped(c.region for c in chosen)
    left = [lagging for blade in blades if (lagging := blade.lagging()) is not None]
    screen_percent, zones_percent = on.percents(wiped)
    lagging_screen, lagging_zones = on.percents(on.wiped(swept(blade) for blade in left))
    return Sweep(
        sweep_deg=deg(sweep),
        fitted=fitted,
        gaps=gaps,
        screen_percent=screen_percent,
        zones_percent=zones_percent,
        lagging_screen_percent=lagging_screen,
        lagging_zones_percent=lagging_zones,
        wiped_mm2=wiped.area,
        breaks=_breaks(fitted, gaps, asked_mm),
    )


def _fitted(on: Surface, candidate: _Candidate) -> Fitted:
    blade = candidate.blade
    outer_mm, inner_mm = on.tips_mm(blade)
    return Fitted(
        name=blade.name,
        arm_mm=blade.arm_mm,
        blade_mm=blade.blade_mm,
        sweep_deg=round(math.degrees(blade.sweep_rad), 9),  # 120, not 119.99999999999999
        parked_deg=round(math.degrees(blade.parked_rad), 9) % 360,
        raised_deg=round(math.degrees(candidate.raised_rad), 9),
        parked_tips_mm=blade.ends_mm(0.0),
        outer_tip_mm=outer_mm,
        inner_tip_mm=inner_mm,
        clearance_mm=on.clearance_mm(candidate.region.boundary),
    )


def _breaks(fitted: Sequence[Fitted], gaps: Sequence[Gap], asked_mm: float) -> tuple[str, ...]:
    """Each clearance that is not kept, in words, the worst first."""
    found = []
    for one in fitted:
        if one.clearance_mm < 0:
            found.append(
                (one.clearance_mm, f"the blade on {one.name!r} goes {rounded(-one.clearance_mm, 1)} mm over the edge")
            )
        elif one.clearance_mm < asked_mm:
            words = f"the blade on {one.name!r} comes within {rounded(one.clearance_mm, 1)} mm of the edge"
            found.append((one.clearance_mm, words))
    for gap in gaps:
        if gap.least_mm < asked_mm:
            names = " and ".join(repr(name) for name in gap.between)
            words = f"come within {rounded(gap.least_mm, 1)} mm of each other" if gap.least_mm > 0 else "meet"
            found.append((gap.least_mm, f"the blades on {names} {words}"))
    return tuple(words for _, words in sorted(found))
