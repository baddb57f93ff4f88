"""Every row of data/tubes.csv against published least bend radii, to the centre line.

FAA AC 43.13-1B, Table 9-2, least bend radii of steel and aluminium-alloy tube: value from memory (M).
Copper Tube Handbook, table of bending radii, annealed tube: read in a text that quotes it (S2).
SAE J526, wall of 5/16 in tube: read in a text that quotes it (S2).
Aviation maintenance training notes, general floor of 2.5 to 3 diameters (S2).
"""

from fractions import Fraction

import pytest

from tubing.inputs.part_tables import read_catalogue
from tubing.inputs.shop_file import data_folder
from tubing.units import exact_mm, mm

INCH_MM = Fraction(254, 10)
TABLE_9_2 = {  # name: outside diameter, least radius, [in], as printed
    "steel-4.76": (Fraction(3, 16), Fraction(21, 32)),
    "steel-6.35": (Fraction(1, 4), Fraction(7, 8)),
    "steel-7.94": (Fraction(5, 16), 1 + Fraction(1, 8)),
    "steel-9.53": (Fraction(3, 8), 1 + Fraction(5, 16)),
    "aluminium-4.76": (Fraction(3, 16), Fraction(7, 16)),
    "aluminium-6.35": (Fraction(1, 4), Fraction(9, 16)),
    "aluminium-7.94": (Fraction(5, 16), Fraction(3, 4)),
    "aluminium-9.53": (Fraction(3, 8), Fraction(15, 16)),
}
COPPER = {  # nominal 1/4 and 3/8 in copper is 3/8 and 1/2 in outside: outside diameter, least radius, [in]
    "copper-9.53": (Fraction(3, 8), Fraction(3, 4)),
    "copper-12.7": (Fraction(1, 2), 1 + Fraction(1, 2)),
}
INVENTED = {"steel-8", "copper-8"}
TUBES = read_catalogue(data_folder()).tubes


def test_the_table_holds_these_rows_and_no_others() -> None:
    """A row that no source below checks may not slip in."""
    assert TUBES.keys() == TABLE_9_2.keys() | COPPER.keys() | INVENTED


@pytest.mark.parametrize(("name", "printed"), TABLE_9_2.items())
def test_steel_and_aluminium(name: str, printed: tuple[Fraction, Fraction]) -> None:
    """FAA AC 43.13-1B Table 9-2; value from memory; inches to exact millimetres."""
    tube = TUBES[name]
    assert (exact_mm(tube.diameter), exact_mm(tube.least_radius)) == tuple(value * INCH_MM for value in printed)
    assert tube.sure == "M"
    assert tube.material == name.split("-")[0]


@pytest.mark.parametrize(("name", "printed"), COPPER.items())
def test_copper(name: str, printed: tuple[Fraction, Fraction]) -> None:
    """Copper Tube Handbook, table of bending radii, annealed."""
    tube = TUBES[name]
    assert (exact_mm(tube.diameter), exact_mm(tube.least_radius)) == tuple(value * INCH_MM for value in printed)
    assert tube.sure == "S2"


def test_the_wall_of_five_sixteenths_tube() -> None:
    """SAE J526: .028 +/- .003 in."""
    assert mm(TUBES["steel-7.94"].wall) / 25.4 == pytest.approx(0.028, abs=0.0005)


@pytest.mark.parametrize("name", sorted(INVENTED))
def test_invented_rows_keep_the_general_floor(name: str) -> None:
    """2.5 to 3 diameters at least, aviation maintenance training notes; and the row says invented."""
    tube = TUBES[name]
    assert tube.least_radius >= 3 * tube.diameter
    assert "invented" in tube.source
