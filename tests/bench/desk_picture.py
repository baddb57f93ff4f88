"""Takes the README's picture of the desk: python tests/bench/desk_picture.py. It needs a browser."""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from playwright.sync_api import sync_playwright

from tests.browsers import CHROMIUM, QUIET
from tests.desks import ROOT, served


def main() -> None:
    """The corner job with its nose moved by 10 mm."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        shutil.copy(ROOT / "data" / "jobs" / "round-the-corner.toml", folder)
        with served(Path(folder)) as desk:
            browser = driver.chromium.launch(executable_path=CHROMIUM, args=QUIET)
            page = browser.new_page(viewport={"width": 1100, "height": 720})
            page.goto(desk.address)
            page.get_by_role("link", name="Round-the-corner van").click()
            page.locator('[data-path=\'["motor","nose"]\']').fill("-900 mm, -790 mm, -250 mm")
            page.locator(".changed").wait_for()
            page.evaluate("document.activeElement.blur(); window.scrollTo(0, 760)")
            page.screenshot(path=str(ROOT / "data" / "pictures" / "desk" / "desk.png"))
            browser.close()


if __name__ == "__main__":
    main()
