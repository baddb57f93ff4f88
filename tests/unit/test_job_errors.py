"""Each way a job file or a shop file can be wrong: one message, compared whole, and exit status 2.

The cases stand in job_files/wrong.txt (against example.toml) and job_files/wrong_shop.txt (against
example_shop.toml).
"""

import functools
from pathlib import Path

import pytest

from tubing.errors import InputError
from tubing.inputs.job_file import read_job
from tubing.inputs.records import Shop
from tubing.inputs.shop_file import read_shop

FILES = Path(__file__).parent / "job_files"
EXAMPLE = (FILES / "example.toml").read_text(encoding="utf-8")
SHOP = (FILES / "example_shop.toml").read_text(encoding="utf-8")


def cases(name: str) -> list[tuple[str, str, str]]:
    """What stands there, what is written instead, and the message with the error's name before it."""
    blocks = (FILES / name).read_text(encoding="utf-8").split("====\n")[1:]
    found = []
    for block in blocks:
        stands, rest = block.split("\n->\n")
        instead, message = rest.split("=>\n")
        found.append((stands, instead.removesuffix("\n"), message.strip()))
    return found


@functools.cache
def demo_shop() -> Shop:
    """The shop that comes with the program."""
    return read_shop(None)


def refused(error: pytest.ExceptionInfo[InputError]) -> str:
    """The message, with the error's name before it."""
    assert error.value.exit_status == 2
    return f"{type(error.value).__name__}: {error.value}"


def test_the_example_itself_is_read() -> None:
    """Else each case below might be refused for another reason than its own."""
    assert read_job(FILES / "example.toml", demo_shop()).title == "Trials two-seater"


@pytest.mark.parametrize(("stands", "instead", "message"), cases("wrong.txt"))
def test_one_wrong_thing_in_a_job_is_told_whole(tmp_path: Path, stands: str, instead: str, message: str) -> None:
    """Which key, what it is, what it had to be, what to do."""
    assert stands in EXAMPLE
    path = tmp_path / "job.toml"
    path.write_text(EXAMPLE.replace(stands, instead, 1), encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_job(path, demo_shop())
    assert refused(error) == message


@pytest.mark.parametrize(("stands", "instead", "message"), cases("wrong_shop.txt"))
def test_one_wrong_thing_in_a_shop_is_told_whole(tmp_path: Path, stands: str, instead: str, message: str) -> None:
    """The same for the workshop's file."""
    assert stands in SHOP
    path = tmp_path / "shop.toml"
    path.write_text(SHOP.replace(stands, instead, 1), encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_shop(path)
    assert refused(error) == message
