"""Files that are no job at all: one message each, which names the file and the place in it."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tubing.errors import InputError
from tubing.inputs.job_file import read_job
from tubing.inputs.piece_lists import read_list
from tubing.inputs.shop_file import data_folder, read_shop

GOOD = (Path(__file__).parent / "job_files" / "example.toml").read_bytes()
READERS: list[Callable[[Path], object]] = [lambda path: read_job(path, read_shop(None)), read_shop, read_list]


def refused(path: Path, reader: Callable[[Path], object] = READERS[0]) -> str:
    """The one message."""
    with pytest.raises(InputError) as error:
        reader(path)
    assert error.value.exit_status == 2
    return str(error.value)


@pytest.mark.parametrize("reader", READERS)
def test_a_file_that_is_not_there(tmp_path: Path, reader: Callable[[Path], object]) -> None:
    """Named with its folder, for the folder is what is often wrong."""
    assert refused(tmp_path / "x.toml", reader) == (
        f"{tmp_path}/x.toml: there is no such file; it must be a file that can be read; check its name and folder"
    )


@pytest.mark.parametrize("reader", READERS)
def test_a_folder(tmp_path: Path, reader: Callable[[Path], object]) -> None:
    """A folder where a file should be."""
    assert refused(tmp_path, reader) == f"{tmp_path}: it is a folder; it must be a file; name the file in it"


@pytest.mark.parametrize("reader", READERS)
def test_a_file_that_is_not_text(tmp_path: Path, reader: Callable[[Path], object]) -> None:
    """The line of the first wrong byte is named."""
    path = tmp_path / "x.toml"
    path.write_bytes(b"# one\n# two \xff\xfe\n")
    assert refused(path, reader) == (
        "x.toml, line 2: it is not text in UTF-8; it must be UTF-8; save it as UTF-8 in your editor"
    )


def test_a_name_that_no_file_can_have() -> None:
    """The system's own word for it is passed on."""
    assert refused(Path("a\0b")) == (
        "a\0b: it cannot be read (embedded null byte); it must be a file that can be read; check its name and rights"
    )


def test_a_name_that_is_too_long(tmp_path: Path) -> None:
    """The same."""
    path = tmp_path / ("x" * 300)
    assert refused(path) == (
        f"{path}: it cannot be read (File name too long); it must be a file that can be read; check its name and rights"
    )


def test_an_endless_file() -> None:
    """Reading stops at a sane size."""
    assert refused(Path("/dev/zero")) == (
        "/dev/zero: it is over 50 MB; it must be a text file of a sane size; check its name"
    )


@pytest.mark.parametrize(
    ("text", "place", "what"),
    [
        ("a = 1\nb = ", "line 2, column 5", "invalid value"),
        ("a = 1\nb", "line 2, column 2", "expected '=' after a key in a key/value pair"),
        ("a = 1\n\n[b\n", "line 3, column 3", "expected ']' at the end of a table declaration"),
        ("a = 1\na = 2\n", "line 2, column 6", "cannot overwrite a value"),
        ("a = 1,5\n", "line 1, column 6", "expected newline or end of document after a statement"),
        ('a = """x\n\ny', "line 3, column 2", "unterminated string"),
    ],
)
def test_broken_toml_is_told_with_line_and_column(tmp_path: Path, text: str, place: str, what: str) -> None:
    """The parser's word for what is wrong, in its place."""
    path = tmp_path / "x.toml"
    path.write_text(text)
    assert refused(path) == (
        f"x.toml, {place}: {what}; it must be TOML, lines of key = value under [sections]; mend that line"
    )


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, "a = " + "9" * 5000])
def test_what_the_toml_reader_itself_gives_up_on(tmp_path: Path, text: str) -> None:
    """Too deep a nesting, too long a number."""
    path = tmp_path / "x.toml"
    path.write_text(text)
    assert refused(path) == (
        "x.toml: it holds a number or a nesting too large to read; it must be plain TOML; take it out"
    )


def test_keys_nested_deeper_than_calls_may_be(tmp_path: Path) -> None:
    """Dotted keys nest without the reader's own limit."""
    path = tmp_path / "x.toml"
    path.write_text("tail" + ".tail" * 2000 + " = 1\n")
    assert refused(path) == 'x.toml, title: it is missing; it must be given; add title = "Two-seater"'


def test_an_empty_job_asks_for_its_first_key(tmp_path: Path) -> None:
    """An empty file is TOML, but no job."""
    path = tmp_path / "x.toml"
    path.write_text("")
    assert refused(path) == 'x.toml, title: it is missing; it must be given; add title = "Two-seater"'


@pytest.mark.parametrize("change", [lambda raw: b"\xef\xbb\xbf" + raw, lambda raw: raw.replace(b"\n", b"\r\n")])
def test_a_byte_order_mark_and_windows_line_ends_change_nothing(
    tmp_path: Path, change: Callable[[bytes], bytes]
) -> None:
    """Editors on other systems write them."""
    shop = read_shop(None)
    plain, other = tmp_path / "plain.toml", tmp_path / "other.toml"
    plain.write_bytes(GOOD)
    other.write_bytes(change(GOOD))
    assert read_job(other, shop) == read_job(plain, shop)


def test_every_demo_job_is_read() -> None:
    """What comes with the program is good input."""
    shop = read_shop(None)
    jobs = sorted((data_folder() / "jobs").glob("*.toml"))
    assert len(jobs) >= 4
    for path in jobs:
        job = read_job(path, shop)
        assert job.layout in job.layouts
