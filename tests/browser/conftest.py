"""The browser for all tests of pages."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.browsers import CHROMIUM, QUIET


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests."""
    if CHROMIUM is None:
        pytest.skip("there is no Chromium on this machine: apt-get install chromium")
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield started
        started.close()
