"""Pinned files: our own output, of no authority. ``--repin`` writes them anew after a wanted change."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

PINNED = Path(__file__).parent / "pinned"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--repin", action="store_true", help="write the pinned files anew from today's output")


@pytest.fixture
def pinned(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """Compares a text with a pinned file, or writes it there."""

    def compare(name: str, text: str) -> None:
        path = PINNED / name
        if request.config.getoption("--repin"):
            path.write_text(text, encoding="utf-8")
        assert path.is_file(), f"{path.name} is not pinned yet: run pytest --repin"
        assert text == path.read_text(encoding="utf-8")

    return compare
