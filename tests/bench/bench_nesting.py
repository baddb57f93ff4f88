"""Nesting beside plain models in general-purpose solvers, on the same instances in the same run.

    python tests/bench/bench_nesting.py [--each 20] [--limit 20] [--plain]

Prints, per class: proved, mean and worst seconds. ``--plain`` adds HiGHS and SCIP on arc-flow (Valerio de Carvalho
1999) and CP-SAT on an assignment model with ordered bars; they need the extra ``bench``. All data is made here.
"""

from __future__ import annotations

import argparse
import random
import resource
import time
from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction

from tubing.nesting import Item, OffcutRule, Proof, Stock, check_nest, nest

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
        kerf_mm=Fraction(kerf),
        end_trim_mm=Fraction(trim),
        offcuts=offcuts,
        time_limit_s=limit_s,
    )
    check_nest(items, answer, stocks=stocks, kerf_mm=Fraction(kerf), end_trim_mm=Fraction(trim), offcuts=offcuts)
    if answer.proof is not Proof.OPTIMAL:
        print(f"    not proved: cost {answer.cost_cents}, bound {answer.bound_cents}; {answer.note}", flush=True)
    return answer.proof is Proof.OPTIMAL


def arcs_of(instance: Instance) -> tuple[int, list[int], list[int], list[tuple[int, int, int]]]:
    """Arc-flow of a plain instance: room, lengths, demands, arcs (from, to, kind; -1 is waste)."""
    items, stocks, _, _, _ = instance
    room = int(stocks[0].length_mm)
    pairs = sorted(((int(i.length_mm), i.quantity) for i in items), reverse=True)
    reached, arcs = {0}, []
    for kind, (length, demand) in enumerate(pairs):
        ends = set(reached)
        for _ in range(min(demand, room // length)):
            ends |= {at + length for at in ends if at + length <= room}
        arcs += [(at, at + length, kind) for at in sorted(ends) if at + length in ends]
        reached = ends
    arcs += [(at, room, -1) for at in sorted(reached) if at != room]
    return room, [p[0] for p in pairs], [p[1] for p in pairs], arcs


def highs_arc_flow(instance: Instance, limit_s: float) -> bool:
    """HiGHS on arc-flow."""
    import highspy

    room, _, demands, arcs = arcs_of(instance)
    model = highspy.Highs()
    model.setOptionValue("output_flag", False)
    model.setOptionValue("time_limit", limit_s)
    model.setOptionValue("mip_abs_gap", 0.99)
    model.setOptionValue("mip_rel_gap", 0.0)
    rows = {node: i for i, node in enumerate(sorted({a[0] for a in arcs} | {a[1] for a in arcs}))}
    for _ in rows:
        model.addRow(0.0, 0.0, 0, [], [])
    for demand in demands:
        model.addRow(float(demand), highspy.kHighsInf, 0, [], [])
    model.addCol(1.0, 0.0, highspy.kHighsInf, 2, [rows[0], rows[room]], [-1.0, 1.0])
    for start, end, kind in arcs:
        index, value = [rows[start], rows[end]], [1.0, -1.0]
        if kind >= 0:
            index, value = [*index, len(rows) + kind], [*value, 1.0]
        model.addCol(0.0, 0.0, highspy.kHighsInf, len(index), index, value)
    for column in range(len(arcs) + 1):
        model.changeColIntegrality(column, highspy.HighsVarType.kInteger)
    model.run()
    return bool(model.getModelStatus() == highspy.HighsModelStatus.kOptimal)


def scip_arc_flow(instance: Instance, limit_s: float) -> bool:
    """SCIP on arc-flow."""
    from pyscipopt import Model, quicksum

    room, _, demands, arcs = arcs_of(instance)
    model = Model()
    model.hideOutput()
    model.setParam("limits/time", limit_s)
    bars = model.addVar(vtype="I", obj=1)
    flow = [model.addVar(vtype="I") for _ in arcs]
    nodes = sorted({a[0] for a in arcs} | {a[1] for a in arcs})
    out: dict[int, list[int]] = {node: [] for node in nodes}
    into: dict[int, list[int]] = {node: [] for node in nodes}
    of_kind: list[list[int]] = [[] for _ in demands]
    for index, (start, end, kind) in enumerate(arcs):
        out[start].append(index)
        into[end].append(index)
        if kind >= 0:
            of_kind[kind].append(index)
    for node in nodes:
        supply = bars if node == 0 else -1 * bars if node == room else 0
        model.addCons(quicksum(flow[i] for i in out[node]) - quicksum(flow[i] for i in into[node]) == supply)
    for kind, demand in enumerate(demands):
        model.addCons(quicksum(flow[i] for i in of_kind[kind]) >= demand)
    model.optimize()
    return bool(model.getStatus() == "optimal")


def cp_sat(instance: Instance, limit_s: float) -> bool:
    """CP-SAT on pieces per bar, bars ordered by what they hold."""
    from ortools.sat.python import cp_model

    room, lengths, demands, _ = arcs_of(instance)
    most, open_bars = 0, [0]
    for length, demand in zip(lengths, demands, strict=True):
        for _ in range(demand):
            place = next((i for i, used in enumerate(open_bars) if used + length <= room), None)
            if place is None:
                open_bars.append(0)
                place = len(open_bars) - 1
            open_bars[place] += length
    most = len(open_bars)
    model = cp_model.CpModel()
    used = [model.new_bool_var(f"u{b}") for b in range(most)]
    count = [
        [model.new_int_var(0, min(d, room // n), f"x{k},{b}") for b in range(most)]
        for k, (n, d) in enumerate(zip(lengths, demands, strict=True))
    ]
    load = [sum(lengths[k] * count[k][b] for k in range(len(lengths))) for b in range(most)]
    for b in range(most):
        model.add(load[b] <= room * used[b])
    for b in range(most - 1):
        model.add(load[b] >= load[b + 1])
    for k, demand in enumerate(demands):
        model.add(sum(count[k]) == demand)
    model.minimize(sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = limit_s
    solver.parameters.num_workers = 2
    return bool(solver.solve(model) == cp_model.OPTIMAL)


def classes(each: int) -> Iterator[tuple[str, list[Instance], bool]]:
    """Name, instances, whether the plain models can state them."""
    for value in (400, 0):
        yield f"month, offcuts at {value} c/m", [month(seed, value) for seed in range(each)], False
    for items in (120, 250, 500, 1000):
        yield f"uniform {items}", [uniform(items, seed) for seed in range(each)], True
    for items in (60, 120, 249, 501):
        yield f"triplets {items}", [triplets(items, seed) for seed in range(each)], True
    yield "100,000 pieces", [year(0)], False


def measure(name: str, method: Callable[[Instance, float], bool], instances: list[Instance], limit_s: float) -> None:
    """One line of the table."""
    seconds, proved = [], 0
    for instance in instances:
        start = time.perf_counter()
        proved += method(instance, limit_s)
        seconds.append(time.perf_counter() - start)
    mean = sum(seconds) / len(seconds)
    print(f"{name:44s} {proved:3d}/{len(instances):<3d} mean {mean:7.2f} s  worst {max(seconds):7.2f} s", flush=True)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=20)
    parser.add_argument("--plain-each", type=int, default=3)
    parser.add_argument("--limit", type=float, default=20.0)
    parser.add_argument("--only", default="")
    parser.add_argument("--plain", action="store_true")
    chosen = parser.parse_args()
    nest(
        *plain(10, Counter({3: 40, 4: 40, 5: 20}))[:2], kerf_mm=Fraction(0), end_trim_mm=Fraction(0), offcuts=NO_OFFCUTS
    )
    for name, instances, stated in classes(chosen.each):
        if chosen.only and not name.startswith(chosen.only):
            continue
        limit_s = 60.0 if name.startswith("100,000") else chosen.limit
        measure(f"{name}: this program", ours, instances, limit_s)
        if chosen.plain and stated:
            some = instances[: chosen.plain_each]
            measure("    HiGHS, arc-flow", highs_arc_flow, some, limit_s)
            measure("    SCIP, arc-flow", scip_arc_flow, some, limit_s)
            measure("    CP-SAT, assignment", cp_sat, some, limit_s)
    print(f"most memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")


if __name__ == "__main__":
    main()
