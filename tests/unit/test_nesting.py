"""Nesting: what it refuses and how it says so, marks, ready ends, counts, progress, interrupts, the check."""

from __future__ import annotations

import random
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import pytest
from msgspec.structs import replace

from tubing.errors import CheckError, InputError, StockError, TubingError
from tubing.nesting import (
    Cutting,
    End,
    Item,
    Nest,
    OffcutRule,
    Progress,
    Proof,
    Stock,
    check_nest,
    closing_the_gap,
    engine,
    nest,
)
from tubing.nesting.integer_programme import Programme
from tubing.nesting.length_bound import length_bound
from tubing.nesting.problem import Problem, problem_of_size
from tubing.nesting.second_opinion import SecondOpinion
from tubing.nesting.watch import OutOfTime, Watch

NO_OFFCUTS = OffcutRule(Fraction(300), Fraction(0))
BAR = Stock("6 m", "8", Fraction(6000), 3000)


def cut(
    items: list[Item], stocks: list[Stock], kerf_mm: int = 0, trim_mm: int = 0, rule: OffcutRule = NO_OFFCUTS
) -> Nest:
    """A nest, checked."""
    kerf, trim = Fraction(kerf_mm), Fraction(trim_mm)
    answer = nest(items, stocks, cutting=Cutting(kerf, trim, rule))
    check_nest(items, answer, stocks=stocks, cutting=Cutting(kerf, trim, rule))
    return answer


def piece(length_mm: int, quantity: int = 1, name: str = "a", *ends: End) -> Item:
    """A piece of size 8."""
    return Item(name, "8", Fraction(length_mm), quantity, ends)


REFUSED: list[tuple[list[Item], list[Stock], type[TubingError], str]] = [
    (
        [piece(0, name="tail")],
        [BAR],
        InputError,
        "piece 'tail': its length is 0 mm; it must be longer than 0 mm; correct the length",
    ),
    (
        [piece(-5, name="tail")],
        [BAR],
        InputError,
        "piece 'tail': its length is -5 mm; it must be longer than 0 mm; correct the length",
    ),
    (
        [piece(400, 0, "tail")],
        [BAR],
        InputError,
        "piece 'tail': its quantity is 0; it must be a whole number from 1; correct it or leave it out",
    ),
    (
        [piece(6001, name="tail")],
        [BAR],
        StockError,
        "piece 'tail': its length is 6001 mm; the longest usable bar is 6000 mm; buy a longer bar, or lead the run "
        "shorter or move the motor: guide tube is not to be joined",
    ),
    (
        [Item("tail", "10", Fraction(400))],
        [BAR],
        StockError,
        "piece 'tail': no stock of its size '10'; the stock is '8'; add a bar of '10' to the stock",
    ),
    (
        [piece(4000, 3)],
        [replace(BAR, limit=2)],
        StockError,
        "3 pieces of size '8': they do not all fit the 2 bars there are (the longest piece, 'a', is 4000 mm); every "
        "piece needs room on a bar; add stock, or take the limit off a bar",
    ),
    (
        [piece(400)],
        [BAR, replace(BAR, name="again")],
        InputError,
        "stock 'again': size '8' in 6000 mm is given twice; each length of new stock must be given once; remove one, "
        "or say how many bars there are at each price",
    ),
    (
        [piece(400)],
        [replace(BAR, price_cents=-1)],
        InputError,
        "stock '6 m': its price is -1 cents; it must be 0 or more; correct the price",
    ),
]


@pytest.mark.parametrize(("items", "stocks", "error", "sentence"), REFUSED)
def test_what_is_refused_is_said_in_one_sentence(
    items: list[Item], stocks: list[Stock], error: type[TubingError], sentence: str
) -> None:
    """Which thing, what it is, what it had to be, what to do."""
    with pytest.raises(error) as refused:
        cut(items, stocks)
    assert str(refused.value) == sentence


def test_negative_kerf_is_refused() -> None:
    """A saw adds nothing."""
    with pytest.raises(InputError) as refused:
        cut([piece(400)], [BAR], kerf_mm=-1)
    assert str(refused.value) == "kerf: it is -1 mm; it must be 0 mm or more; give 0 mm for none"


def test_no_time_is_refused() -> None:
    """A time limit must allow something."""
    with pytest.raises(InputError) as refused:
        nest([piece(400)], [BAR], cutting=Cutting(Fraction(0), Fraction(0), NO_OFFCUTS), time_limit_s=0)
    assert str(refused.value) == "time limit: it is 0 s; it must be longer than 0 s; give 10 s or so"


def test_the_last_piece_needs_no_cut_behind_it() -> None:
    """§4 Kerf: n pieces fit a bar when their lengths and n - 1 kerfs do."""
    stock = [Stock("1 m", "8", Fraction(1000), 500)]
    assert cut([piece(499, 2)], stock, kerf_mm=2).bar_count == 1
    assert cut([piece(499, 2)], stock, kerf_mm=3).bar_count == 2


def test_marks_run_from_the_trim_over_each_piece() -> None:
    """The first mark is the trim; a kerf lies between pieces; what is left has lost the last cut."""
    (bar,) = cut([piece(1000, 1, "a"), piece(600, 2, "b")], [BAR], kerf_mm=2, trim_mm=5).bars
    assert bar.items == ("a", "b", "b")
    assert bar.marks_mm == (5, 1005, 1607, 2209)
    assert bar.left_mm == 6000 - 2209 - 2 - 5
    assert bar.kept


def test_a_ready_end_saves_its_flare_and_shortens_the_piece() -> None:
    """The piece lies at the ready end, which needs no trim; flare and nut must both match."""
    double = End("double", True, Fraction(4))
    ready = [Stock("ready", "8", Fraction(1000), 500, ready_ends=(End("double", True),))]
    (bar,) = cut([piece(400, 1, "nose", double, End("single", False))], ready, kerf_mm=2, trim_mm=5).bars
    assert bar.lengths_mm == (396,)
    assert bar.marks_mm == (396,)
    assert [(s.ready_end, s.piece, s.piece_end) for s in bar.saved_ends] == [(0, 0, 0)]
    assert bar.left_mm == 1000 - 5 - 396 - 2
    (bar,) = cut([piece(400, 1, "nose", End("double", False, Fraction(4)))], ready, kerf_mm=2, trim_mm=5).bars
    assert bar.lengths_mm == (400,)
    assert not bar.saved_ends


def test_two_ready_ends_serve_two_pieces() -> None:
    """One at each end of the bar, what is left between."""
    double = End("double", True, Fraction(4))
    ready = [Stock("ready", "8", Fraction(1000), 500, ready_ends=(End("double", True), End("double", True)))]
    (bar,) = cut([piece(400, 2, "nose", double)], ready, kerf_mm=2, trim_mm=5).bars
    assert bar.lengths_mm == (396, 396)
    assert bar.marks_mm == (396, 1000 - 396 - 2)
    assert bar.left_mm == 1000 - 2 * 396 - 2 * 2


def test_offcuts_on_the_shelf_are_one_each() -> None:
    """The same length twice on the shelf is two offcuts, and no third."""
    shelf = [Stock(f"shelf {n}", "8", Fraction(500), 100, on_shelf=True) for n in range(2)]
    answer = cut([piece(450, 3)], [BAR, *shelf])
    assert sorted(bar.stock.name for bar in answer.bars) == ["6 m", "shelf 0", "shelf 1"] or answer.cost_cents == 3000
    answer = cut([piece(450, 2)], [BAR, *shelf])
    assert [(bar.stock.name, bar.count) for bar in answer.bars] == [("shelf 0", 1), ("shelf 1", 1)]
    assert answer.cost_cents == 200


def test_sizes_are_never_mixed() -> None:
    """Two sizes of 400 mm need two bars."""
    other = replace(BAR, size="10", price_cents=4000)
    answer = cut([piece(400), Item("b", "10", Fraction(400))], [BAR, other])
    assert answer.cost_cents == 7000
    assert {(bar.stock.size, bar.items) for bar in answer.bars} == {("8", ("a",)), ("10", ("b",))}


def test_equal_bars_come_once_with_their_count() -> None:
    """Ten bars cut alike are one line on the saw list."""
    (bar,) = cut([piece(2000, 30)], [BAR]).bars
    assert (bar.count, bar.items) == (10, ("a", "a", "a"))


def test_fewest_bars_then_the_longest_offcut() -> None:
    """At equal cost one 6 m bar beats two of 3 m; what is left is on one bar, not shared out."""
    answer = cut([piece(2500, 2)], [BAR, Stock("3 m", "8", Fraction(3000), 1500)])
    assert answer.bar_count == 1
    answer = cut([piece(1000, 8), piece(500, 2, "b")], [BAR])
    assert max(bar.left_mm for bar in answer.bars) == 3000


def test_no_items_cost_nothing() -> None:
    """An empty list is a plan without bars."""
    assert cut([], [BAR]) == Nest((), 0, 0, Proof.OPTIMAL)


def month() -> tuple[list[Item], list[Stock]]:
    """More patterns than can be listed."""
    items = [piece(300 + 37 * n % 611, 3 + n % 4, f"p{n}") for n in range(25)]
    return items, [BAR, Stock("4 m", "8", Fraction(4000), 2150)]


@pytest.mark.long
def test_the_same_input_gives_the_same_plan_whatever_the_hash_seed() -> None:
    """Nothing may depend on the order of a set."""
    code = (
        "import sys; sys.path.insert(0, 'tests/unit'); from test_nesting import *; "
        "print(cut(*month(), kerf_mm=2, trim_mm=5, rule=OffcutRule(Fraction(300), Fraction(400))))"
    )
    answers = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": "."},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(answers) == 1
    assert b"HiGHS" not in answers.pop()


def test_progress_tells_cost_bound_and_what_could_be_saved(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cost so far is never below what it cannot be below."""
    monkeypatch.setattr("tubing.nesting.watch.TELL_EVERY_S", 0.0)
    told: list[Progress] = []
    items, stocks = month()
    answer = nest(
        items,
        stocks,
        cutting=Cutting(Fraction(2), Fraction(5), NO_OFFCUTS),
        progress=told.append,
    )
    assert told
    for state in told:
        assert state.cannot_be_below_cents <= answer.cost_cents <= state.cost_so_far_cents
        assert state.could_still_save_cents == state.cost_so_far_cents - state.cannot_be_below_cents


def test_an_interrupt_gives_the_best_plan_so_far(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing that was found is lost."""

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(engine, "_solve_large", stopped)
    answer = cut(*month(), kerf_mm=2, trim_mm=5)
    assert answer.interrupted
    assert answer.proof is Proof.FEASIBLE
    assert answer.bound_cents < answer.cost_cents


def test_a_year_of_pieces_is_proved_by_filling_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where many pieces lie on a bar, bars filled to the last tick reach the bound that the length alone gives."""
    monkeypatch.setattr(closing_the_gap.Closing, "_root", lambda self: pytest.fail("a linear programme was asked"))
    items = [piece(150 + 37 * n % 751, 150 + 7 * n % 101, f"p{n}") for n in range(80)]
    answer = cut(items, [BAR], kerf_mm=2, trim_mm=5)
    needed = sum((item.length_mm + 2) * item.quantity for item in items)
    assert answer.proof is Proof.OPTIMAL
    assert answer.bar_count == -(-needed // (6000 - 10 + 2))


def test_an_offcut_that_is_not_proved_the_longest_is_said_to_be_so() -> None:
    """Few pieces on a bar: the bound on what can be left in one piece is not reached."""
    chance = random.Random(3)
    items = [piece(n, chance.randint(1, 9), f"p{n}") for n in sorted({chance.randint(900, 2900) for _ in range(60)})]
    answer = cut(items, [BAR])
    assert answer.proof is Proof.OPTIMAL
    assert answer.note == "of plans at this cost, the longest offcut is not proved"


def impossible_programme() -> Programme:
    """No whole numbers add up so: twos to an odd number."""
    programme = Programme([1] * 40, [3] * 40)
    programme.row([(i, 2) for i in range(40)], "=", 41)
    return programme


def test_cbc_says_impossible_too_and_leaves_nothing_behind() -> None:
    """Its word, its process and its files."""
    second = SecondOpinion(impossible_programme().model, 20.0)
    assert second.process is not None
    second.process.wait()
    assert second.impossible()
    second.stop()
    assert not Path(second.folder.name).exists()
    possible = Programme([1], [3])
    possible.row([(0, 2)], "=", 4)
    second = SecondOpinion(possible.model, 20.0)
    assert second.process is not None
    second.process.wait()
    assert not second.impossible()
    second.stop()


def hard_programme() -> Programme:
    """A market split: HiGHS would be at it for hours."""
    chance = random.Random(1)
    programme = Programme([1] * 60, [1] * 60)
    for _ in range(6):
        row = [chance.randint(0, 99) for _ in range(60)]
        programme.row(list(enumerate(row)), "=", sum(row) // 2)
    return programme


def test_the_first_to_say_impossible_is_believed_and_the_other_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    """HiGHS is stopped, CBC's process is gone."""
    asked: list[SecondOpinion] = []
    monkeypatch.setattr("tubing.nesting.integer_programme.ALONE_S", 0.0)
    monkeypatch.setattr(SecondOpinion, "impossible", lambda self: asked.append(self) or True)
    assert hard_programme().solve(60.0, doubted=True) == (Proof.IMPOSSIBLE, None)
    assert asked[0].process is not None
    assert asked[0].process.poll() is not None


def test_an_interrupt_ends_both_solvers(monkeypatch: pytest.MonkeyPatch) -> None:
    """No process is left behind when the keyboard stops a solve."""
    started: list[SecondOpinion] = []
    monkeypatch.setattr("tubing.nesting.integer_programme.ALONE_S", 0.0)
    monkeypatch.setattr(
        "tubing.nesting.integer_programme.SecondOpinion",
        lambda *words: started.append(SecondOpinion(*words)) or started[0],
    )

    def stopped() -> None:
        if started:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        hard_programme().solve(60.0, waiting=stopped, doubted=True)
    assert started[0].process is not None
    assert started[0].process.poll() is not None


def test_a_time_too_short_for_any_plan_on_limited_bars() -> None:
    """Two fours first leave no room for the threes; what fits was not found in a nanosecond."""
    bars = [Stock("10", "8", Fraction(10), 1, limit=40)]
    with pytest.raises(StockError) as refused:
        nest(
            [piece(4, 40), piece(3, 80, "b")],
            bars,
            cutting=Cutting(Fraction(0), Fraction(0), NO_OFFCUTS),
            time_limit_s=1e-9,
        )
    assert str(refused.value) == (
        "120 pieces of size '8': no plan was found in the time allowed; with their saw cuts the pieces need "
        "400 mm, and the limited bars have 400 mm: whether they can be shared out so is not known; give more time, or "
        "add stock"
    )
    assert cut([piece(4, 40), piece(3, 80, "b")], bars).bar_count == 40


SHELF = [Stock("shelf", "8", Fraction(1000), 10, on_shelf=True), Stock("1 m", "8", Fraction(1000), 500)]
LENGTH_BOUNDS = [
    # Ten halves of a bar: the one on the shelf at 10, then four at 500.
    ([piece(500, 10)], SHELF, NO_OFFCUTS, 2010),
    # Not a whole bar more: 250 of 1000 mm at 500, rounded up to a cent.
    ([piece(250, 5)], SHELF, NO_OFFCUTS, 135),
    # Half of the bar is kept, at 400 a metre.
    ([piece(500)], SHELF[1:], OffcutRule(Fraction(300), Fraction(400)), 300),
    # From 600 mm on only it would be: two bars of which 750 mm each are kept, not one of which nothing is.
    ([piece(250, 2)], SHELF[1:], OffcutRule(Fraction(600), Fraction(400)), 400),
    # A bar that is worth less than what is left of it, but only the one that there is.
    ([piece(100, 2)], SHELF, OffcutRule(Fraction(300), Fraction(400)), 10 - 320),
]


@pytest.mark.parametrize(("items", "stocks", "rule", "cents"), LENGTH_BOUNDS)
def test_the_bound_by_length_by_hand(items: list[Item], stocks: list[Stock], rule: OffcutRule, cents: int) -> None:
    """The cheapest lengths first, no more of them than there are, and offcuts at their value."""
    assert length_bound(problem_of_size(items, stocks, Cutting(Fraction(0), Fraction(0), rule))) == cents


def several_sizes() -> tuple[list[Item], list[Stock]]:
    """Two months' lists of two sizes, bars on the shelf and a few with ready ends (all invented)."""
    chance, double = random.Random(7), End("double", nut=True, consumed_mm=Fraction(2))
    items, stocks = [], []
    for size in ("8", "7.94"):
        ends = [(double,), (), (), ()]
        items += [
            Item(f"{size} {n}", size, Fraction(chance.randint(250, 2750), 2), chance.randint(2, 13), ends[n % 4])
            for n in range(30)
        ]
        stocks += [
            Stock("with ends", size, Fraction(2500), 990, 2, ready_ends=(double,)),
            Stock("1.5 m", size, Fraction(1500), 535),
            Stock("6 m", size, Fraction(6000), 2370),
            Stock("long rest", size, Fraction(777), 155, 2, on_shelf=True),
            Stock("rest with an end", size, Fraction(2283, 2), 200, on_shelf=True, ready_ends=(double,)),
        ]
    return items, stocks


def test_sizes_that_had_no_time_still_have_a_plan_and_a_bound_near_it() -> None:
    """In a nanosecond no search comes to anything: what is told rests on the first plan and on lengths alone."""
    items, stocks = several_sizes()
    cutting = Cutting(Fraction(3, 2), Fraction(4), OffcutRule(Fraction(400), Fraction(200)))
    answer = nest(items, stocks, cutting=cutting, time_limit_s=1e-9)
    check_nest(items, answer, stocks=stocks, cutting=cutting)
    assert answer.note == "the time allowed is over"
    assert answer.proof is Proof.FEASIBLE
    assert 0.9 * answer.cost_cents < answer.bound_cents < answer.cost_cents


def test_the_time_is_shared_between_sizes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Few kinds first; what one leaves is for the next, a fifth for later aims, the rest for those stopped."""
    clock = SimpleNamespace(now=0.0)
    monkeypatch.setattr("tubing.nesting.engine.time", SimpleNamespace(monotonic=lambda: clock.now))
    monkeypatch.setattr("tubing.nesting.watch.time", SimpleNamespace(monotonic=lambda: clock.now))
    told: list[tuple[str, float]] = []

    def worked(what: str, watch: Watch, needed_s: float) -> None:
        told.append((what, round(watch.left_s, 6)))
        clock.now += min(needed_s, watch.left_s + 1e-9)
        if needed_s > told[-1][1]:
            raise OutOfTime

    def solved(problem: Problem, watch: Watch, _: list[str]) -> engine.LaterAims | None:
        worked(problem.size, watch, {"quick": 1.0, "slow": 50.0, "slower": 90.0}[problem.size])
        watch.raised(watch.cost or 0)
        return lambda: (worked(f"aims of {problem.size}", watch, 2.0), [])[1]

    monkeypatch.setattr(engine, "_solve", solved)
    sizes = {"slower": 3, "quick": 1, "slow": 2}
    items = [Item(f"{size} {n}", size, Fraction(400 + n)) for size, kinds in sizes.items() for n in range(kinds)]
    stocks = [replace(BAR, size=size) for size in sizes]
    answer = nest(items, stocks, cutting=Cutting(Fraction(0), Fraction(0), NO_OFFCUTS), time_limit_s=100)
    assert told == [
        ("quick", 33.333333),
        ("slow", 39.6),
        ("slower", 47.52),
        ("aims of quick", 11.88),
        ("slow", 4.94),
        ("slower", 4.94),
    ]
    assert answer.note == "the time allowed is over"


def test_lengths_that_need_too_fine_a_grid_are_said_to_be_rounded() -> None:
    """A million cells become coarse ones; the plan still fits exactly, and the note says what was done."""
    items = [piece(0, 2 + n % 3, f"p{n}") for n in range(24)]
    items = [replace(i, length_mm=300 + Fraction(n * 7919, 997)) for n, i in enumerate(items)]
    answer = cut(items, [BAR, Stock("4 m", "8", Fraction(4000), 2150)], kerf_mm=2)
    assert answer.note.startswith("searched on a grid of ")
    assert answer.bound_cents <= answer.cost_cents


def broken(answer: Nest, **changes: object) -> Nest:
    """The same plan with its first bar changed."""
    return replace(answer, bars=(replace(answer.bars[0], **changes), *answer.bars[1:]))


def test_the_check_finds_what_is_wrong() -> None:
    """A piece missing, a bar too short, too many bars, a wrong sum, a wrong length, a wrong rest: each is found."""
    items, stocks = [piece(2000, 3)], [replace(BAR, limit=1)]
    answer = cut(items, stocks)
    wrong = [
        broken(answer, count=2),
        broken(answer, items=("a", "a"), lengths_mm=answer.bars[0].lengths_mm[:2]),
        broken(answer, stock=replace(BAR, length_mm=Fraction(5999), limit=1)),
        broken(answer, lengths_mm=(Fraction(1999), Fraction(2000), Fraction(2000))),
        broken(answer, left_mm=Fraction(1)),
        replace(answer, cost_cents=2999, bound_cents=2999),
        replace(answer, bound_cents=2999),
    ]
    for plan in wrong:
        with pytest.raises(CheckError):
            check_nest(items, plan, stocks=stocks, cutting=Cutting(Fraction(0), Fraction(0), NO_OFFCUTS))


def test_a_vehicles_kit_needs_no_solver() -> None:
    """Three pieces are proved without importing pulp, highspy or numpy."""
    code = (
        "import sys; sys.path.insert(0, 'tests/unit'); from fractions import Fraction as F; "
        "from tubing.nesting import *; "
        "n = nest([Item('a', '8', F(412), 3)], [Stock('s', '8', F(6000), 3000)], "
        "cutting=Cutting(F(2), F(5), OffcutRule(F(300), F(400)))); "
        "print(n.proof.value, [m for m in ('pulp', 'highspy', 'numpy') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], env={"PYTHONPATH": "."}, capture_output=True, text=True, check=True
    )
    assert done.stdout == "proved optimal []\n"


@pytest.mark.parametrize(("length", "fits"), [(450, True), (451, False)])
def test_a_piece_never_reaches_into_a_flare_that_it_does_not_use(length: int, fits: bool) -> None:
    """A bar of 455 mm with a flare at one end: 5 mm behind its rim were formed, and no plain end can be cut there."""
    ready = Stock("ready", "8", Fraction(455), 90, 1, on_shelf=True, ready_ends=(End("double", True),))
    cutting = Cutting(Fraction(0), Fraction(0), NO_OFFCUTS, formed_end_mm=Fraction(5))
    found = nest([piece(length)], [ready, BAR], cutting=cutting)
    assert (found.bars[0].stock is ready) == fits
    assert check_nest([piece(length)], found, stocks=[ready, BAR], cutting=cutting) is None
    if fits:
        assert (found.bars[0].left_mm, found.bars[0].marks_mm) == (5, (450,))
