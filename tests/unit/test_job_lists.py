"""Plain lists of pieces: what is read, and how a wrong line is told."""

from fractions import Fraction
from pathlib import Path

import pytest

from tubing.errors import InputError, JobError, UnitError
from tubing.inputs.piece_lists import read_list
from tubing.inputs.records import ListedPiece
from tubing.units import exact_mm


def listed(folder: Path, text: str) -> tuple[ListedPiece, ...]:
    """The list with this text, read."""
    path = folder / "list.csv"
    path.write_text(text, encoding="utf-8")
    return read_list(path)


def test_lengths_with_their_units(tmp_path: Path) -> None:
    """Millimetres and inches may stand in one list; sizes may be left empty."""
    pieces = listed(tmp_path, 'piece,length,quantity,size\nrail,412.5 mm,4,steel-8\n"stay, left",16 1/64 in,1,\n')
    assert [(p.piece, exact_mm(p.length), p.quantity, p.size, p.line) for p in pieces] == [
        ("rail", Fraction(825, 2), 4, "steel-8", 2),
        ("stay, left", Fraction(127, 5) * (16 + Fraction(1, 64)), 1, None, 3),
    ]


def test_lengths_in_a_column_that_bears_the_unit(tmp_path: Path) -> None:
    """Then the cells hold numbers alone; columns may come in any order."""
    pieces = listed(tmp_path, "quantity,length_mm,piece\n2,99.25,a\n")
    assert [(p.piece, exact_mm(p.length), p.quantity, p.size) for p in pieces] == [("a", Fraction(397, 4), 2, None)]


def test_comments_and_empty_lines_keep_the_count_of_lines(tmp_path: Path) -> None:
    """So that a message names the line that the editor shows."""
    pieces = listed(tmp_path, "# made by hand\n\npiece,length_mm,quantity\n# the long ones\na,900,1\n\nb,800,1\n")
    assert [p.line for p in pieces] == [5, 7]


def test_a_list_saved_by_a_spreadsheet(tmp_path: Path) -> None:
    """Byte order mark, Windows line ends, quotes round everything."""
    path = tmp_path / "list.csv"
    path.write_bytes(b'\xef\xbb\xbf"piece","length","quantity"\r\n"a","900 mm","2"\r\n')
    assert [(p.piece, p.quantity) for p in read_list(path)] == [("a", 2)]


HEAD = "piece,length,quantity\n"
WRONG = [
    (
        "",
        JobError,
        "list.csv: it is empty; its columns are piece, quantity, length, length_mm, size; write those you need as its "
        "first line",
    ),
    (HEAD, JobError, "list.csv: it lists no pieces; there must be something to cut; add a line for each piece"),
    ("piece;length;quantity\na;900 mm;1\n", JobError,
     "list.csv, line 1: its columns are not parted by commas; it must be comma-separated; save it as CSV with commas"),
    ("piece\tlength\tquantity\n", JobError,
     "list.csv, line 1: its columns are not parted by commas; it must be comma-separated; save it as CSV with commas"),
    ("piece,lenght,quantity\n", JobError,
     "list.csv, line 1: there is no column 'lenght'; the columns are piece, quantity, length, length_mm, size; "
     "did you mean 'length' or 'length_mm'?"),
    ("piece,length,length\n", JobError,
     "list.csv, line 1: the column 'length' stands twice; each column must stand once; take one out"),
    ("piece,length\n", JobError,
     "list.csv, line 1: the column 'quantity' is missing; it must have piece, quantity; add it"),
    ("piece,quantity\na,1\n", JobError,
     "list.csv: it has no column for the length; it must have one of length, length_mm; "
     "name the column length and give each cell its unit, or length_mm and give numbers alone"),
    ("piece,quantity,length,length_mm\na,1,3 mm,3\n", JobError,
     "list.csv: it has both length and length_mm; it must have one of length, length_mm; "
     "name the column length and give each cell its unit, or length_mm and give numbers alone"),
    (HEAD + "a,900 mm,1\nb,1,5\n", UnitError,
     "list.csv, line 3, length: '1' has no unit; it must be a length; write it '1 mm'"),
    (HEAD + "a,900,5 mm,1\n", JobError,
     "list.csv, line 2: it has 4 cells; it must have 3, one per column; part cells with commas, "
     "write decimals with a point and quote a text that holds a comma"),
    (HEAD + 'a,"900,5 mm",1\n', UnitError,
     "list.csv, line 2, length: '900,5 mm' has a decimal comma; it must be a length; write it '900.5 mm'"),
    (HEAD + "a,0 mm,1\n", JobError,
     "list.csv, line 2, length: '0 mm' is nothing; it must be above 0; measure it again"),
    (HEAD + "a,-5 mm,1\n", JobError,
     "list.csv, line 2, length: '-5 mm' is negative; it must be above 0; leave out the minus sign"),
    (HEAD + "a,5 km,1\n", UnitError,
     "list.csv, line 2, length: '5 km' has the unknown unit 'km'; it must be a length; did you mean 'm'? "
     "use one of mm, cm, m, in, ft"),
    (HEAD + "a,101 m,1\n", JobError,
     "list.csv, line 2, length: '101 m' is absurdly large; it must be at most 100 m; check the number and its unit"),
    (HEAD + "a,,1\n", JobError,
     "list.csv, line 2, length: it is empty; it must be given; fill the cell in"),
    (HEAD + ",900 mm,1\n", JobError,
     "list.csv, line 2, piece: it is empty; it must be given; fill the cell in"),
    (HEAD + "a,900 mm,1.5\n", JobError,
     "list.csv, line 2, quantity: '1.5' is not a count; it must be a whole number above 0; write it like 4"),
    (HEAD + "a,900 mm,0\n", JobError,
     "list.csv, line 2, quantity: '0' is not a count; it must be a whole number above 0; write it like 4"),
    (HEAD + "a,900 mm,-2\n", JobError,
     "list.csv, line 2, quantity: '-2' is not a count; it must be a whole number above 0; write it like 4"),
    (HEAD + "a,900 mm,99999999999\n", JobError,
     "list.csv, line 2, quantity: 99999999999 is absurdly many; it must be at most 10000000; check it"),
    ("piece,length_mm,quantity\na,900 mm,1\n", JobError,
     "list.csv, line 2, length_mm: '900 mm' is not a plain number; it must be a number of mm; "
     "write the number alone, it counts mm"),
    ('piece,length_mm,quantity\na,"900,5",1\n', JobError,
     "list.csv, line 2, length_mm: '900,5' is not a plain number; it must be a number of mm; write '900.5'"),
    ("piece,length_mm,quantity\na,nan,1\n", JobError,
     "list.csv, line 2, length_mm: 'nan' is not a plain number; it must be a number of mm; "
     "write the number alone, it counts mm"),
    (HEAD + 'a,"900 mm,1\n', JobError,
     "list.csv, line 2: it is not CSV (unexpected end of data); each quote must be closed; mend the quotes"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "kind", "sentence"), WRONG)
def test_a_wrong_list_is_told_with_its_line(tmp_path: Path, text: str, kind: type[InputError], sentence: str) -> None:
    """File, line, column; what it is; what it had to be; what to do."""
    with pytest.raises(InputError) as error:
        listed(tmp_path, text)
    assert type(error.value) is kind
    assert str(error.value) == sentence
