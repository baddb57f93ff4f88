"""The page where a fitter opens and prints it: quiet, alone, full size, readable.

The PDF is read by PyMuPDF, the accessibility rules are those of axe-core; neither is part of the program.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import Path

import pymupdf
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.demos import demo_plan
from tubing.commands.sheeting import sheet_files
from tubing.drawing.svg import SMALL_MM
from tubing.sheet.content import job_sheet

pytestmark = pytest.mark.long
POINT_MM = 25.4 / 72
TWINS = [
    "behind-the-heater",
    "inch-launch",
    "lined-up-twin",
    "round-the-corner",
    "taped-estate",
    "taped-estate-misread",
]


@pytest.fixture(
    scope="session",
    params=["behind-the-heater", "curved-scuttle", "inch-launch", "lined-up-twin", "round-the-corner", "works-truck"],
)
def sheet_file(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of a demo job."""
    planned = demo_plan(request.param)
    path = tmp_path_factory.mktemp("sheet") / f"{request.param}.html"
    path.write_text(sheet_files(planned, "mm", prices=True)["sheet.html"], encoding="utf-8")
    return path


@pytest.fixture
def tab(browser: Browser, sheet_file: Path) -> Iterator[Page]:
    """The page, open."""
    page = browser.new_page()
    page.goto(sheet_file.as_uri())
    yield page
    page.close()


@pytest.fixture(scope="session")
def printed(browser: Browser, sheet_file: Path) -> dict[str, bytes]:
    """The page as PDF, by paper."""
    page = browser.new_page()
    page.goto(sheet_file.as_uri())
    made = {paper: page.pdf(format=paper, prefer_css_page_size=False) for paper in ("A4", "Letter")}
    page.close()
    return made


def test_nothing_is_said_on_the_console_and_nothing_leaves_the_page(browser: Browser, sheet_file: Path) -> None:
    """Opens offline: the one request is the file itself."""
    said, asked = [], []
    page = browser.new_page()
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(sheet_file.as_uri())
    page.emulate_media(media="print")
    page.wait_for_load_state("networkidle")
    page.close()
    assert said == []
    assert [url for url in asked if not url.startswith("data:")] == [sheet_file.as_uri()]


@pytest.mark.parametrize("sheet_file", ["lined-up-twin", "round-the-corner"], indirect=True)
@pytest.mark.parametrize("media", ["screen", "print"])
def test_axe_finds_no_fault_in_contrast_labels_or_order(tab: Page, media: str) -> None:
    """All rules of axe-core that can be judged without a person; between them the two pages have every part."""
    tab.emulate_media(media=media)
    faults = Axe().run(tab).response["violations"]
    assert [(fault["id"], fault["nodes"][0]["html"]) for fault in faults] == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_full_size_page_prints_full_size_on_its_own_paper(
    tab: Page, sheet_file: Path, printed: dict[str, bytes], paper: str
) -> None:
    """On A4 and Letter slots and strips measure in the PDF what the lists say, to 0.2 mm; each page has its rule."""
    wanted = [row[2:4] for row in job_sheet(demo_plan(sheet_file.stem)).holes.rows]  # slots, wide and long
    with pymupdf.open(stream=printed[paper], filetype="pdf") as pdf:
        full = [page for page in pdf if ", full size" in page.get_text()]
        assert len(full) == tab.locator(".full").count(), "each full-size picture has one page to itself"
        found = []
        for page in full:
            drawings = page.get_drawings()
            found += [_least_and_most_mm(drawing) for drawing in drawings]
            assert "Measure this rule" in page.get_text()
            assert any(abs(_wide_mm(d) - 100) < 0.2 and _tall_mm(d) < 0.01 for d in drawings)
            for start, end in re.findall(r", length \d+ of \d+: ([\d.]+) to ([\d.]+) mm", page.get_text()):
                long = float(end) - float(start)  # of marking-out strip
                assert any(abs(_wide_mm(d) - long) < 0.2 and _tall_mm(d) > 20 for d in drawings), start
    assert wanted, "the job has wheelboxes"
    for wide, long in wanted:
        assert any(abs(w - wide) < 0.2 and abs(t - long) < 0.2 for w, t in found), (wide, long)


def test_letters_are_large_enough_and_nothing_sticks_out_of_the_paper(tab: Page) -> None:
    """No text in a picture below 7 points, none beyond its picture's edge; the page is no wider than the paper."""
    found = tab.evaluate("""[...document.querySelectorAll('svg text')].map(t => {
        const b = t.getBoundingClientRect(), s = t.ownerSVGElement.getBoundingClientRect();
        return [t.textContent, parseFloat(t.getAttribute('font-size')),
                Math.max(s.left - b.left, b.right - s.right, s.top - b.top, b.bottom - s.bottom)]})""")
    assert min(size for _, size, _ in found) >= SMALL_MM >= 7 * POINT_MM
    assert [(text, over) for text, _, over in found if over > 1.0] == []
    tab.emulate_media(media="print")
    assert tab.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_on_a_phone_tables_and_pictures_scroll_and_the_page_does_not(tab: Page) -> None:
    """Pictures keep their size there too: drawn smaller they could not be read."""
    tab.set_viewport_size({"width": 390, "height": 800})
    assert tab.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    assert tab.evaluate("""[...document.querySelectorAll('svg')].every(svg =>
        Math.abs(svg.getBoundingClientRect().width / svg.viewBox.baseVal.width - 96 / 25.4) < 0.01)""")


@pytest.mark.parametrize("sheet_file", ["lined-up-twin"], indirect=True)
def test_ticks_are_still_there_when_the_page_is_opened_again(browser: Browser, sheet_file: Path) -> None:
    """Kept on the device, for this plan alone; the page's policy lets its own script run and no other."""
    with browser.new_context() as context:
        page = context.new_page()
        page.goto(sheet_file.as_uri())
        assert page.locator("ol.work input:checked").count() == 0
        page.locator("ol.work input").nth(2).check()
        page.locator("ol.work input").nth(5).check()
        again = context.new_page()
        again.goto(sheet_file.as_uri())
        boxes = again.locator("ol.work input")
        assert [k for k in range(boxes.count()) if boxes.nth(k).is_checked()] == [2, 5]
        again.evaluate("document.body.insertAdjacentHTML('beforeend', '<img src=x onerror=\"window.ran = 1\">')")
        assert again.evaluate("window.ran") is None


@pytest.mark.parametrize("sheet_file", ["round-the-corner"], indirect=True)
def test_a_phone_is_told_that_wide_tables_move(tab: Page) -> None:
    hint = tab.locator(".phone")
    assert not hint.is_visible()
    tab.set_viewport_size({"width": 390, "height": 800})
    assert hint.is_visible()


def test_no_words_of_a_picture_lie_on_others(tab: Page) -> None:
    """As the browser sets them; boxes of letters hold more than ink, so they may meet by a third of their height."""
    found = tab.evaluate("""[...document.querySelectorAll('svg')].flatMap(svg => {
        const texts = [...svg.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()]);
        return texts.flatMap(([a, p], k) => texts.slice(k + 1).filter(([, q]) => {
            const wide = Math.min(p.right, q.right) - Math.max(p.left, q.left);
            const tall = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
            const least = Math.min(p.height, q.height, p.width, q.width);
            return Math.min(wide, tall) > least / 3;
        }).map(([b]) => [a, b]))})""")
    assert found == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_heading_ends_a_page_and_no_page_is_empty(tab: Page, printed: dict[str, bytes], paper: str) -> None:
    """A heading stands on the page of what it heads; below the last line of each page only its foot."""
    headings = {text.strip() for text in tab.locator("h2, h3").all_inner_texts()}
    with pymupdf.open(stream=printed[paper], filetype="pdf") as pdf:
        for page in pdf:
            lines = [line for line in page.get_text("blocks", sort=True) if line[4].strip()]
            body = [line[4].strip() for line in lines if line[3] < page.rect.height - 13 / POINT_MM]
            assert len(body) > 2, f"page {page.number + 1} is empty"
            assert " ".join(body[-1].split()) not in headings


@pytest.mark.parametrize("sheet_file", TWINS, indirect=True)
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_first_page_is_the_benchs(tab: Page, sheet_file: Path, printed: dict[str, bytes], paper: str) -> None:
    """All of a twin's cutting on one side: cut list, saw marks, bend marks, and every step up to the finished piece."""
    rows = tab.locator("#cut tbody tr, #saw tbody tr, #bends tbody tr").all_inner_texts()
    steps = tab.locator("#work li").all_inner_texts()
    with pymupdf.open(stream=printed[paper], filetype="pdf") as pdf:
        words = pdf[0].get_text().split()
        wanted = [word for text in [*rows, *steps] for word in text.split()]
        assert len(wanted) > 100
        assert [word for word in wanted if word not in words] == []
        assert "Order of work" not in pdf[1].get_text()
        others = [page for page in pdf if ", full size" not in page.get_text()]
        assert len(others) <= (8 if "taped" in sheet_file.stem else 6)  # readings of the tape fill two more


def _wide_mm(drawing: dict) -> float:
    return drawing["rect"].width * POINT_MM


def _tall_mm(drawing: dict) -> float:
    return drawing["rect"].height * POINT_MM


def _least_and_most_mm(drawing: dict) -> tuple[float, float]:
    """How wide a drawn outline is across its narrowest and its widest way."""
    points = [point for item in drawing["items"] if item[0] in "lc" for point in item[1:]]
    if len(points) < 12:
        return 0.0, 0.0
    widths = []
    for k in range(0, 180, 2):
        cos, sin = math.cos(math.radians(k)), math.sin(math.radians(k))
        along = [point.x * cos + point.y * sin for point in points]
        widths.append((max(along) - min(along)) * POINT_MM)
    return min(widths), max(widths)
