"""The browser for all tests of pages."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests."""
    if CHROMIUM is None:
        pytest.skip("there is no Chromium on this machine: apt-get install chromium")
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield started
        started.close()
