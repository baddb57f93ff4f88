"""A job's cost, added up by hand. All prices are invented."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from msgspec.structs import replace

from tubing.cost import BoughtBar, CostFacts, Group, Operations, Part, TubeUsed, cents, compare, cost
from tubing.errors import JobError, UnitError
from tubing.inputs.records import Minutes, Money, Price
from tubing.units import quantity


def minute(number: int):
    return quantity(number, "min")


def length(text: str):
    return quantity(Fraction(text), "mm")


def price(item: str, amount: str, unit: str = "each") -> Price:
    return Price(item, Fraction(amount), unit, "invented")


PRICES = {
    p.item: p
    for p in (price("motor", "96.00"), price("box", "27.50"), price("rack", "18.00", "m"), price("nut", "0.85"),
              price("steel-8", "6.20", "m"))
}  # fmt: skip
MINUTES = Minutes(minute(2), minute(3), minute(5), minute(6), minute(15), minute(20))
BARS = (
    BoughtBar("steel-8", Fraction("2000"), Fraction(1), 1120, False, "shop file"),
    BoughtBar("steel-8", Fraction("640"), Fraction(1), 128, True, "shelf"),
)
TWIN = CostFacts(
    parts=(Part("motor", 1), Part("box", 2), Part("rack", length_mm=Fraction("1110.4")), Part("nut", 1)),
    bars=BARS,
    tube_used=(TubeUsed("steel-8", Fraction("1254.5")),),
    operations=Operations(cuts=3, single_flares=4, double_flares=1, bends=2, holes=2, assemblies=2),
)


def money(**changed: Any) -> Money:
    whole = Money("EUR", Fraction(48), Fraction(15, 100), Fraction(20, 100), "bars", PRICES, Fraction("4.50"))
    return replace(whole, **changed)


def test_the_twin_by_hand():
    """Parts, bars, minutes at 48 an hour (0.80 a minute), consumables, 15 % on all that, 20 % on all with margin."""
    made = cost(TWIN, MINUTES, money())
    assert [(line.what, line.quantity_text, line.unit, line.each_text, line.amount_text) for line in made.lines] == [
        ("motor", "1", "each", "96.00", "96.00"),
        ("box", "2", "each", "27.50", "55.00"),
        ("rack", "1.111", "m", "18.00", "20.00"),
        ("nut", "1", "each", "0.85", "0.85"),
        ("tube steel-8, bar of 2000 mm", "1", "bar", "11.20", "11.20"),
        ("tube steel-8, offcut from the shelf of 640 mm", "1", "bar", "1.28", "1.28"),
        ("cut", "3", "each", "1.60", "4.80"),
        ("single flare", "4", "each", "2.40", "9.60"),
        ("double flare", "1", "each", "4.00", "4.00"),
        ("bend", "2", "each", "4.80", "9.60"),
        ("hole", "2", "each", "12.00", "24.00"),
        ("assembly", "2", "each", "16.00", "32.00"),
        ("consumables", "1", "job", "4.50", "4.50"),
        ("margin", "15", "%", "272.83", "40.92"),
        ("tax", "20", "%", "313.75", "62.75"),
    ]
    assert (made.total, made.currency, made.warnings, made.complete) == (Decimal("376.50"), "EUR", (), True)


def test_every_line_says_where_its_figure_comes_from():
    """Price list with its own source, shop file, shelf, minutes and rate."""
    sources = {line.what: line.source for line in cost(TWIN, MINUTES, money()).lines}
    assert sources["motor"] == "price list (invented)"
    assert sources["tube steel-8, bar of 2000 mm"] == "shop file"
    assert sources["tube steel-8, offcut from the shelf of 640 mm"] == "shelf"
    assert sources["bend"] == "shop, 6 min at 48.00 an hour"
    assert sources["consumables"] == "shop, per job"
    assert all(sources.values())


def test_tube_by_the_metre():
    """1254.5 mm cut is charged as 1.255 m at 6.20; no bar is."""
    made = cost(TWIN, MINUTES, money(tube_by="metre"))
    (tube,) = [line for line in made.lines if line.group is Group.TUBE]
    assert (tube.what, tube.quantity_text, tube.each_text, tube.amount_text) == (
        "tube steel-8, by the metre",
        "1.255",
        "6.20",
        "7.78",
    )


@pytest.mark.parametrize(("used", "charged"), [("1000", "1"), ("1000.0000000004", "1"), ("1000.01", "1.001")])
def test_lengths_are_charged_by_the_whole_millimetre_begun(used, charged):
    """What floating point adds is not a millimetre begun."""
    facts = replace(TWIN, parts=(Part("rack", length_mm=Fraction(used)),))
    assert cost(facts, MINUTES, money()).lines[0].quantity_text == charged


def test_what_is_not_done_is_not_listed():
    """No bends, no line for bends; a shop without consumables, margin or tax has no such lines."""
    facts = replace(TWIN, operations=Operations(1, 0, 0, 0, 0, 0))
    plain = cost(facts, MINUTES, money(consumables=Fraction(0), margin=Fraction(0), tax=Fraction(0)))
    assert [line.what for line in plain.lines][6:] == ["cut"]
    assert plain.total == Decimal("185.93")


def test_a_part_without_a_price_is_said_so():
    """Its line has no amount, the total is of the rest, and a warning names it."""
    facts = replace(TWIN, parts=(*TWIN.parts, Part("end stop", 1), Part("hose", length_mm=Fraction("300"))))
    made = cost(facts, MINUTES, money())
    lacking = [(line.what, line.quantity_text, line.unit, line.each_text, line.amount_text) for line in made.lines[4:6]]
    assert lacking == [("end stop", "1", "each", None, None), ("hose", "0.3", "m", None, None)]
    assert (made.total, made.complete) == (Decimal("376.50"), False)
    assert made.warnings == ("the total is without end stop, hose: not in the price list",)


def test_a_price_by_the_wrong_unit():
    """A rack priced each would be charged once however long; the shop is told."""
    prices = PRICES | {"rack": price("rack", "18.00", "each")}
    with pytest.raises(JobError) as error:
        cost(TWIN, MINUTES, money(prices=prices))
    assert str(error.value) == (
        "price of 'rack': it is by the unit 'each'; it must be by 'm'; correct the unit, and the amount with it, under "
        "[[price]] in the shop file"
    )


def test_work_is_rounded_once():
    """Seven cuts of 1 minute at 50 an hour are 5.8333: 5.83, though one alone would be 0.83 and seven of them 5.81."""
    facts = replace(TWIN, operations=Operations(7, 0, 0, 0, 0, 0))
    quick = replace(MINUTES, cut=minute(1))
    (cut,) = [line for line in cost(facts, quick, money(rate=Fraction(50))).lines if line.group is Group.WORK]
    assert (cut.each_text, cut.amount_text) == ("0.8333", "5.83")


@pytest.mark.parametrize(
    ("exact", "rounded"), [("0.005", "0.01"), ("0.0049", "0.00"), ("2.675", "2.68"), ("-0.005", "-0.01")]
)
def test_half_a_cent_is_rounded_up(exact, rounded):
    """§14 Money: commercial rounding of exact fractions; 2.675 is the value that binary floats get wrong."""
    assert str(cents(quantity(Fraction(exact), "money"))) == rounded


def test_cents_takes_money_only():
    """A length is not money."""
    with pytest.raises(UnitError) as error:
        cents(length("3"))
    assert str(error.value) == "cents, amount: 3 mm is a [length]; it must be a [currency]; give it in money"


TRIPLE = replace(
    TWIN,
    parts=(
        Part("motor", 1),
        Part("box", 3),
        Part("rack", length_mm=Fraction("1110.4")),
        Part("nut", 1),
        Part("clip", 2),
    ),
    bars=(BARS[0], BoughtBar("steel-8", Fraction("1000"), Fraction(1), 640, False, "shop file")),
    operations=replace(TWIN.operations, cuts=4, single_flares=6, holes=3, assemblies=3),
)


def test_layouts_side_by_side():
    """Each line in all layouts, with its difference from the first; a line that one lacks costs it nothing."""
    costs = {"twin": cost(TWIN, MINUTES, money()), "triple": cost(TRIPLE, MINUTES, money())}
    side_by_side = compare(costs)
    rows = {
        line.what: tuple(None if x is None else str(x) for x in (*line.amounts, line.differences[1]))
        for line in side_by_side.lines
    }
    assert rows["box"] == ("55.00", "82.50", "27.50")
    assert rows["motor"] == ("96.00", "96.00", "0.00")
    assert rows["tube steel-8, offcut from the shelf of 640 mm"] == ("1.28", "0.00", "-1.28")
    assert rows["tube steel-8, bar of 1000 mm"] == ("0.00", "6.40", "6.40")
    assert rows["clip"] == ("0.00", None, None)
    assert [line.what for line in side_by_side.lines][-3:] == ["consumables", "margin", "tax"]
    assert [line.what for line in side_by_side.lines][3:7] == [
        "nut",
        "clip",
        "tube steel-8, bar of 2000 mm",
        "tube steel-8, offcut from the shelf of 640 mm",
    ]
    assert side_by_side.total.amounts == (costs["twin"].total, costs["triple"].total)
    assert side_by_side.total.differences == (0, costs["triple"].total - costs["twin"].total)
    assert (side_by_side.layouts, side_by_side.currency) == (("twin", "triple"), "EUR")
    assert side_by_side.incomplete == ("triple",)


@pytest.mark.parametrize("given", [{}, {"count": 1, "length_mm": Fraction(3)}])
def test_a_part_is_counted_or_measured(given):
    """Both or neither is a slip of whoever calls, not of the fitter."""
    with pytest.raises(ValueError, match=r"^rack: give a count or a length$"):
        Part("rack", **given)
