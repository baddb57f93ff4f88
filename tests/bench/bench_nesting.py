"""Nesting beside plain models in general-purpose solvers, on the same instances in the same run.

    python tests/bench/bench_nesting.py [--each 20] [--limit 20] [--plain] [--plain-each 3] [--only NAME]

Prints, per class: proved, mean and worst wall seconds, mean processor seconds (on a machine that others use too, only
these can be compared), and the machine's load. ``--plain`` adds HiGHS and SCIP on arc-flow (Valerio de Carvalho 1999)
and CP-SAT on an assignment model with ordered bars, on the first instances of each class that they can state; they
need the extra ``bench``. All data is made here.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import time
from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction

from tubing.nesting import Cutting, Item, OffcutRule, Proof, Stock, check_nest, nest
from tubing.nesting.greedy import greedy_plan
from tubing.nesting.problem import Problem, problem_of_size

MOST_ARCS = 400_000  # a plain model beyond that is not built
NO_OFFCUTS = OffcutRule(Fraction(0), Fraction(0))
Instance = tuple[list[Item], list[Stock], OffcutRule, int, int]  # items, stocks, offcuts, kerf and trim in mm


def uniform(items: int, seed: int) -> Instance:
    """Falkenauer's class u."""
    chance = random.Random(f"uniform {items} {seed}")
    return plain(150, Counter(chance.randint(20, 100) for _ in range(items)))


def triplets(items: int, seed: int) -> Instance:
    """Falkenauer's class t."""
    chance = random.Random(f"triplets {items} {seed}")
    lengths = Counter[int]()
    for _ in range(items // 3):
        first = chance.randint(380, 490)
        second = chance.randint(250, (1000 - first) // 2)
        lengths.update((first, second, 1000 - first - second))
    return plain(1000, lengths)


def plain(room: int, lengths: Counter[int]) -> Instance:
    """One bar length at price 1."""
    items = [Item(f"{length}", "8", Fraction(length), n) for length, n in sorted(lengths.items())]
    return items, [Stock("bar", "8", Fraction(room), 1)], NO_OFFCUTS, 0, 0


def month(seed: int, value: int) -> Instance:
    """60 jobs, 240 pieces of about 40 lengths, three stock lengths, 25 offcuts on the shelf (all invented)."""
    chance = random.Random(f"month {seed}")
    lengths = sorted({Fraction(chance.randint(300, 1800), 2) for _ in range(40)})
    items = [Item(f"job {n // 4}, piece {n % 4}", "8", chance.choice(lengths)) for n in range(240)]
    bars = ((6000, 3000), (4000, 2150), (3000, 1700))
    stocks = [Stock(f"{length} mm", "8", Fraction(length), price) for length, price in bars]
    for number in range(25):
        length = Fraction(chance.randint(600, 5000), 2)
        stocks.append(Stock(f"offcut {number}", "8", length, int(length * value / 1000), on_shelf=True))
    return items, stocks, OffcutRule(Fraction(300), Fraction(value)), 2, 5


def year(seed: int) -> Instance:
    """100,000 pieces of 200 lengths on 6 m bars at 0.1 mm."""
    chance = random.Random(f"year {seed}")
    lengths = sorted({Fraction(chance.randint(1500, 9000), 10) for _ in range(200)})
    counts = Counter(chance.choice(lengths) for _ in range(100_000))
    items = [Item(f"{float(length)}", "8", length, n) for length, n in sorted(counts.items())]
    return items, [Stock("6 m", "8", Fraction(6000), 3000)], OffcutRule(Fraction(300), Fraction(0)), 2, 5


def ours(instance: Instance, limit_s: float) -> bool:
    """Whether this program proves the instance."""
    items, stocks, offcuts, kerf, trim = instance
    answer = nest(
        items,
        stocks,
        cutting=Cutting(Fraction(kerf), Fraction(trim), offcuts),
        time_limit_s=limit_s,
    )
    check_nest(items, answer, stocks=stocks, cutting=Cutting(Fraction(kerf), Fraction(trim), offcuts))
    if answer.proof is not Proof.OPTIMAL:
        print(f"    not proved: cost {answer.cost_cents}, bound {answer.bound_cents}; {answer.note}", flush=True)
    return answer.proof is Proof.OPTIMAL


class TooLarge(Exception):
    """A plain model of the instance would have more variables than a machine can hold."""


def problem_of(instance: Instance) -> Problem:
    """The instance in whole numbers, as every model here takes it."""
    items, stocks, offcuts, kerf, trim = instance
    return problem_of_size(items, stocks, Cutting(Fraction(kerf), Fraction(trim), offcuts))


def arcs_of(problem: Problem) -> tuple[list[tuple[int, int, int]], list[tuple[int, int, int]]]:
    """Plain arc-flow: a piece's arcs (kind, from, to) and the last arc of a bar (stock, cell, cost)."""
    rooms = [problem.room(stock) for stock in range(len(problem.stocks))]
    reached, arcs = {0}, []
    for kind, wanted in enumerate(problem.kinds):
        step, starts = wanted.length + problem.kerf, set(reached)
        for _ in range(min(wanted.demand, max(rooms) // step)):
            more = {at + step for at in starts if at + step <= max(rooms)} - starts
            starts |= more
            if not more:
                break
        arcs += [(kind, at, at + step) for at in sorted(starts) if at + step in starts]
        reached = starts
    last = [
        (stock, cell, problem.stocks[stock].price - problem.value(room - cell - problem.kerf))
        for stock, room in enumerate(rooms)
        for cell in sorted(reached)
        if 0 < cell <= room
    ]
    if len(arcs) + len(last) > MOST_ARCS:
        raise TooLarge(f"{len(arcs) + len(last)} arcs")
    return arcs, last


def rows_of(
    problem: Problem, arcs: list[tuple[int, int, int]], last: list[tuple[int, int, int]]
) -> tuple[dict[int, list[tuple[int, int]]], list[list[int]], list[list[int]]]:
    """Flow at each cell but the first (column, sign), columns that cut each kind, columns that end on each stock."""
    through: dict[int, list[tuple[int, int]]] = {}
    of_kind: list[list[int]] = [[] for _ in problem.kinds]
    on_stock: list[list[int]] = [[] for _ in problem.stocks]
    for column, (kind, start, end) in enumerate(arcs):
        through.setdefault(start, []).append((column, -1))
        through.setdefault(end, []).append((column, 1))
        of_kind[kind].append(column)
    for column, (stock, cell, _) in enumerate(last, len(arcs)):
        through.setdefault(cell, []).append((column, -1))
        on_stock[stock].append(column)
    del through[0]
    return through, of_kind, on_stock


def highs_arc_flow(instance: Instance, limit_s: float) -> bool:
    """HiGHS on arc-flow."""
    import highspy

    from tubing.nesting.integer_programme import QuietHighs

    problem = problem_of(instance)
    arcs, last = arcs_of(problem)
    through, of_kind, on_stock = rows_of(problem, arcs, last)
    model = QuietHighs()
    model.setOptionValue("time_limit", limit_s)
    model.setOptionValue("mip_abs_gap", 0.99)  # all costs are whole
    model.setOptionValue("mip_rel_gap", 0.0)
    for cost in [0] * len(arcs) + [cost for _, _, cost in last]:
        model.addCol(float(cost), 0.0, highspy.kHighsInf, 0, [], [])
    for terms in through.values():
        model.addRow(0.0, 0.0, len(terms), [c for c, _ in terms], [float(sign) for _, sign in terms])
    for kind, columns in enumerate(of_kind):
        model.addRow(float(problem.kinds[kind].demand), highspy.kHighsInf, len(columns), columns, [1.0] * len(columns))
    for stock in problem.limited:
        columns = on_stock[stock]
        model.addRow(0.0, float(problem.stocks[stock].limit), len(columns), columns, [1.0] * len(columns))
    for column in range(len(arcs) + len(last)):
        model.changeColIntegrality(column, highspy.HighsVarType.kInteger)
    model.run()
    return bool(model.getModelStatus() == highspy.HighsModelStatus.kOptimal)


def scip_arc_flow(instance: Instance, limit_s: float) -> bool:
    """SCIP on arc-flow."""
    from pyscipopt import Model, quicksum

    problem = problem_of(instance)
    arcs, last = arcs_of(problem)
    through, of_kind, on_stock = rows_of(problem, arcs, last)
    model = Model()
    model.hideOutput()
    model.setParam("limits/time", limit_s)
    model.setParam("limits/absgap", 0.99)  # all costs are whole
    flow = [model.addVar(vtype="I") for _ in arcs] + [model.addVar(vtype="I", obj=cost) for _, _, cost in last]
    for terms in through.values():
        model.addCons(quicksum(sign * flow[column] for column, sign in terms) == 0)
    for kind, columns in enumerate(of_kind):
        model.addCons(quicksum(flow[c] for c in columns) >= problem.kinds[kind].demand)
    for stock in problem.limited:
        model.addCons(quicksum(flow[c] for c in on_stock[stock]) <= problem.stocks[stock].limit)
    model.optimize()
    return bool(model.getStatus() in ("optimal", "gaplimit"))


def cp_sat(instance: Instance, limit_s: float) -> bool:
    """CP-SAT on pieces per bar, equal bars ordered by what they hold."""
    from ortools.sat.python import cp_model

    problem = problem_of(instance)
    steps = [kind.length + problem.kerf for kind in problem.kinds]
    plan = greedy_plan(problem)
    assert plan is not None
    most = sum(p.cost for p in plan)
    bars = [
        stock
        for stock, kind in enumerate(problem.stocks)
        for _ in range(min(kind.limit, 2 * len(plan) if len(problem.stocks) > 1 else len(plan)))
    ]
    if len(bars) * len(steps) > MOST_ARCS:
        raise TooLarge(f"{len(bars) * len(steps)} variables")
    model = cp_model.CpModel()
    used = [model.new_bool_var(f"u{b}") for b in range(len(bars))]
    count, load, costs = [], [], []
    num, den = problem.cents_per_tick.numerator, problem.cents_per_tick.denominator
    for b, stock in enumerate(bars):
        room, price = problem.room(stock), problem.stocks[stock].price
        row = [
            model.new_int_var(0, min(k.demand, room // s), f"x{b}") for k, s in zip(problem.kinds, steps, strict=True)
        ]
        filled = sum(s * x for s, x in zip(steps, row, strict=True))
        model.add(filled <= room * used[b])
        if b and bars[b - 1] == stock:
            model.add(load[-1] >= filled)
        count.append(row)
        load.append(filled)
        costs.append(price * used[b])
        if problem.offcuts_have_value:
            kept, worth = model.new_bool_var(f"k{b}"), model.new_int_var(0, problem.value(room), f"w{b}")
            model.add_implication(kept, used[b])
            left = room - filled - problem.kerf
            model.add(left >= problem.keep_from).only_enforce_if(kept)
            model.add(den * worth <= num * left).only_enforce_if(kept)
            model.add(worth == 0).only_enforce_if(~kept)
            costs.append(-worth)
    for kind, wanted in enumerate(problem.kinds):
        model.add(sum(row[kind] for row in count) == wanted.demand)
    model.add(sum(costs) <= most)
    model.minimize(sum(costs))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = limit_s
    solver.parameters.num_workers = 2
    return bool(solver.solve(model) == cp_model.OPTIMAL)


def classes(each: int) -> Iterator[tuple[str, list[Instance]]]:
    """Name and instances."""
    for value in (400, 0):
        yield f"month, offcuts at {value} c/m", [month(seed, value) for seed in range(each)]
    for items in (120, 250, 500, 1000):
        yield f"uniform {items}", [uniform(items, seed) for seed in range(each)]
    for items in (60, 120, 249, 501):
        yield f"triplets {items}", [triplets(items, seed) for seed in range(each)]
    yield "100,000 pieces", [year(0)]


def processor_s() -> float:
    """Seconds that this process and those it started have used of a processor."""
    own, others = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    return own.ru_utime + own.ru_stime + others.ru_utime + others.ru_stime


def measure(name: str, method: Callable[[Instance, float], bool], instances: list[Instance], limit_s: float) -> None:
    """One line of the table."""
    seconds, used, proved = [], [], 0
    for instance in instances:
        start, used_before = time.perf_counter(), processor_s()
        try:
            proved += method(instance, limit_s)
        except TooLarge as size:
            print(f"{name:38s} too large to state: {size}", flush=True)
            return
        seconds.append(time.perf_counter() - start)
        used.append(processor_s() - used_before)
    count = len(instances)
    print(
        f"{name:38s} {proved:3d}/{count:<3d} mean {sum(seconds) / count:6.2f} s  worst {max(seconds):6.2f} s  "
        f"processor mean {sum(used) / count:6.2f} s  load {os.getloadavg()[0]:.1f}",
        flush=True,
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=20)
    parser.add_argument("--plain-each", type=int, default=3)
    parser.add_argument("--limit", type=float, default=20.0)
    parser.add_argument("--plain-limit", type=float, default=20.0)
    parser.add_argument("--only", default="")
    parser.add_argument("--plain", action="store_true")
    chosen = parser.parse_args()
    # What is loaded once is loaded before the clock starts.
    nest(*plain(10, Counter({3: 40, 4: 40, 5: 20}))[:2], cutting=Cutting(Fraction(0), Fraction(0), NO_OFFCUTS))
    for name, instances in classes(chosen.each):
        if chosen.only and not name.startswith(chosen.only):
            continue
        limit_s = 60.0 if name.startswith("100,000") else chosen.limit
        measure(f"{name}: this program", ours, instances, limit_s)
        if chosen.plain:
            some = instances[: chosen.plain_each]
            measure("    the same instances: this program", ours, some, limit_s)
            measure("    HiGHS, arc-flow", highs_arc_flow, some, chosen.plain_limit)
            measure("    SCIP, arc-flow", scip_arc_flow, some, chosen.plain_limit)
            measure("    CP-SAT, assignment", cp_sat, some, chosen.plain_limit)
    with_plain = ", plain models and all" if chosen.plain else ""
    print(f"most memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB{with_plain}")


if __name__ == "__main__":
    main()
