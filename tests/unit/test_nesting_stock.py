"""Which bars nesting takes, and what it refuses of them, by hand."""

from fractions import Fraction

import pytest

from tubing.errors import InputError, StockError
from tubing.nesting import Cutting, Item, OffcutRule, Stock, nest


def test_a_trim_longer_than_any_bar_is_told_as_that():
    """Bars of 300 mm that lose 200 mm at each end: no bar is -100 mm long."""
    with pytest.raises(StockError) as refused:
        nest(
            [Item("a", "8", Fraction(100))],
            [Stock("short", "8", Fraction(300), 100)],
            cutting=Cutting(Fraction(0), Fraction(200), OffcutRule(Fraction(0), Fraction(0))),
        )
    assert str(refused.value) == (
        "piece 'a': its length is 100 mm; nothing of any bar is left when 200 mm are trimmed off its ends; buy a "
        "longer bar, or lead the run shorter or move the motor: guide tube is not to be joined"
    )


def test_a_bar_with_a_dear_offcut_beats_a_cheaper_bar_without():
    """Three pieces of 1400 mm on 6 m at 30.00 leave 1.8 m at 4.00 a metre: 30.00 - 7.20 = 22.80.

    The bar of 4.5 m at 24.00 leaves 0.3 m: 24.00 - 1.20 = 22.80 as well; at 25.00 only the long bar costs 22.80.
    """
    bars = [Stock("long", "8", Fraction(6000), 3000), Stock("short", "8", Fraction(4500), 2500)]
    rule = OffcutRule(Fraction(0), Fraction(400))
    found = nest([Item("a", "8", Fraction(1400), 3)], bars, cutting=Cutting(Fraction(0), Fraction(0), rule))
    assert (found.cost_cents, found.bars[0].stock.name) == (2280, "long")


@pytest.mark.parametrize("limits", [(None, None), (3, 3)])
def test_a_stock_given_twice_is_refused(limits):
    """One length at one price twice, or twice without limit, means nothing clear."""
    bars = [Stock(f"bar {k}", "8", Fraction(1000), 100, limit) for k, limit in enumerate(limits)]
    with pytest.raises(InputError) as refused:
        nest(
            [Item("a", "8", Fraction(100))],
            bars,
            cutting=Cutting(Fraction(0), Fraction(0), OffcutRule(Fraction(0), Fraction(0))),
        )
    assert str(refused.value) == (
        "stock 'bar 1': size '8' in 1000 mm is given twice; each length of new stock must be given once; remove one, "
        "or say how many bars there are at each price"
    )
