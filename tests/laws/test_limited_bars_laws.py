"""Limited bars on fine grids: what was cut from them is never called impossible, what is impossible never planned.

The lists are made here: bars are cut up at random to the last tick, so that one plan is known to exist.
"""

from fractions import Fraction
from itertools import product
from random import Random

import pytest

from tubing.errors import StockError
from tubing.nesting import Cutting, Item, OffcutRule, Stock, check_nest, nest

SIXTY_FOURTH_MM = Fraction(127, 320)
MICRON_MM, TENTH_MM = Fraction(1, 1000), Fraction(1, 10)
NO_VALUE = OffcutRule(Fraction(300), Fraction(0))


def cut_up(random, room_mm, pieces, grids_mm):
    """Lengths on the given grids that fill the room exactly, but for the last, which takes what is left."""
    lengths, left_mm = [], room_mm
    for k in range(pieces - 1):
        grid_mm = random.choice(grids_mm)
        most = int(left_mm / (pieces - k) * Fraction(3, 2) / grid_mm)
        lengths.append(random.randint(1, most) * grid_mm)
        left_mm -= lengths[-1]
    return [*lengths, left_mm]


def planted(seed, grids_mm, bar_mm):
    """Pieces cut from a few limited bars without any waste but the saw's, and those bars."""
    random = Random(seed)
    bars, kerf_mm = random.randint(2, 6), random.choice([Fraction(0), Fraction(2), Fraction(3, 2)])
    lengths = []
    for _ in range(bars):
        count = random.randint(3, 8)
        lengths += cut_up(random, bar_mm + kerf_mm - count * kerf_mm, count, grids_mm)
    random.shuffle(lengths)
    items = [Item(f"piece {k}", "tube", length) for k, length in enumerate(lengths)]
    return items, [Stock("bar", "tube", bar_mm, 1000, limit=bars)], kerf_mm


@pytest.mark.long
@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(
    ("grids_mm", "bar_mm"),
    [((MICRON_MM,), Fraction(6000)), ((SIXTY_FOURTH_MM, TENTH_MM), Fraction(6096))],
    ids=["microns", "sixty-fourths beside tenths"],
)
def test_what_was_cut_from_limited_bars_is_planned_on_them(seed, grids_mm, bar_mm):
    """A plan exists, for the pieces were cut so: it is found, proved, and holds every piece."""
    items, stocks, kerf_mm = planted(seed, grids_mm, bar_mm)
    found = nest(items, stocks, cutting=Cutting(kerf_mm, Fraction(0), NO_VALUE))
    check_nest(items, found, stocks=stocks, cutting=Cutting(kerf_mm, Fraction(0), NO_VALUE))
    assert found.bar_count == stocks[0].limit
    assert found.cost_cents == found.bound_cents


@pytest.mark.long
@pytest.mark.parametrize("seed", range(40))
def test_the_verdict_on_few_pieces_is_that_of_trying_all_ways(seed):
    """Nine pieces on three bars with a hair to spare: every way to share them out is tried here."""
    random = Random(seed)
    bar_mm, kerf_mm, spare_mm = Fraction(6000), Fraction(2), random.choice([Fraction(0), Fraction(1, 10), Fraction(3)])
    lengths = [
        length
        for _ in range(3)
        for length in cut_up(random, bar_mm + kerf_mm - 3 * kerf_mm - spare_mm, 3, (MICRON_MM, SIXTY_FOURTH_MM))
    ]
    if random.random() < 0.7:  # move some length from one piece to another: all together are as long as before
        one, other = random.sample(range(9), 2)
        by_mm = lengths[one] / 3
        lengths[one], lengths[other] = lengths[one] - by_mm, lengths[other] + by_mm
    fits = any(
        all(
            sum(length + kerf_mm for length, on in zip(lengths, way, strict=True) if on == bar) <= bar_mm + kerf_mm
            for bar in range(3)
        )
        for way in product(range(3), repeat=9)
    )
    items = [Item(f"piece {k}", "tube", length) for k, length in enumerate(lengths)]
    stocks = [Stock("bar", "tube", bar_mm, 1000, limit=3)]
    if fits:
        found = nest(items, stocks, cutting=Cutting(kerf_mm, Fraction(0), NO_VALUE))
        assert found.cost_cents == 3000
    else:
        with pytest.raises(StockError, match=r"they do not all fit the 3 bars there are|its length is"):
            nest(items, stocks, cutting=Cutting(kerf_mm, Fraction(0), NO_VALUE))


@pytest.mark.long
def test_a_list_too_fine_to_decide_is_not_called_impossible():
    """Ten bars cut up to the micron: no plan is found, and that none exists is not said."""
    random = Random(3)
    lengths = [x for _ in range(10) for x in cut_up(random, Fraction(6000), 9, (MICRON_MM,))]
    items = [Item(f"piece {k}", "tube", length) for k, length in enumerate(lengths)]
    stocks = [Stock("bar", "tube", Fraction(6000), 1000, limit=10)]
    with pytest.raises(StockError) as error:
        nest(items, stocks, cutting=Cutting(Fraction(0), Fraction(0), NO_VALUE), time_limit_s=2)
    assert str(error.value) == (
        "90 pieces of size 'tube': no plan was found in the time allowed; with their saw cuts the pieces need "
        "60000 mm, and the limited bars have 60000 mm: whether they can be shared out so is not known; give more "
        "time, or add stock"
    )
