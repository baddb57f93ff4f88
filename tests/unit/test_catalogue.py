"""The tables of the data folder: read as written, and each wrong cell told with file, line and column."""

import shutil
from fractions import Fraction
from pathlib import Path

import pytest

from tubing.errors import CatalogueError, InputError
from tubing.inputs.catalogue import Catalogue
from tubing.inputs.part_tables import SURE, read_catalogue
from tubing.inputs.shop_file import data_folder
from tubing.units import deg, exact_mm, mm, newton, quantity


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the tables that come with the program."""
    for table in data_folder().glob("*.csv"):
        shutil.copy(table, tmp_path)
    return tmp_path


def shipped() -> Catalogue:
    """The tables that come with the program."""
    return read_catalogue(data_folder())


def test_a_row_is_read_with_its_units(folder: Path) -> None:
    """Decimals stay exact; what is left empty is None; a tube is cut from the stock of its own name."""
    (folder / "tubes.csv").write_text(
        "# a comment\n\nname,diameter_mm,wall_mm,material,least_radius_mm,single_flare_mm,double_flare_mm,source,sure\n"
        'x,7.9375,0.71,steel,28.575,10.2,,"a, b",M\n'
    )
    (tube,) = read_catalogue(folder).tubes.values()
    assert (exact_mm(tube.diameter), mm(tube.bore), tube.material) == (Fraction(127, 16), 6.5175, "steel")
    assert tube.single_flare is not None
    assert (mm(tube.single_flare), tube.double_flare, tube.stock) == (10.2, None, "x")
    assert (tube.source, tube.sure) == ("a, b", "M")


def test_optional_columns_may_be_left_out(folder: Path) -> None:
    """A shop that keeps no spacers or bodies need not have the columns."""
    (folder / "wheelboxes.csv").write_text(
        "name,rack_depth_mm,pitch_radius_mm,groove_offset_mm,mouth_offset_mm,groove_width_mm,bush_mm,stem_mm,source,sure\n"
        "x,28,16,25,45,3,16,32,invented,I\n"
    )
    (box,) = read_catalogue(folder).wheelboxes.values()
    assert (mm(box.pitch_radius), box.spacer, box.body, box.nut, box.washer) == (16.0, None, None, None, None)


def test_the_shipped_tables_hold_what_the_example_names() -> None:
    """And each kind of table in its own units."""
    tables = shipped()
    assert {"steel-8"} <= set(tables.tubes)
    assert mm(tables.formers["sheave-230"].radius) == 230.0
    motor = tables.motors["bench-motor"]
    assert (newton(motor.pull), mm(motor.rod), motor.rate) == (450.0, 70.0, quantity(60, "cycle/min"))
    nut, washer = tables.wheelboxes["bench-box"].nut, tables.wheelboxes["bench-box"].washer
    assert (mm(nut), mm(washer)) == (8.0, 1.5)
    assert mm(tables.wheelboxes["bench-box"].pitch_radius) == 16.0
    assert {deg(row.half_angle) for row in tables.flares} == {37.0, 45.0}


def test_every_shipped_row_says_where_it_comes_from_and_invented_rows_say_so() -> None:
    """Hardware is invented; so is every row marked I."""
    tables = shipped()
    hardware = [*tables.formers.values(), *tables.motors.values(), *tables.wheelboxes.values(), *tables.arms.values()]
    for row in [*tables.tubes.values(), *tables.flares, *hardware]:
        assert row.source
        assert row.sure in SURE
        assert (row.sure == "I") == ("invented" in row.source), row
    assert {row.sure for row in hardware} == {"I"}


def test_every_shipped_wheelbox_has_its_groove_about_20_mm_in_and_a_body_that_reaches_its_mouths() -> None:
    """Groove about 20 mm in from the box's end: common practice, no source."""
    for box in shipped().wheelboxes.values():
        assert mm(box.mouth_offset - box.groove_offset) == pytest.approx(20, abs=2)
        assert box.body is not None
        assert box.body[0] == 2 * box.mouth_offset


WRONG = [
    ("tubes.csv", "steel-8,8,0.8", "steel-8,8 mm,0.8",
     "tubes.csv, line 6, diameter_mm: '8 mm' is not a plain number; it must be a number of mm; "
     "write the number alone, it counts mm"),
    ("tubes.csv", "steel-8,8,0.8", "steel-8,5,2.5",
     "tubes.csv, line 6, wall_mm: '2.5' leaves no bore; the wall must be less than half the diameter; "
     "measure it again"),
    ("tubes.csv", "steel-8,8,0.8", "steel-8,-8,0.8",
     "tubes.csv, line 6, diameter_mm: '-8 mm' is negative; it must be above 0; leave out the minus sign"),
    ("tubes.csv", "steel-8,8,0.8", "steel-8,8,",
     "tubes.csv, line 6, wall_mm: it is empty; it must be given; fill the cell in"),
    ("tubes.csv", "steel-8,8,0.8", "steel-8,inf,0.8",
     "tubes.csv, line 6, diameter_mm: 'inf' is not a plain number; it must be a number of mm; "
     "write the number alone, it counts mm"),
    ("tubes.csv", "steel-8,8,0.8", "steel-8,8,0,8",
     "tubes.csv, line 6: it has 12 cells; it must have 11, one per column; part cells with commas, "
     "write decimals with a point and quote a text that holds a comma"),
    ("tubes.csv", "steel-4.76,4.7625", "steel-8,4.7625",
     "tubes.csv, line 7, name: 'steel-8' stands twice; each name must stand once; rename one of the rows"),
    ("tubes.csv", "wall_mm,", "wal_mm,",
     "tubes.csv, line 5: there is no column 'wal_mm'; the columns are name, diameter_mm, wall_mm, material, "
     "least_radius_mm, source, sure, single_flare_mm, double_flare_mm, yield_mpa, modulus_gpa; "
     "did you mean 'wall_mm'?"),
    ("tubes.csv", "diameter_mm,", "diameter_in,",
     "tubes.csv, line 5: there is no column 'diameter_in'; the columns are name, diameter_mm, wall_mm, material, "
     "least_radius_mm, source, sure, single_flare_mm, double_flare_mm, yield_mpa, modulus_gpa; "
     "did you mean 'diameter_mm'?"),
    ("formers.csv", "sheave-230,230,10,invented,I", "sheave-230,230,10,invented,X",
     "formers.csv, line 4, sure: 'X' is not known; it must be one of S, S2, M, I; choose one"),
    ("formers.csv", "sheave-230,230,10,invented,I", "sheave-230,230,10,,I",
     "formers.csv, line 4, source: it is empty; it must be given; fill the cell in"),
    ("formers.csv", "sheave-230,230", "sheave-230,230000",
     "formers.csv, line 4, radius_mm: '230000 mm' is absurdly large; it must be at most 100 m; "
     "check the number and its unit"),
    ("flares.csv", "3.18,single", "3.18,singel",
     "flares.csv, line 5, kind: 'singel' is not known; it must be single or double; choose one"),
    ("flares.csv", "3.18,single,45,4.4", "4.18,single,45,3.9",
     "flares.csv, line 5, least_diameter_mm: '3.9' is not wider than the tube; a flare must be wider than its tube; "
     "measure it again"),
    ("flares.csv", "3.18,single,45,4.4,4.6", "3.18,single,45,4.6,4.4",
     "flares.csv, line 5, most_diameter_mm: '4.4' is less than the least diameter; it must be at least that; "
     "swap the two"),
    ("flares.csv", "3.18,single,45", "3.18,single,90",
     "flares.csv, line 5, half_angle_deg: '90 deg' is too much (half angle of a flare); it must be from 5 deg "
     "to 89 deg, for a cone is neither a tube nor flat; measure it again"),
    ("flares.csv", "4.76,single,45", "3.18,single,45",
     "flares.csv, line 6, kind: this flare stands twice; each must stand once; take one of the rows out"),
    ("wheelboxes.csv", "28,16,25,45", "28,16,25,24",
     "wheelboxes.csv, line 7, mouth_offset_mm: '24' is nearer than the groove; the mouth must lie beyond the groove; "
     "measure both from the spindle's axis"),
    ("wheelboxes.csv", "6,90,56,34", "6,90,,34",
     "wheelboxes.csv, line 7, body_across_mm: it is empty; body_along_mm, body_across_mm, body_deep_mm go together; "
     "give all three or none"),
    ("motors.csv", "110,14,450", "110,14,0",
     "motors.csv, line 6, pull_n: '0 N' is nothing; it must be above 0; measure it again"),
    ("motors.csv", "450,70,60", "450,-70,60",
     "motors.csv, line 6, rod_mm: '-70 mm' is negative; it must be above 0; leave out the minus sign"),
    ("wheelboxes.csv", "56,34,8,1.5", "56,34,0,1.5",
     "wheelboxes.csv, line 7, nut_mm: '0 mm' is nothing; it must be above 0; measure it again"),
    ("arms.csv", "arm-200,200,180", "arm-200,zwei,180",
     "arms.csv, line 4, length_mm: 'zwei' is not a plain number; it must be a number of mm; "
     "write the number alone, it counts mm"),
]  # fmt: skip


@pytest.mark.parametrize(("table", "stands", "instead", "sentence"), WRONG)
def test_a_wrong_cell_is_told_with_file_line_and_column(
    folder: Path, table: str, stands: str, instead: str, sentence: str
) -> None:
    """The whole sentence."""
    path = folder / table
    text = path.read_text(encoding="utf-8")
    assert stands in text
    path.write_text(text.replace(stands, instead, 1), encoding="utf-8")
    with pytest.raises(CatalogueError) as error:
        read_catalogue(folder)
    assert str(error.value) == sentence


def test_a_missing_table_is_told_unless_another_folder_has_it(folder: Path) -> None:
    """The second folder fills in for the first, table by table."""
    (folder / "arms.csv").unlink()
    with pytest.raises(InputError) as error:
        read_catalogue(folder)
    assert str(error.value) == (
        f"{folder}/arms.csv: there is no such file; it must be a file that can be read; check its name and folder"
    )
    assert read_catalogue(folder, otherwise=data_folder()) == shipped()
