"""Pinned: our own output, no authority. A wanted change? Say why in the commit, then ``pytest --repin``."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tubing.commands import main
from tubing.inputs.shop_file import data_folder

JOBS = data_folder() / "jobs"
WORDS = {
    "round-the-corner.txt": ["plan", str(JOBS / "round-the-corner.toml"), "--all"],
    "round-the-corner.json": ["plan", str(JOBS / "round-the-corner.toml"), "--json"],
    "inch-launch-inches.txt": ["plan", str(JOBS / "inch-launch.toml"), "--all", "--show", "in"],
    "works-truck-cost.txt": ["cost", str(JOBS / "works-truck.toml")],
    "tables.txt": ["tables"],
}


@pytest.mark.parametrize("name", WORDS)
def test_what_a_demo_prints_is_unchanged(
    name: str, pinned: Callable[[str, str], None], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pinned: may change with every wanted change of words, tables or demo jobs."""
    monkeypatch.setenv("COLUMNS", "80")
    assert main(WORDS[name]) == 0
    pinned(name, capsys.readouterr().out)
