"""Cutting-stock problems with published optima.

Each case: bar length and price, pieces as ``length x demand``, the optimum. The optima were also verified with two
solvers over all patterns. Falkenauer's two classes are made afresh by the recipe of Journal of Heuristics 2, 1996.
"""

from __future__ import annotations

import random
from collections import Counter
from fractions import Fraction

import pytest

from tubing.nesting import Cutting, Item, Nest, OffcutRule, Proof, Stock, check_nest, nest
from tubing.nesting.length_bound import l2_bars
from tubing.nesting.problem import problem_of_size

NO_OFFCUTS = OffcutRule(Fraction(0), Fraction(0))


def cut(bars: list[tuple[int, int]], pieces: str | Counter[int], offcuts: OffcutRule = NO_OFFCUTS) -> Nest:
    """Nest without kerf or trim, checked."""
    if isinstance(pieces, str):
        pairs = [part.split("x") for part in pieces.split()]
        pieces = Counter({int(length): int(demand) for length, demand in pairs})
    items = [Item(f"{length}", "any", Fraction(length), n) for length, n in sorted(pieces.items())]
    stocks = [Stock(f"{length}", "any", Fraction(length), price) for length, price in bars]
    answer = nest(items, stocks, cutting=Cutting(Fraction(0), Fraction(0), offcuts))
    check_nest(items, answer, stocks=stocks, cutting=Cutting(Fraction(0), Fraction(0), offcuts))
    assert answer.proof is Proof.OPTIMAL
    assert answer.bound_cents == answer.cost_cents
    return answer


def test_chvatal() -> None:
    """Chvatal, Linear Programming, 1983, ch. 13: 453 raws of 100; the LP bound is 452.25."""
    assert cut([(100, 1)], "45x97 36x610 31x395 14x211").bar_count == 453


def test_paper_rolls() -> None:
    """Wikipedia, "Cutting stock problem": 73 rolls of 5600; waste 0.401 %, printed to three decimals."""
    answer = cut(
        [(5600, 1)],
        "1380x22 1520x25 1560x12 1710x14 1820x18 1880x18 1930x20 2000x10 2050x12 2100x14 2140x16 2150x18 2200x20",
    )
    assert answer.bar_count == 73
    used = sum(sum(bar.lengths_mm) * bar.count for bar in answer.bars)
    assert float(1 - used / (73 * 5600)) * 100 == pytest.approx(0.401, abs=0.0005)


def test_roll_trim() -> None:
    """Fourer, Gay, Kernighan, AMPL, roll trim: 47 rolls of 110; the LP bound is 46.25."""
    assert cut([(110, 1)], "20x48 45x35 50x24 55x10 75x8").bar_count == 47


def test_pedroso_and_kubo() -> None:
    """Pedroso and Kubo, worked example 2: 13 bins of 9; the LP bound is 12.5."""
    assert cut([(9, 1)], "2x4 3x2 4x6 5x6 6x2 7x2 8x2").bar_count == 13


def test_boards() -> None:
    """Winston, board example (attribution from memory): 19 boards of 17 ft; the LP bound is 18.33."""
    assert cut([(17, 1)], "3x25 5x20 9x15").bar_count == 19


def test_bound_rounded_up_is_out_of_reach() -> None:
    """Fieldhouse, SICUP Bulletin 5(4), 1990 (numbers from memory, optimum verified): 3, though the LP says 1.962."""
    assert cut([(132, 1)], "44x2 33x3 12x6").bar_count == 3


def test_jump_tutorial() -> None:
    """JuMP documentation, cutting stock tutorial, lengths times ten: 334."""
    pieces = (
        "750x189 538x33 530x36 510x41 502x35 322x37 308x44 298x49 201x37 162x36 145x42 110x33 86x47 82x35 66x49 51x42"
    )
    assert cut([(1000, 1)], pieces).bar_count == 334


def test_three_stock_lengths() -> None:
    """Gilmore and Gomory 1961 (as in the MO-book): 5, 6, 9 at 6, 7, 10 cost 170."""
    assert cut([(5, 6), (6, 7), (9, 10)], "2x20 3x10 4x20").cost_cents == 170


def test_three_stock_lengths_at_cost_equal_to_length() -> None:
    """A variation of Gilmore and Gomory's data: nothing is wasted, 150."""
    assert cut([(5, 5), (6, 6), (9, 9)], "2x20 3x10 4x20").cost_cents == 150


def test_three_longer_stock_lengths() -> None:
    """Cost equal to length, verified with two solvers: 16575; the LP bound is 16571.43."""
    assert cut([(100, 100), (80, 80), (55, 55)], "45x150 30x200 18x175").cost_cents == 16575


def triplets(items: int, seed: int) -> Counter[int]:
    """Triplets that fill 1000 exactly, so ``items / 3`` bars are the optimum by construction."""
    chance = random.Random(f"triplets {items} {seed}")
    lengths = Counter[int]()
    for _ in range(items // 3):
        first = chance.randint(380, 490)
        second = chance.randint(250, (1000 - first) // 2)
        lengths.update((first, second, 1000 - first - second))
    return lengths


def uniform(items: int, seed: int) -> Counter[int]:
    """Lengths uniform on 20 to 100, bars of 150."""
    chance = random.Random(f"uniform {items} {seed}")
    return Counter(chance.randint(20, 100) for _ in range(items))


@pytest.mark.long
@pytest.mark.parametrize("items", [60, 120, 249])
@pytest.mark.parametrize("seed", [1, 2])
def test_triplets_fill_every_bar(items: int, seed: int) -> None:
    """Falkenauer's class t: the optimum is known by construction."""
    assert cut([(1000, 1)], triplets(items, seed)).bar_count == items // 3


def arc_flow_bars(room: int, lengths: Counter[int]) -> int:
    """Bars by a plain arc-flow model (Valerio de Carvalho 1999) in HiGHS through PuLP; shares nothing with nesting."""
    import pulp

    model = pulp.LpProblem("arcs", pulp.LpMinimize)
    order = sorted(lengths, reverse=True)
    reached, arcs = {0}, []
    for index, length in enumerate(order):
        ends = set(reached)
        for _ in range(min(lengths[length], room // length)):
            ends |= {at + length for at in ends if at + length <= room}
        arcs += [(at, at + length, index) for at in ends if at + length in ends]
        reached = ends
    arcs += [(at, room, -1) for at in reached if at != room]
    flow = [model.add_variable(f"f{i}", 0, None, pulp.LpInteger) for i in range(len(arcs))]
    bars = model.add_variable("bars", 0, None, pulp.LpInteger)
    model += pulp.LpAffineExpression([(bars, 1)])
    out: dict[int, list[tuple[pulp.LpVariable, int]]] = {}
    for variable, (start, end, _) in zip(flow, arcs, strict=True):
        out.setdefault(start, []).append((variable, 1))
        out.setdefault(end, []).append((variable, -1))
    out.setdefault(0, []).append((bars, -1))
    out.setdefault(room, []).append((bars, 1))
    for terms in out.values():
        model += pulp.LpConstraint(pulp.LpAffineExpression(terms), sense=pulp.LpConstraintEQ, rhs=0)
    for index, length in enumerate(order):
        terms = [(v, 1) for v, arc in zip(flow, arcs, strict=True) if arc[2] == index]
        model += pulp.LpConstraint(pulp.LpAffineExpression(terms), sense=pulp.LpConstraintGE, rhs=lengths[length])
    model.solve(pulp.HiGHS(msg=False, gapAbs=0.99, timeLimit=60))
    assert model.sol_status == pulp.LpSolutionOptimal
    return round(bars.varValue)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(20))
def test_uniform_class_against_a_plain_arc_flow_model(seed: int) -> None:
    """Falkenauer's class u, small instances, against an independent exact model in a general-purpose solver."""
    lengths = uniform(15 + seed // 3, seed)
    assert cut([(150, 1)], lengths).bar_count == arc_flow_bars(150, lengths)


@pytest.mark.parametrize("items", [120, 250, 500, 1000])
def test_uniform_class_is_proved_at_its_published_sizes(items: int) -> None:
    """Falkenauer's class u: proved, and not below the bound L2 of Martello and Toth."""
    lengths = uniform(items, 7)
    answer = cut([(150, 1)], lengths)
    problem = problem_of_size(
        [Item(f"{length}", "any", Fraction(length), n) for length, n in lengths.items()],
        [Stock("bar", "any", Fraction(150), 1)],
        Cutting(Fraction(0), Fraction(0), NO_OFFCUTS),
    )
    assert l2_bars(problem, 150) <= answer.bar_count
