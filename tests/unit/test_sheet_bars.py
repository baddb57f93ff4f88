"""The saw list: where to mark, and what lies between the marks."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tubing.nesting import Bar, Cutting, End, Item, Nest, OffcutRule, Proof, Stock, nest
from tubing.sheet.bars import bars_table, kerf_words, saw_list, saw_rows, verdict, verdict_without_money

NO_VALUE = OffcutRule(Fraction(400), Fraction(0))
NUTTED, SINGLE = End("double", True), End("single", False)


def cut(items: list[Item], stock: Stock, kerf: str = "0", trim: str = "0") -> Bar:
    """The only bar of a plan."""
    found = nest(items, [stock], cutting=Cutting(Fraction(kerf), Fraction(trim), NO_VALUE))
    (bar,) = found.bars
    return bar


def rows_of(bar: Bar) -> list[tuple[Fraction, str, Fraction | None]]:
    """The saw list's rows as they are printed."""
    return [(row.mark_mm, row.words, row.length_mm) for row in saw_rows(bar)]


def bar_of(length: int, *ready: End) -> Stock:
    return Stock("steel", "steel", Fraction(length), 100, ready_ends=ready)


def piece(name: str, length: int, *ends: End) -> Item:
    return Item(name, "steel", Fraction(length), 1, ends)


def test_marks_from_a_raw_end_with_saw_and_trim():
    """Trim 5, then 300, a saw's 2, 200: cuts at 5, 305 and 507; 2 and 5 more are lost of the 493 left."""
    bar = cut([piece("a", 300), piece("b", 200)], bar_of(1000), kerf="2", trim="5")
    assert rows_of(bar) == [
        (5, "end trim, scrap", None),
        (305, "a", 300),
        (507, "b", 200),
        (1000, "offcut, keep it (saw's waste and end trim taken off)", 486),
    ]


def test_a_bar_used_up_to_its_end_has_no_row_for_what_is_left():
    assert rows_of(cut([piece("a", 300), piece("b", 200)], bar_of(500))) == [(300, "a", 300), (500, "b", 200)]


def test_what_is_left_may_be_less_than_the_trim_and_the_saw_take():
    bar = cut([piece("a", 300), piece("b", 200)], bar_of(512), kerf="2", trim="5")
    assert rows_of(bar)[-1] == (512, "saw's waste and end trim", None)


def test_a_flared_end_of_the_bar_takes_the_first_piece():
    """The end saves the 2 mm that the flare would have taken; marks count from the flared end, without a trim."""
    bar = cut([piece("a", 300, End("double", True, Fraction(2)))], bar_of(1000, NUTTED), trim="5")
    assert rows_of(bar) == [(298, "a", 298), (1000, "offcut, keep it (saw's waste and end trim taken off)", 697)]


def test_both_flared_ends_of_a_bar():
    items = [piece(name, length, End("double", True, Fraction(2))) for name, length in (("a", 300), ("b", 200))]
    bar = cut(items, bar_of(1000, NUTTED, NUTTED), kerf="2", trim="5")
    rows = rows_of(bar)
    assert rows[0] == (298, "a", 298)
    assert rows[-1] == (1000, "b, at the far end", 198)


@pytest.mark.parametrize("length", [498, 499, 500, 505, 600, 1000])
@pytest.mark.parametrize("kerf", ["0", "2"])
@pytest.mark.parametrize("ready", [(), (NUTTED,), (NUTTED, NUTTED)])
def test_every_piece_lies_between_its_marks(length: int, kerf: str, ready: tuple[End, ...]):
    """From the mark before, the saw's kerf and the piece's own length lead to its mark; none lies beyond the bar."""
    items = [piece(name, mm, End("double", True, Fraction(2))) for name, mm in (("a", 250), ("b", 200), ("c", 20))]
    bar = cut(items, bar_of(length, *ready), kerf=kerf)
    reached = Fraction(0)
    for mark, what, long in rows_of(bar):
        if what.split(",")[0] in ("a", "b", "c"):
            assert long is not None
            if "far end" in what:
                assert mark - long >= reached
            else:
                assert mark - long == reached
        assert reached < mark <= length
        reached = mark + Fraction(kerf)
    assert sorted(what[0] for _, what, long in rows_of(bar) if what[1:2] in ("", ",")) == ["a", "b", "c"]


def plan(cost: int, bound: int, proof: Proof, note: str = "") -> Nest:
    return Nest((), cost, bound, proof, note)


def test_the_verdict_of_a_proved_plan():
    assert verdict(plan(1560, 1560, Proof.OPTIMAL), "EUR") == [
        "Tube costs 15.60 EUR (bars less what the kept offcuts are worth); it cannot be below 15.60 EUR; could still "
        "save 0.00 EUR (proved: no plan costs less)."
    ]


def test_the_verdict_of_a_plan_that_time_ran_out_on_never_says_best_possible():
    assert verdict(plan(1560, 1405, Proof.FEASIBLE, "lengths were coarsened"), "EUR") == [
        "Tube costs 15.60 EUR (bars less what the kept offcuts are worth); it cannot be below 14.05 EUR; could still "
        "save 1.55 EUR (best found in the time allowed; not proved).",
        "Lengths were coarsened.",
    ]


def test_stock_without_prices_is_counted_in_mm():
    assert verdict(plan(1200000, 600000, Proof.FEASIBLE), None) == [
        "Bars taken, end to end: 12000.00 mm; it cannot be below 6000.00 mm; could still save 6000.00 mm (best found "
        "in the time allowed; not proved)."
    ]


@pytest.mark.parametrize(
    ("nested", "said"),
    [
        (plan(1560, 1560, Proof.OPTIMAL), ["These are the best bars to take (proved: no plan is better)."]),
        (
            plan(1000, 968, Proof.FEASIBLE, "lengths were coarsened"),
            [
                "These are the best bars found in the time allowed; not proved; could still be better by 3.2 %.",
                "Lengths were coarsened.",
            ],
        ),
        (
            plan(0, 0, Proof.FEASIBLE),
            ["These are the best bars found in the time allowed; not proved; could still be better by 0.0 %."],
        ),
    ],
)
def test_without_money_the_verdict_still_says_how_good_the_bars_are(nested: Nest, said: list[str]):
    """For the workshop's copy: a share of the whole instead of a sum."""
    assert verdict_without_money(nested) == said


def test_equal_bars_stand_once_with_their_count():
    found = nest(
        [Item("rail", "steel", Fraction(900), 6)], [bar_of(1000)], cutting=Cutting(Fraction(0), Fraction(0), NO_VALUE),
    )  # fmt: skip
    table = bars_table(found, "EUR")
    assert table.rows == ((1, 6, "new", "steel", 1000, "rail", 100, "scrap"),)
    assert saw_list(found, Fraction(2)).rows == (
        (1, 6, "new", "steel", 1000, "either end", 900, "rail", 900),
        (1, 6, "new", "steel", 1000, "either end", 1000, "left over, scrap", 100),
    )


def test_what_a_cut_is_reckoned_to_take_is_told():
    """Marks without a kerf suit a wheel cutter; whoever saws by them would lose a blade's width at each cut."""
    assert kerf_words(Fraction(3, 2)).startswith("Each cut is reckoned to take 1.5 mm of tube (the kerf)")
    assert kerf_words(Fraction(0)) == (
        "Each cut is reckoned to take nothing, as a wheel cutter does: for a saw give its kerf in the shop file."
    )
