"""What all tests share.

Pinned files: our own output, of no authority. ``--repin`` writes them anew after a wanted change.
Laws are tried on the same examples each time, so that a run can be repeated; ``--hypothesis-profile=search`` looks for
others.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

from tests.browsers import CHROMIUM, QUIET

if TYPE_CHECKING:
    from playwright.sync_api import Browser

settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("search", deadline=None)
settings.load_profile("same")

PINNED = Path(__file__).parent / "pinned"


def pytest_configure() -> None:
    """Let Ctrl-C reach this process and those that it starts, also where a script started the tests in its background.

    There SIGINT is ignored, and a process that inherits that cannot be stopped by the tests that press Ctrl-C.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--repin", action="store_true", help="write the pinned files anew from today's output")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests of pages."""
    from playwright.sync_api import sync_playwright  # only these tests need it, and it takes time to load

    if CHROMIUM is None:
        pytest.skip("there is no Chromium on this machine: apt-get install chromium")
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield started
        started.close()


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
