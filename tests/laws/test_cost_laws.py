"""Laws of the cost: it adds up, it grows with what is bought and done, and the unit of a length does not matter."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Context, Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tubing import cost as module
from tubing.cost import (
    BoughtBar,
    CostFacts,
    Operations,
    Part,
    cents,
    compare,
    cost,
    price_of_count,
    price_of_length,
    price_of_time,
    share_of,
)
from tubing.errors import UnitError
from tubing.inputs.records import Minutes, Money, Price
from tubing.units import quantity

QUICK = settings(max_examples=40, deadline=None)
EXACT = Context(prec=60)

amounts = st.decimals(0, 500, places=2).map(Fraction)
shares = st.integers(0, 60).map(lambda percent: Fraction(percent, 100))
counts = st.integers(0, 9)
operations = st.builds(Operations, counts, counts, counts, counts, counts, counts)
times = st.integers(1, 60).map(lambda minutes: quantity(minutes, "min"))
minutes_of = st.builds(Minutes, times, times, times, times, times, times)
CENTS = st.integers(0, 9999)


@st.composite
def jobs(draw) -> tuple[CostFacts, Minutes, Money]:
    """A few parts, some without a price, some bars, work, and a shop to price them."""
    items = [f"part {n}" for n in range(draw(st.integers(0, 5)))]
    prices = {item: Price(item, draw(amounts), "each", "invented") for item in items if draw(st.booleans())}
    prices["rack"] = Price("rack", draw(amounts), "m", "invented")
    rack_mm = Fraction(draw(st.integers(1, 4_000_000)), 1000)
    parts = (*(Part(item, draw(st.integers(1, 9))) for item in items), Part("rack", length_mm=rack_mm))
    bars = tuple(
        BoughtBar("steel-8", Fraction(1000 * n + 1000), Fraction(draw(st.integers(1, 5))), draw(CENTS), False, "")
        for n in range(draw(st.integers(0, 3)))
    )
    money = Money("EUR", draw(amounts), draw(shares), draw(shares), "bars", prices, draw(amounts))
    return CostFacts(parts, bars, (), draw(operations)), draw(minutes_of), money


@given(jobs())
@QUICK
def test_the_printed_column_adds_up(job):
    """The total is the sum of the amounts as printed, and every amount has two decimals."""
    made = cost(*job)
    printed = [line.amount_text for line in made.lines if line.amount_text is not None]
    assert sum(map(Decimal, printed), Decimal(0)) == made.total
    assert all(Decimal(text).as_tuple().exponent == -2 for text in printed)


@given(jobs())
@QUICK
def test_every_line_can_be_checked_from_what_it_prints(job):
    """Quantity times price of one, in long decimals, rounded half up, is the amount; a percentage likewise."""
    for line in cost(*job).lines:
        if line.amount is None:
            assert line.each is None
            continue
        times = line.quantity / 100 if line.unit == "%" else line.quantity
        exact = times * line.each
        decimal = EXACT.divide(Decimal(exact.numerator), Decimal(exact.denominator))
        assert line.amount == decimal.quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)


@given(jobs())
@QUICK
def test_margin_is_of_all_above_and_tax_of_that_and_the_margin(job):
    """Worked out again from the printed lines."""
    money = job[2]
    made = {line.what: line for line in cost(*job).lines}
    net = sum((line.amount for what, line in made.items() if what not in ("margin", "tax") and line.amount), Decimal(0))
    margin = made["margin"].amount if "margin" in made else Decimal(0)
    if "margin" in made:
        assert made["margin"].each == net
        assert made["margin"].quantity == money.margin * 100
    if "tax" in made:
        assert made["tax"].each == net + margin


@given(jobs(), st.sampled_from(("cuts", "single_flares", "double_flares", "bends", "holes", "assemblies")))
@QUICK
def test_more_work_never_costs_less(job, which):
    """One operation more, all else the same."""
    facts, minutes, money = job
    more = replace(facts.operations, **{which: getattr(facts.operations, which) + 1})
    assert cost(replace(facts, operations=more), minutes, money).total >= cost(*job).total


@given(st.fractions(1, 4000, max_denominator=64))
@QUICK
def test_the_unit_of_a_length_does_not_matter(length_in):
    """Rack by the inch, to 1/64, costs what the same rack in millimetres does, to the cent and exactly."""
    price = quantity(Fraction("17.35"), "money/m")
    in_inches = price_of_length(price, quantity(length_in, "in"))
    in_mm = price_of_length(price, quantity(length_in * Fraction(254, 10), "mm"))
    assert in_inches.magnitude == in_mm.magnitude == length_in * Fraction(254, 10) / 1000 * Fraction("17.35")


@given(st.lists(jobs(), min_size=1, max_size=3))
@QUICK
def test_differences_between_complete_layouts_add_up_to_that_of_the_totals(all_jobs):
    """Down each column the amounts make the total, and the differences the difference."""
    costs = {f"layout {n}": cost(*job) for n, job in enumerate(all_jobs)}
    side_by_side = compare(costs)
    assert side_by_side.total.differences[0] == 0
    for n, one in enumerate(costs.values()):
        assert sum(line.amounts[n] or 0 for line in side_by_side.lines) == one.total
        if one.complete and next(iter(costs.values())).complete:
            assert sum(line.differences[n] for line in side_by_side.lines) == side_by_side.total.differences[n]


def test_every_formula_is_in_the_list_below():
    """A public function on quantities is checked for dimension; so is the list."""
    checked = {f for f in vars(module).values() if hasattr(f, "__wrapped__") and f.__module__ == module.__name__}
    assert checked == {formula for formula, _ in FORMULAS}


MONEY, LENGTH, TIME = quantity(3, "money"), quantity(3, "mm"), quantity(3, "min")
FORMULAS = [
    (price_of_count, {"price": MONEY, "count": 2}),
    (price_of_length, {"price": quantity(3, "money/m"), "length": LENGTH}),
    (price_of_time, {"rate": quantity(3, "money/h"), "time": TIME}),
    (share_of, {"amount": MONEY, "share": Fraction(1, 5)}),
    (cents, {"amount": MONEY}),
]


@pytest.mark.parametrize(
    ("formula", "name"), [(f, name) for f, given in FORMULAS for name in given], ids=lambda x: getattr(x, "__name__", x)
)
def test_a_wrong_dimension_cannot_pass(formula, name):
    """Each argument of each formula given as a force, and as money per force."""
    arguments = dict(FORMULAS)[formula]
    formula(**arguments)
    for wrong in (quantity(3, "N"), quantity(3, "money/N")):
        with pytest.raises(UnitError) as error:
            formula(**arguments | {name: wrong})
        assert error.value.thing == f"{formula.__name__}, {name}"
