"""Which readings are wrong: data snooping, one reading at a time, and what would tell more.

A residual is held against its own standard deviation; beyond 3.29 of them (once in a thousand by chance) its reading is
set aside, the largest first, and the rest is adjusted again. At the end those set aside are tried back, one at a time.
Where two readings look equally wrong, or only one is to spare, a mistake is seen and cannot be placed.
Source: W. Baarda, A Testing Procedure for Use in Geodetic Networks, 1968 (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from msgspec.structs import replace

from tubing.measuring.adjustment import Fit, adjusted
from tubing.measuring.records import Judged, NextReading, Reading

DOUBTFUL = 3.29  # standard deviations
ALIKE = 0.02  # deviations that differ by no greater share cannot be told apart
AS_LIKELY = 4.0  # sums of squares that differ by no more: chance makes one in twenty differ so
MORE_WRONG = 2.0  # another reading may be the wrong one, but not if it had to be so many times as wrong
GROSS, MOST_GROSS = 10.0, 4  # standard deviations, and how many readings may be so far off
ROUNDS, LEAST_LACK = 40, 0.05  # of weighting anew; standard deviations below which weights grow no more
LEAST_CHECKED = 1e-3  # below this a residual shows nothing at all


def snooped(fit: Fit, everything: Sequence[Reading]) -> tuple[Fit, list[Reading], list[Reading]]:
    """The fit without the readings that are wrong, those readings, and those of which one is wrong, not known which.

    ``everything``: all readings of the job; those that the fit was made without count as set aside from the start.
    """
    aside = [reading for reading in everything if not any(reading is kept for kept in fit.readings)]
    while True:
        suspects = _suspects(fit)
        if len(suspects) != 1:
            break
        aside.append(fit.readings[suspects[0]])
        fit = adjusted(fit.unknowns, fit.x, [r for r in everything if not any(r is out for out in aside)])
    unplaced = [fit.readings[k] for k in suspects]
    for reading in list(aside):
        back = adjusted(
            fit.unknowns, fit.x, [r for r in everything if r is reading or not any(r is out for out in aside)]
        )
        accused = len(_suspects(back))
        if not accused or (unplaced and accused > 1):
            aside = [r for r in aside if r is not reading]
            fit = back
    for reading in aside if not unplaced else ():
        unplaced += _as_likely(fit, reading)
    return fit, aside, unplaced


def _as_likely(fit: Fit, reading: Reading) -> list[Reading]:
    """A reading set aside with those that may as well be the wrong one: without one of them it fits; none: it is it."""
    touching = [r for r in fit.readings if r.kind == "taped" and {r.start, r.end} & {reading.start, reading.end}]
    others = []
    for other in touching:
        without = adjusted(fit.unknowns, fit.x, [reading, *(r for r in fit.readings if r is not other)])
        fits = not len(without.loose) and without.squares <= fit.squares + AS_LIKELY
        if fits and _off_mm(without, other) <= MORE_WRONG * _off_mm(fit, reading):
            others.append(other)
    return [reading, *others] if others else []


def _off_mm(fit: Fit, reading: Reading) -> float:
    """How far a reading that the fit was made without is off it."""
    return abs(float(fit.unknowns.system(fit.x, [reading])[0][0])) * reading.sigma_mm


def without_gross(fit: Fit) -> Fit:
    """The fit without readings that are off by far more than chance: a slip of a decimetre, a digit changed.

    Such a slip bends the whole network, and least squares lays part of it on sound readings. Least absolute residuals,
    by weighting anew again and again, leave it where it belongs. The same fit where nothing is so far off.
    """
    for _ in range(MOST_GROSS):
        if not len(fit.readings) or float(np.abs(fit.deviations()).max()) < GROSS:
            break
        x = _least_absolute(fit)
        lacks = np.abs(fit.unknowns.system(x, fit.readings)[0])
        worst = int(lacks.argmax())
        if lacks[worst] < GROSS:
            break
        fit = adjusted(fit.unknowns, x, [*fit.readings[:worst], *fit.readings[worst + 1 :]])
    return fit


def _least_absolute(fit: Fit) -> Any:
    """The coordinates of least absolute residuals."""
    x, unknowns = fit.x, fit.unknowns
    for _ in range(ROUNDS):
        lacks, _ = unknowns.system(x, fit.readings)
        weighted = [
            replace(reading, error_mm=reading.error_mm * max(abs(float(lack)), LEAST_LACK) ** 0.5)
            for reading, lack in zip(fit.readings, lacks, strict=True)
        ]
        x = adjusted(unknowns, x, weighted).x
    return x


def _suspects(fit: Fit) -> list[int]:
    """The reading with the largest residual beyond what chance gives; several: they look equally wrong."""
    deviations = np.where(fit.redundancy > LEAST_CHECKED, np.abs(fit.deviations()), 0.0)
    if not len(deviations) or float(deviations.max()) <= DOUBTFUL:
        return []
    return [int(k) for k in np.nonzero(deviations >= deviations.max() * (1 - ALIKE))[0]]


def judged(
    fit: Fit, readings: Sequence[Reading], aside: Sequence[Reading], unplaced: Sequence[Reading]
) -> list[Judged]:
    """Every reading of the job in its order, held against the others; those set aside against the fit without them."""
    places = {id(reading): k for k, reading in enumerate(fit.readings)}
    deviations = fit.deviations()
    found = []
    for reading in readings:
        if id(reading) in places:
            k = places[id(reading)]
            residual, share, deviation = (float(v[k]) for v in (fit.residuals_mm, fit.redundancy, deviations))
            doubtful = any(reading is other for other in unplaced)
            blunder = -residual / share if doubtful and share > LEAST_CHECKED else None
        else:
            lacks, row = fit.unknowns.system(fit.x, [reading])
            residual = -float(lacks[0]) * reading.sigma_mm
            spread = float(row[0] @ fit.cofactors[np.ix_(fit.unknowns.free, fit.unknowns.free)] @ row[0])
            share = 1 / (1 + spread)
            deviation = residual / reading.sigma_mm / np.sqrt(1 + spread)
            doubtful, blunder = True, -residual
        found.append(Judged(reading, residual, share, float(deviation), doubtful, blunder))
    return found


def next_reading(
    fit: Fit, pieces: Mapping[str, Mapping[str, Any]], sigma_mm: float, most_pairs: int = 400
) -> NextReading | None:
    """Of all distances not yet taped the one that makes the least sure piece most sure.

    ``pieces``: for each piece how its length changes with each point, [mm per mm], as (x, y, z). None: nothing helps by
    a tenth.
    """
    slopes = {name: _slope(fit, each) for name, each in pieces.items()}
    sure = {name: 2 * float(np.sqrt(max(0.0, s @ fit.cofactors @ s))) for name, s in slopes.items()}
    piece = max(sure, key=lambda name: sure[name], default=None)
    if piece is None or sure[piece] <= 0:
        return None
    slope = slopes[piece]
    names = fit.unknowns.network.points
    taped = {frozenset((r.start, r.end)) for r in fit.readings if r.kind == "taped"}
    best: NextReading | None = None
    pairs = [(a, b) for i, a in enumerate(names) for b in names[i + 1 :] if frozenset((a, b)) not in taped]
    for start, end in pairs[:most_pairs]:
        way = np.array(fit.place_mm(end)) - np.array(fit.place_mm(start))
        size = float(np.linalg.norm(way))
        if size < 1.0:
            continue
        row = _slope(fit, {end: way / size, start: -way / size})
        moved = fit.cofactors @ row
        gained = float(slope @ moved) ** 2 / (sigma_mm**2 + float(row @ moved))
        then = 2 * float(np.sqrt(max(0.0, (sure[piece] / 2) ** 2 - gained)))
        if best is None or then < best.sure_then_mm - 1e-9:
            best = NextReading(start, end, piece, sure[piece], then)
    return best if best is not None and best.sure_then_mm < 0.9 * best.sure_now_mm else None


def _slope(fit: Fit, by_point: Mapping[str, Any]) -> Any:
    """What changes with each point as one row over all coordinates."""
    row = np.zeros(len(fit.x))
    for name, part in by_point.items():
        if name in fit.unknowns.place:
            k = fit.unknowns.place[name]
            row[k : k + 3] += np.asarray(part, dtype=float)
    return row
