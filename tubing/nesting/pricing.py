"""Which pattern is worth most at given worths of the pieces: a bounded knapsack on the tick grid.

One table up to the longest bar serves every stock; the value of what is left is added at the table's end, and pieces
that use ready ends are put on after the plain ones. Worths may be floats (while columns are generated) or whole
numbers (for a bound that is exact arithmetic).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Sequence
from typing import Any

import numpy as np
from msgspec import Struct

from tubing.nesting.problem import Problem

MOST_CELLS = 200_000
ReadyEnds = tuple[tuple[str, bool], ...]
Numbers = np.ndarray[Any, np.dtype[Any]]
Move = tuple[int, int, int]  # kind, how many, cells they take


class Ending(Struct, frozen=True):
    """A way to end a bar: a stock, the ready ends in use, the cells there are, what each cell's rest is worth."""

    stock: int
    used: ReadyEnds
    cells: int
    value: Numbers | None  # cents by cell filled; None: nothing left is worth anything


class Found(Struct, frozen=True):
    """A cell of the table: the pattern that ends there has this reduced cost or less."""

    reduced: Any
    ending: int
    cell: int


class Grid:
    """Lengths of a problem in cells: ticks, or coarser where there would be too many.

    Coarse cells round pieces up and bars down, so that what fits them fits; ``optimistic`` rounds the other way, for
    a bound that holds.
    """

    def __init__(self, problem: Problem, *, optimistic: bool = False, most_cells: int = MOST_CELLS) -> None:
        self.problem = problem
        there = [s for s in range(len(problem.stocks)) if problem.stocks[s].limit > 0]
        longest = max(problem.room(s, len(problem.stocks[s].ready)) for s in there)
        self.ticks_per_cell = -(-longest // most_cells)
        self.optimistic = optimistic
        self.steps = [self._piece(kind.length + problem.kerf) for kind in problem.kinds]
        self.on_end: dict[tuple[str, bool], list[tuple[int, int]]] = {}
        self.endings = []
        for stock in there:
            for used in self._uses(problem.stocks[stock].ready):
                self.endings.append(self._ending(stock, used))
                for end in used:
                    self.on_end[end] = [
                        (kind, self._piece(problem.kinds[kind].length + problem.kerf - saved))
                        for kind in range(len(problem.kinds))
                        if (saved := problem.saving(kind, end)) is not None
                    ]
        self.cells = max(ending.cells for ending in self.endings)
        self.cheapest = {
            s: problem.stocks[s].price - problem.value(problem.room(s, len(problem.stocks[s].ready))) for s in there
        }

    def _piece(self, ticks: int) -> int:
        return ticks // self.ticks_per_cell if self.optimistic else -(-ticks // self.ticks_per_cell)

    def _uses(self, ready: ReadyEnds) -> list[ReadyEnds]:
        """No end in use, one, both; an end that no piece matches is never in use."""
        matched = [end for end in ready if any(self.problem.saving(k, end) is not None for k in self._kinds())]
        uses: list[ReadyEnds] = [(), *((end,) for end in dict.fromkeys(matched))]
        return [*uses, tuple(matched)] if len(matched) == 2 else uses

    def _kinds(self) -> range:
        return range(len(self.problem.kinds))

    def _ending(self, stock: int, used: ReadyEnds) -> Ending:
        problem = self.problem
        room = problem.room(stock, len(used))
        cells = -(-room // self.ticks_per_cell) if self.optimistic else room // self.ticks_per_cell
        value = None
        if problem.offcuts_have_value:
            kept_more = problem.kept_more(stock, len(used))
            left = room - problem.kerf + kept_more - np.arange(cells + 1, dtype=np.int64) * self.ticks_per_cell
            worth = problem.cents_per_tick
            value = np.maximum(left, 0) * worth.numerator // worth.denominator
            value[(left < problem.keep_from) | (left <= 0)] = 0
        return Ending(stock, used, cells, value)


class Table:
    """The filled table for one set of worths."""

    def __init__(self, grid: Grid, worths: Numbers, bounds: Sequence[int]) -> None:
        self.grid, self.worths = grid, worths
        size = grid.cells + 1
        best = np.zeros(size, dtype=worths.dtype)
        self.moves = _moves(grid, worths, bounds)
        self.took = np.zeros((len(self.moves), size), dtype=bool)
        for row, move in enumerate(self.moves):
            _apply(move, worths, best, self.took[row])
        self.best: dict[ReadyEnds, Numbers] = {(): best}
        self.kind_on_end: dict[ReadyEnds, Numbers] = {}
        for used in sorted({e.used for e in grid.endings}, key=len):
            if used:
                self._put_on_end(used)

    def _put_on_end(self, used: ReadyEnds) -> None:
        """The table with one more piece, on the last of these ready ends."""
        before = self.best[used[:-1]]
        low = np.iinfo(np.int64).min // 4 if before.dtype.kind == "i" else -np.inf
        best, chosen = np.full_like(before, low), np.full(len(before), -1, dtype=np.int32)
        for kind, step in self.grid.on_end[used[-1]]:
            if step >= len(before):
                continue
            with_it = before[: len(before) - step] + self.worths[kind]
            better = with_it > best[step:]
            best[step:][better] = with_it[better]
            chosen[step:][better] = kind
        self.best[used], self.kind_on_end[used] = best, chosen

    def least_reduced(self, scale: int = 1, stocks: Container[int] | None = None) -> list[Found]:
        """For each ending its cell of least reduced cost; costs are multiplied by ``scale`` first."""
        found = []
        for index, ending in enumerate(self.grid.endings):
            if stocks is not None and ending.stock not in stocks:
                continue
            best = self.best[ending.used][: ending.cells + 1]
            if ending.value is None:
                cell, gain = ending.cells, best[ending.cells]
            else:
                # A bar is cut, so at least the shortest piece lies on it; on a ready end one does already.
                start = 0 if ending.used else min(min(self.grid.steps), ending.cells)
                gains = best[start:] + (ending.value[start:] if scale == 1 else ending.value[start:] * scale)
                cell = start + int(gains.argmax())
                gain = gains[cell - start]
            if best[cell] < 0:
                continue  # no piece fits these ready ends
            price = self.grid.problem.stocks[ending.stock].price * scale
            found.append(Found(price - gain, index, cell))
        return found

    def others(self, found: Found, most: int) -> list[Found]:
        """Cells below a found one where the best changes: more patterns from the same table."""
        ending = self.grid.endings[found.ending]
        best = self.best[ending.used][: found.cell + 1]
        steps = np.flatnonzero(best[1:] > best[:-1]) + 1
        return [Found(None, found.ending, int(cell)) for cell in steps[::-1][:most]]

    def with_each_kind(self, endings: Sequence[int]) -> list[tuple[int, tuple[tuple[int, int], ...]]]:
        """For each kind and each of these endings the best pattern that holds it: many columns from one more table.

        The endings have no ready end in use, and an equal rest of a bar is worth the same on each.
        """
        size, moves = self.grid.cells + 1, self.moves
        after = np.zeros((len(moves) + 1, size), dtype=self.worths.dtype)
        longest = max((self.grid.endings[index] for index in endings), key=lambda e: e.cells)
        if longest.value is not None:
            after[-1][: longest.cells + 1] = longest.value[::-1]
        took_after = np.zeros((len(moves), size), dtype=bool)
        for row in range(len(moves) - 1, -1, -1):
            after[row] = after[row + 1]
            _apply(moves[row], self.worths, after[row], took_after[row])
        before = np.zeros(size, dtype=self.worths.dtype)
        last_row = {kind: row for row, (kind, _, _) in enumerate(moves)}
        held = []
        for row, move in enumerate(moves):
            kind, times, step = move
            if times == 1:
                beyond = last_row[kind] + 1
                for index in endings:
                    ending = self.grid.endings[index]
                    cells = ending.cells - step
                    if cells >= 0:
                        cell = int((before[: cells + 1] + after[beyond][cells::-1]).argmax())
                        held.append((kind, row, beyond, cell, cells - cell, ending.stock))
            _apply(move, self.worths, before, None)
        return [self._joined(*parts, took_after) for parts in held]

    def _joined(
        self, kind: int, row: int, beyond: int, cell: int, rest: int, stock: int, took_after: Numbers
    ) -> tuple[int, tuple[tuple[int, int], ...]]:
        """One piece of a kind with the best kinds before it in ``cell`` cells and after it in ``rest`` cells."""
        pieces = Counter({kind: 1})
        self._trace_back(row, cell, pieces)
        while beyond < len(self.moves):
            beyond += int(took_after[beyond:, rest].argmax())
            if not took_after[beyond, rest]:
                break
            pieces[self.moves[beyond][0]] += self.moves[beyond][1]
            rest -= self.moves[beyond][2]
            beyond += 1
        return stock, tuple(sorted(pieces.items()))

    def trace(self, found: Found) -> tuple[int, tuple[tuple[int, int], ...]]:
        """The stock and pieces of the pattern that ends in a cell."""
        ending, cell = self.grid.endings[found.ending], found.cell
        pieces: Counter[int] = Counter()
        used = ending.used
        while used:
            kind = int(self.kind_on_end[used][cell])
            pieces[kind] += 1
            cell -= dict(self.grid.on_end[used[-1]])[kind]
            used = used[:-1]
        self._trace_back(len(self.moves), cell, pieces)
        if not pieces:
            pieces[self.grid.steps.index(min(self.grid.steps))] = 1
        return ending.stock, tuple(sorted(pieces.items()))

    def _trace_back(self, row: int, cell: int, pieces: Counter[int]) -> None:
        """Count the pieces that the moves before ``row`` put into ``cell`` cells."""
        while row > 0:
            row -= 1 + int(self.took[row - 1 :: -1, cell].argmax())
            if not self.took[row, cell]:
                return
            kind, times, step = self.moves[row]
            pieces[kind] += times
            cell -= step


def _moves(grid: Grid, worths: Numbers, bounds: Sequence[int]) -> list[Move]:
    """Each kind once, twice, four times ..., so that every number up to its bound is a sum of them."""
    moves = []
    for kind, step in enumerate(grid.steps):
        most = min(bounds[kind], grid.cells // step) if worths[kind] > 0 else 0
        times = 1
        while most > 0:
            times = min(times, most)
            moves.append((kind, times, step * times))
            most -= times
            times *= 2
    return moves


def _apply(move: Move, worths: Numbers, best: Numbers, took: Numbers | None) -> None:
    """Improve ``best`` in place by one move; ``took`` says in which cells."""
    kind, times, step = move
    with_it = best[: len(best) - step] + worths[kind] * times
    if took is not None:
        np.greater(with_it, best[step:], out=took[step:])
    np.maximum(best[step:], with_it, out=best[step:])


def with_kind(best: Numbers, step: int, bound: int, worth_cents: float) -> Numbers:
    """The table ``best``, cents by cells, with up to ``bound`` pieces of one more kind, ``step`` cells each."""
    best = best.copy()
    most, times = min(bound, (len(best) - 1) // step), 1
    while most > 0:
        times = min(times, most)
        with_it = best[: len(best) - step * times] + worth_cents * times
        np.maximum(best[step * times :], with_it, out=best[step * times :])
        most -= times
        times *= 2
    return best
