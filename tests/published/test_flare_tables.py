"""Every row of data/flares.csv against the tables it was taken from.

SAE J533 (2024), flares for tubing: read in a text that quotes it (S2).
MS33584, 37 degree single flares: value from memory (M).
"""

import pytest

from tubing.inputs.catalogue import FlareRow
from tubing.inputs.part_tables import read_catalogue
from tubing.inputs.shop_file import data_folder
from tubing.units import deg, mm

SAE_J533 = {  # tube diameter, kind: flare diameter from, to, greatest wall, [mm], as printed
    (3.18, "single"): (4.4, 4.6, 0.89),
    (4.76, "single"): (6.1, 6.3, 0.89),
    (6.35, "single"): (8.0, 8.3, 1.24),
    (7.94, "single"): (9.9, 10.3, 1.24),
    (3.18, "double"): (5.0, 5.4, 0.63),
    (4.76, "double"): (6.7, 7.1, 0.71),
    (6.35, "double"): (8.7, 9.1, 0.83),
    (7.94, "double"): (10.4, 10.8, 0.89),
}
MS33584 = {4.76: 0.302, 6.35: 0.359, 7.94: 0.421, 9.53: 0.484}  # 3/16, 1/4, 5/16, 3/8 in tube: diameter, [in]


def rows(half_angle_deg: float) -> dict[tuple[float, str], FlareRow]:
    """The shipped rows of one half-angle."""
    flares = read_catalogue(data_folder()).flares
    return {(mm(row.tube_diameter), row.kind): row for row in flares if deg(row.half_angle) == half_angle_deg}


def test_the_table_holds_these_rows_and_no_others() -> None:
    """A row that no source below checks may not slip in."""
    assert rows(45).keys() == SAE_J533.keys()
    assert rows(37).keys() == {(diameter, "single") for diameter in MS33584}
    assert len(read_catalogue(data_folder()).flares) == len(SAE_J533) + len(MS33584)


@pytest.mark.parametrize(("tube", "printed"), SAE_J533.items())
def test_45_degree_rows(tube: tuple[float, str], printed: tuple[float, float, float]) -> None:
    """SAE J533 (2024), flare diameters and greatest walls; the numbers are kept as printed."""
    row = rows(45)[tube]
    assert row.greatest_wall is not None
    assert (mm(row.least_diameter), mm(row.most_diameter), mm(row.greatest_wall)) == printed
    assert (row.source, row.sure) == ("SAE J533 (2024)", "S2")


@pytest.mark.parametrize(("tube_mm", "printed_in"), MS33584.items())
def test_37_degree_rows(tube_mm: float, printed_in: float) -> None:
    """MS33584, flare diameter in inches to three decimals; value from memory."""
    row = rows(37)[tube_mm, "single"]
    assert mm(row.least_diameter) / 25.4 == pytest.approx(printed_in, abs=0.0005)
    assert mm(row.most_diameter) / 25.4 == pytest.approx(printed_in, abs=0.0005)
    assert (row.greatest_wall, row.sure) == (None, "M")


def test_every_tube_in_stock_can_take_the_usual_flares() -> None:
    """Double at the nose and single at grooves, by SAE J533's greatest walls and within 0.1 mm of its diameters."""
    tubes = read_catalogue(data_folder()).tubes
    for name in ("steel-8", "steel-7.94", "copper-8", "aluminium-7.94"):
        for kind in ("single", "double"):
            assert abs(mm(tubes[name].diameter) - 7.94) <= 0.1
            assert mm(tubes[name].wall) <= SAE_J533[7.94, kind][2]
