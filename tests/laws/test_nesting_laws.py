"""Nesting against brute force that shares no code with it, and laws that hold whatever the numbers are."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.nesting_cases import Case, cases
from tubing.errors import StockError
from tubing.nesting import (
    Cutting,
    Item,
    Nest,
    OffcutRule,
    Proof,
    Stock,
    closing_the_gap,
    engine,
    nest,
    remainder_states,
)
from tubing.nesting.arc_flow import cheapest_flow
from tubing.nesting.filling import filled_plan
from tubing.nesting.length_bound import length_bound
from tubing.nesting.patterns import TooManyPatterns, needed_patterns
from tubing.nesting.problem import Pattern, Problem, problem_of_size
from tubing.nesting.random_dives import plan_among
from tubing.nesting.tight_patterns import tight_fillings


def three_aims(answer: Nest) -> tuple[int, int, Fraction]:
    """What brute force answers, read off a plan."""
    return answer.cost_cents, answer.bar_count, -max(bar.left_mm for bar in answer.bars)


@pytest.mark.long
@pytest.mark.parametrize("first", range(0, 500, 100))
def test_brute_force_finds_the_same_cost_bars_and_longest_offcut(first: int) -> None:
    """Several stocks, prices, limits, kerf, trim, offcut values and ready ends: all three aims, hundreds of cases."""
    compared = 0
    for case in cases(first, first + 100):
        expected = case.by_hand()
        if expected is None:
            with pytest.raises(StockError):
                case.solve()
            continue
        answer = case.solve()
        case.check(answer)
        assert answer.proof is Proof.OPTIMAL
        assert three_aims(answer) == expected, vars(case)
        compared += 1
    assert compared > 40


@pytest.mark.long
def test_the_integer_programme_over_all_patterns_agrees_with_brute_force(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same cases with the two searches for few pieces switched off."""
    monkeypatch.setattr(engine, "best_of_few", lambda problem: None)
    monkeypatch.setattr(remainder_states, "MOST_REMAINDERS", 0)
    for case in cases(1000, 1060):
        expected = case.by_hand()
        if expected is None:
            with pytest.raises(StockError):
                case.solve()
            continue
        answer = case.solve()
        case.check(answer)
        assert three_aims(answer) == expected, vars(case)


@pytest.mark.long
def test_the_search_by_remainders_agrees_with_brute_force(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same cases with only the very small search switched off."""
    monkeypatch.setattr(engine, "best_of_few", lambda problem: None)
    for case in cases(3000, 3060):
        expected = case.by_hand()
        if expected is not None:
            answer = case.solve()
            case.check(answer)
            assert three_aims(answer) == expected, vars(case)


@pytest.mark.long
def test_column_generation_never_says_better_than_brute_force(monkeypatch: pytest.MonkeyPatch) -> None:
    """The method for many patterns on small cases: proved plans cost what brute force says, bounds are never above."""
    monkeypatch.setattr(engine, "best_of_few", lambda problem: None)
    monkeypatch.setattr(engine, "MOST_PATTERNS", 0)
    proved = answered = 0
    for case in cases(2000, 2120):
        expected = case.by_hand()
        if expected is None:
            with pytest.raises(StockError):
                case.solve()
            continue
        answer = case.solve()
        case.check(answer)
        assert answer.bound_cents <= expected[0] <= answer.cost_cents, vars(case)
        answered += 1
        proved += answer.proof is Proof.OPTIMAL
        if answer.proof is Proof.OPTIMAL and "fewest bars" not in answer.note:
            assert answer.bar_count == expected[1], vars(case)
            assert "the longest offcut" in answer.note or three_aims(answer) == expected, vars(case)
    assert answered > 60
    assert proved >= 0.97 * answered


@pytest.mark.long
def test_a_proof_by_arcs_never_says_better_than_brute_force(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same with fillings, dives and listed patterns switched off, so that arc-flow has to close what is open."""

    def refuse(*_: object) -> list[Pattern]:
        raise TooManyPatterns

    monkeypatch.setattr(engine, "best_of_few", lambda problem: None)
    monkeypatch.setattr(engine, "MOST_PATTERNS", 0)
    monkeypatch.setattr(closing_the_gap, "filled_plan", lambda *_: None)
    monkeypatch.setattr(closing_the_gap, "nearly_best", refuse)
    monkeypatch.setattr(closing_the_gap, "COARSE_DIVES", 0)
    monkeypatch.setattr(closing_the_gap, "DIVES", 0)
    asked = []
    monkeypatch.setattr(closing_the_gap, "cheapest_flow", lambda *words: asked.append(words) or cheapest_flow(*words))
    for case in cases(4000, 4140):
        if any(stock.ready_ends for stock in case.stocks) or not case.by_greed():
            continue
        expected = case.by_hand()
        if expected is not None:
            answer = case.solve()
            case.check(answer)
            assert answer.proof is Proof.OPTIMAL
            assert answer.cost_cents == expected[0], vars(case)
    assert len(asked) > 10


@pytest.mark.long
def test_the_bound_by_length_is_never_above_brute_force() -> None:
    """Several stocks, limits, kerf, trim, offcut values, ready ends that shorten pieces; and often it is all there is
    to know.
    """
    compared = reached = 0
    for case in cases(8000, 8600):
        expected = case.by_hand()
        if expected is not None:
            bound = length_bound(case.problem())
            assert bound <= expected[0], vars(case)
            compared += 1
            reached += bound == expected[0]
    assert compared > 350
    assert reached > 0.15 * compared


def test_filling_cuts_what_is_wanted_from_the_bars_there_are() -> None:
    """Whatever it is asked, a plan it gives is a plan."""
    filled = 0
    for case in cases(6000, 6060):
        problem = case.problem()
        for seed in range(3):
            plan = filled_plan(problem, [stock.limit for stock in problem.stocks], (), None, seed)
            if plan is not None:
                filled += 1
                wanted = [kind.demand for kind in problem.kinds]
                assert [sum(dict(p.pieces).get(k, 0) for p in plan) for k in range(len(wanted))] == wanted
                for index, stock in enumerate(problem.stocks):
                    assert sum(p.stock == index for p in plan) <= stock.limit
    assert filled > 60


def every_pattern(problem: Problem) -> list[Pattern]:
    """All that any bar can be cut into: piece after piece, each kind after those before it."""
    found = []

    def add(stock: int, first: int, pieces: dict[int, int]) -> None:
        for kind in range(first, len(problem.kinds)):
            more = {**pieces, kind: pieces.get(kind, 0) + 1}
            pattern = problem.pattern(stock, tuple(sorted(more.items())))
            if pattern is not None and more[kind] <= problem.kinds[kind].demand:
                found.append(pattern)
                add(stock, kind, more)

    for stock in range(len(problem.stocks)):
        if problem.stocks[stock].limit > 0:
            add(stock, 0, {})
    return found


@pytest.mark.long
@pytest.mark.parametrize("seed", range(60))
def test_many_kinds_of_bar_need_few_patterns_and_lose_no_plan(seed: int) -> None:
    """Up to nine stocks, most of them limited to a bar or two: the best plan is that of trying everything."""
    chance = random.Random(seed)
    case = Case(chance.randint(0, 10**6))
    case.items = [Item(f"p{k}", "8", Fraction(chance.randint(8, 20))) for k in range(chance.randint(2, 4))]
    case.stocks = [
        Stock(f"s{k}", "8", Fraction(20 + k * chance.randint(1, 5), 1) + Fraction(k, 100), chance.randint(1, 9), limit)
        for k in range(chance.randint(4, 9))
        for limit in [chance.choice([None, 1, 1, 2])]
    ]
    case.kerf = case.trim = Fraction(0)
    problem = case.problem()
    assert len(needed_patterns(problem, 10**6)) <= len(every_pattern(problem))
    best = case.by_hand()
    if best is None:
        with pytest.raises(StockError):
            case.solve()
    else:
        answer = case.solve()
        case.check(answer)
        assert answer.cost_cents == best[0]


def test_tight_fillings_are_all_the_patterns_that_leave_so_little() -> None:
    """Against all patterns of all stocks, listed by the search that needs no sums."""
    compared = 0
    for case in cases(7000, 7080):
        problem = case.problem()
        patterns = every_pattern(problem)
        for stock, tight in tight_fillings(problem, 4).items():
            room = problem.room(stock)
            left = [
                (room - sum((problem.kinds[k].length + problem.kerf) * n for k, n in p.pieces), p.pieces)
                for p in patterns
                if p.stock == stock
            ]
            keeping = [(over, pieces) for over, pieces in left if problem.value(over - problem.kerf) > 0]
            rest = [way for way in left if way not in keeping and way[0] < tight.others]
            assert [way for way in sorted(tight.fillings) if way not in keeping] == sorted(rest)
            if tight.keeping is not None:
                assert set(keeping) <= {*tight.keeping, *tight.fillings}
                compared += bool(keeping)
    assert compared > 10


@pytest.mark.long
@pytest.mark.parametrize("seed", range(5))
def test_patterns_that_waste_nothing_make_a_plan_that_wastes_nothing(seed: int) -> None:
    """Bars cut at random into three pieces can be made whole again."""
    chance = random.Random(seed)
    items = []
    for bar in range(30):
        first = chance.randint(380, 490)
        second = chance.randint(250, (1000 - first) // 2)
        items += [Item(f"{bar}", "8", Fraction(n)) for n in (first, second, 1000 - first - second)]
    nothing = OffcutRule(Fraction(0), Fraction(0))
    problem = problem_of_size(items, [Stock("s", "8", Fraction(1000), 7)], Cutting(Fraction(0), Fraction(0), nothing))
    patterns = [p for p in every_pattern(problem) if p.left == 0]
    plan = plan_among(problem, patterns, 210, 50, lambda: None)
    assert plan is not None
    assert len(plan) == 30
    assert plan_among(problem, patterns, 209, 3, lambda: None) is None


lists = st.lists(st.tuples(st.integers(40, 400), st.integers(1, 4)), min_size=1, max_size=6)


def plain(pieces: list[tuple[int, int]], bars: list[tuple[int, int]], kerf: int = 2, trim: int = 3) -> Nest:
    """A nest of plain lengths on plain bars."""
    return nest(
        [Item(f"p{i}", "8", Fraction(length), n) for i, (length, n) in enumerate(pieces)],
        [Stock(f"s{i}", "8", Fraction(length), price) for i, (length, price) in enumerate(bars)],
        cutting=Cutting(Fraction(kerf), Fraction(trim), OffcutRule(Fraction(100), Fraction(300))),
    )


@pytest.mark.long
@settings(deadline=None, max_examples=40)
@given(lists, st.integers(410, 900), st.integers(300, 900))
def test_more_stock_never_costs_more(pieces: list[tuple[int, int]], length: int, price: int) -> None:
    """Another bar to choose from can only help."""
    one = plain(pieces, [(1000, 800)])
    two = plain(pieces, [(1000, 800), (length, price)])
    assert one.proof is two.proof is Proof.OPTIMAL
    assert two.cost_cents <= one.cost_cents


@pytest.mark.long
@settings(deadline=None, max_examples=40)
@given(lists, st.randoms(use_true_random=False))
def test_the_order_of_pieces_changes_no_cost(pieces: list[tuple[int, int]], chance: random.Random) -> None:
    """A list is a set of pieces; who wrote which line first does not matter."""
    turned = chance.sample(pieces, len(pieces))
    assert three_aims(plain(pieces, [(1000, 800), (700, 590)])) == three_aims(plain(turned, [(1000, 800), (700, 590)]))


@pytest.mark.long
@settings(deadline=None, max_examples=40)
@given(lists, st.integers(1, 9))
def test_millimetres_or_any_other_unit(pieces: list[tuple[int, int]], factor: int) -> None:
    """Everything longer by one factor is the same problem: cost by length alone."""

    def scaled(by: Fraction) -> Nest:
        return nest(
            [Item(f"p{i}", "8", length * by, n) for i, (length, n) in enumerate(pieces)],
            [Stock("s", "8", 1000 * by, 800)],
            cutting=Cutting(2 * by, 3 * by, OffcutRule(100 * by, 300 / by)),
        )

    assert three_aims(scaled(Fraction(1)))[:2] == three_aims(scaled(Fraction(factor, 7)))[:2]


def test_equal_lengths_become_one_kind_and_the_grid_is_their_common_divisor() -> None:
    """Inches and millimetres together still are whole ticks."""
    items = [Item("a", "8", Fraction(127, 4)), Item("b", "8", Fraction(127, 4), 2), Item("c", "8", Fraction(40))]
    problem = problem_of_size(
        items,
        [Stock("s", "8", Fraction(6000), 1)],
        Cutting(Fraction(2), Fraction(0), OffcutRule(Fraction(0), Fraction(0))),
    )
    assert [kind.demand for kind in problem.kinds] == [1, 3]
    assert problem.tick_mm == Fraction(1, 4)
