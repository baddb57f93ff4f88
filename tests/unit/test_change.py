"""`change` at the terminal: values by number, what each changed, the old copy, nothing harmed when stopped."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from tests.unit.test_desk_files import fields_of
from tubing.commands import main
from tubing.inputs.shop_file import data_folder

TWIN = (data_folder() / "jobs" / "lined-up-twin.toml").read_text(encoding="utf-8")


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "van.toml"
    path.write_text(TWIN, encoding="utf-8")
    return path


def number(*path: object) -> str:
    """The number under which a value is listed."""
    return str([field.path for field in fields_of(TWIN)].index(path) + 1)


def typed(
    job: Path, lines: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> tuple[int, str, str]:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
    status = main(["change", str(job)])
    streams = capsys.readouterr()
    return status, streams.out, streams.err


def test_a_value_is_changed_told_and_written_with_the_old_file_beside(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    """The far hole 3 mm to the right: its piece and the rack are told old and new; all else of the file stays."""
    lines = [number("wheelbox", 1, "hole"), "203 mm, 0 mm, 0 mm", "", ""]
    status, out, _ = typed(job, lines, monkeypatch, capsys)
    assert status == 0
    assert "piece near-far, sawn: 454.0 mm, now 457.0 mm" in out
    assert job.read_text(encoding="utf-8") == TWIN.replace('["200 mm", "0 mm", "0 mm"]', '["203 mm", "0 mm", "0 mm"]')
    assert (job.parent / "van.before.toml.txt").read_text(encoding="utf-8") == TWIN
    typed(job, [number("drive", "sweep"), "100 deg", "", ""], monkeypatch, capsys)
    assert (job.parent / "van.before-2.toml.txt").read_text(encoding="utf-8").count("203 mm") == 1


@pytest.mark.parametrize(
    "lines",
    [[""], ["1", "", ""], ["1", "Blue", "", "<"], ["1", "Blue"], ["1"], []],
    ids=["nothing", "left", "thrown away", "cut off", "cut off in a value", "cut off at once"],
)
def test_what_is_not_written_harms_nothing(
    lines: list[str], job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    status, _, err = typed(job, lines, monkeypatch, capsys)
    assert status in (0, 4)
    assert (err == "change: stopped; nothing was written; start it again\n") == (status == 4)
    assert job.read_text(encoding="utf-8") == TWIN
    assert [path.name for path in job.parent.iterdir()] == ["van.toml"]


def test_slips_are_told_and_asked_again(job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    """A number that is not listed, a value without its unit, one that fits no vehicle, and an explanation."""
    hole = number("wheelbox", 1, "hole")
    lines = ["99", "x", f"?{hole}", hole, "203, 0 mm, 0 mm", "203 mm, 0 mm, 0 mm", number("drive", "sweep"), "900 deg",
             "100 deg", "", "<"]  # fmt: skip
    status, out, _ = typed(job, lines, monkeypatch, capsys)
    assert status == 0
    assert f"99: it is no number of the list; it must be from 1 to {len(fields_of(TWIN))}." in out
    assert "Where does the spindle's axis leave the panel's outer face?" in out
    assert "to the right: 203 what?" in out
    assert "it must be at most 360 deg" in out
    assert "Thrown away" in out


def test_a_job_that_cannot_be_planned_can_be_mended(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    """Boxes too near are told, and moving one apart again is told as well."""
    job.write_text(TWIN.replace('["200 mm", "0 mm", "0 mm"]', '["-280 mm", "0 mm", "0 mm"]'), encoding="utf-8")
    hole = number("wheelbox", 1, "hole")
    status, out, _ = typed(job, [hole, "-281 mm, 0 mm, 0 mm", hole, "200 mm, 0 mm, 0 mm", "", ""], monkeypatch, capsys)
    assert status == 0
    assert "It cannot be planned so: " in out
    assert "It can be planned now." in out
    assert job.read_text(encoding="utf-8") == TWIN


def test_a_file_that_is_no_job_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert main(["change", str(tmp_path / "none.toml")]) == 2
    assert "there is no such file" in capsys.readouterr().err
    (tmp_path / "x.toml").write_text("title = 5\n", encoding="utf-8")
    assert main(["change", str(tmp_path / "x.toml")]) == 2
