"""The desk as a fitter uses it, in a real browser: a change and its plan, undo, save; by keyboard, on a phone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.desks import Served, served
from tubing.inputs.shop_file import data_folder

pytestmark = pytest.mark.long
JOBS = data_folder() / "jobs"
CORNER = (JOBS / "round-the-corner.toml").read_text(encoding="utf-8")
NOSE, HOLE = '["motor","nose"]', '["wheelbox",1,"hole"]'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with three jobs, one with a hostile name."""
    (tmp_path / "van.toml").write_text(CORNER, encoding="utf-8")
    (tmp_path / "truck.toml").write_text((JOBS / "works-truck.toml").read_text(encoding="utf-8"), encoding="utf-8")
    hostile = CORNER.replace('"Round-the-corner van"', "'<img src=x onerror=\"document.title=1\">'")
    (tmp_path / "hostile.toml").write_text(hostile, encoding="utf-8")
    return tmp_path


@pytest.fixture
def desk(folder: Path) -> Iterator[Served]:
    with served(folder) as started:
        yield started


@pytest.fixture
def tab(browser: Browser, desk: Served) -> Iterator[Page]:
    """A page that was opened by the printed address; whatever it complains of, or asks elsewhere, is a fault."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    faults: list[str] = []
    page.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: faults.append(str(error)))
    ours = f"http://127.0.0.1:{desk.port}/"
    page.on("request", lambda request: None if request.url.startswith((ours, "data:")) else faults.append(request.url))
    page.goto(desk.address)
    yield page
    told = ("409", "400", "ERR_CONNECTION_REFUSED")  # the page's script tells these itself
    assert [text for text in faults if not any(each in text for each in told)] == []
    context.close()


def opened(tab: Page, title: str = "Round-the-corner van") -> Page:
    """A job's page with its plan."""
    tab.get_by_role("link", name=title).click()
    expect(tab.locator("#look .said")).to_be_visible(timeout=20_000)
    return tab


def field(tab: Page, path: str):
    return tab.locator(f"[data-path='{path}']")


def test_a_change_is_seen_undone_and_saved(tab: Page, folder: Path):
    """The journey: open, move the nose by 10 mm, see old beside new, undo, redo, save, and find it in the file."""
    opened(tab)
    before = tab.locator("#status").inner_text()
    field(tab, NOSE).fill("-900 mm, -790 mm, -250 mm")
    expect(tab.locator(".changed")).to_contain_text("piece nose-near, sawn", timeout=20_000)
    assert tab.locator("#status").inner_text() != before
    tab.get_by_role("button", name="Undo").click()
    expect(tab.locator(".changed")).to_have_count(0, timeout=20_000)
    expect(field(tab, NOSE)).to_have_value("-900 mm, -800 mm, -250 mm")
    tab.get_by_role("button", name="Redo").click()
    expect(tab.locator(".changed")).to_be_visible(timeout=20_000)
    tab.keyboard.press("Control+s")
    expect(tab.locator("#status")).to_contain_text("Saved.", timeout=20_000)
    expected = CORNER.replace('"-800 mm"', '"-790 mm"')
    assert (folder / "van.toml").read_text(encoding="utf-8") == expected
    expect(tab.get_by_role("button", name="Save")).to_be_disabled()


def test_a_wrong_value_is_told_at_its_field_and_harms_nothing(tab: Page, folder: Path):
    opened(tab)
    field(tab, HOLE).fill("250, 0 mm, 0 mm")
    expect(field(tab, HOLE)).to_have_attribute("aria-invalid", "true", timeout=20_000)
    said = tab.locator(f"#{field(tab, HOLE).get_attribute('id')}-w")
    expect(said).to_contain_text("must be a length")
    expect(tab.locator("#look svg").first).to_be_visible()
    field(tab, HOLE).fill("251 mm, 0 mm, 0 mm")
    expect(said).to_be_hidden(timeout=20_000)
    assert (folder / "van.toml").read_text(encoding="utf-8") == CORNER


def test_two_tabs_on_one_job_never_overwrite_each_other(tab: Page, browser: Browser, desk: Served, folder: Path):
    """The second to save is shown what lies on disk; taking it, undo brings its own text back."""
    opened(tab)
    other = tab.context.new_page()
    other.goto(f"http://127.0.0.1:{desk.port}/job/van.toml")
    expect(other.locator("#look .said")).to_be_visible(timeout=20_000)
    field(tab, HOLE).fill("252 mm, 0 mm, 0 mm")
    expect(tab.get_by_role("button", name="Save")).to_be_enabled(timeout=20_000)
    tab.get_by_role("button", name="Save").click()
    expect(tab.locator("#status")).to_contain_text("Saved.", timeout=20_000)
    field(other, HOLE).fill("260 mm, 0 mm, 0 mm")
    expect(other.get_by_role("button", name="Save")).to_be_enabled(timeout=20_000)
    other.get_by_role("button", name="Save").click()
    expect(other.locator("#conflict")).to_contain_text("changed on disk", timeout=20_000)
    assert '"252 mm"' in (folder / "van.toml").read_text(encoding="utf-8")
    other.get_by_role("button", name="Take the one on disk").click()
    expect(field(other, HOLE)).to_have_value("252 mm, 0 mm, 0 mm", timeout=20_000)
    other.get_by_role("button", name="Undo").click()
    expect(field(other, HOLE)).to_have_value("260 mm, 0 mm, 0 mm", timeout=20_000)
    other.close(run_before_unload=False)


def test_the_keyboard_alone_is_enough(tab: Page, folder: Path):
    """From the list to a saved change without the mouse: Tab, Enter, typing, Ctrl+S."""
    for _ in range(10):
        tab.keyboard.press("Tab")
        if tab.evaluate("document.activeElement.textContent") == "Round-the-corner van":
            break
    tab.keyboard.press("Enter")
    expect(tab.locator("#look .said")).to_be_visible(timeout=20_000)
    for _ in range(80):
        tab.keyboard.press("Tab")
        if tab.evaluate("document.activeElement.dataset.path") == NOSE:
            break
    tab.keyboard.press("Control+a")
    tab.keyboard.type("-900 mm, -795 mm, -250 mm")
    expect(tab.locator(".changed")).to_be_visible(timeout=20_000)
    tab.keyboard.press("Control+s")
    expect(tab.locator("#status")).to_contain_text("Saved.", timeout=20_000)
    assert '"-795 mm"' in (folder / "van.toml").read_text(encoding="utf-8")


def test_the_whole_file_as_text_says_what_the_form_has_no_field_for(tab: Page):
    """A second thing in the way, written as text, becomes fields and is kept clear of."""
    opened(tab)
    tab.get_by_role("button", name="Whole file as text").click()
    more = '\n[[in_the_way]]\nname = "duct"\nsphere = { centre = ["0 mm", "-300 mm", "0 mm"], radius = "20 mm" }\n'
    tab.locator("#text").fill(CORNER + more)
    expect(tab.locator("#look svg").first).to_contain_text("duct", timeout=20_000)
    tab.get_by_role("button", name="Whole file as text").click()
    expect(tab.get_by_role("group", name="in the way 'duct'")).to_be_visible()


def test_layouts_stand_side_by_side(tab: Page):
    """A triple and its twin: prices beside each other, and the other one by choice."""
    opened(tab, "Works truck")
    expect(tab.locator("#look")).to_contain_text("Cost of the layouts")
    tab.locator("#layout").select_option("twin")
    expect(tab.locator("#status")).to_contain_text("twin:", timeout=20_000)


def test_a_server_that_ended_is_told_and_nothing_typed_is_lost(tab: Page, desk: Served):
    opened(tab)
    desk.process.kill()
    desk.process.wait()
    tab.context.set_offline(False)
    field(tab, NOSE).fill("-900 mm, -790 mm, -250 mm")
    expect(tab.locator("#status")).to_contain_text("The desk does not answer", timeout=20_000)
    expect(field(tab, NOSE)).to_have_value("-900 mm, -790 mm, -250 mm")


def test_a_hostile_title_is_shown_as_typed(tab: Page):
    expect(tab.get_by_role("link", name="<img src=x")).to_be_visible()
    assert tab.title() != "1"
    opened(tab, "<img src=x")
    assert tab.locator("img").count() == 0


@pytest.mark.parametrize("wide", [1280, 390])
def test_the_pages_keep_the_rules_of_accessibility(wide: int, tab: Page):
    """axe-core finds nothing, on a desk and on a phone's width, with a wrong value shown as well."""
    tab.set_viewport_size({"width": wide, "height": 800})
    assert Axe().run(tab).violations_count == 0
    opened(tab)
    found = Axe().run(tab)
    assert found.violations_count == 0, found.generate_report()
    field(tab, HOLE).fill("250, 0 mm, 0 mm")
    expect(field(tab, HOLE)).to_have_attribute("aria-invalid", "true", timeout=20_000)
    found = Axe().run(tab)
    assert found.violations_count == 0, found.generate_report()


def test_on_a_phone_nothing_is_wider_than_the_page(tab: Page):
    """390 px: the form and the plan below each other, wide tables and pictures move in their own frames."""
    tab.set_viewport_size({"width": 390, "height": 800})
    opened(tab)
    assert tab.evaluate("document.documentElement.scrollWidth") <= 390
    tab.set_viewport_size({"width": 640, "height": 450})  # 1280 at 200 %
    assert tab.evaluate("document.documentElement.scrollWidth") <= 640


def test_the_sheet_opens_to_print(tab: Page):
    opened(tab)
    tab.get_by_role("link", name="Sheet to print").click()
    expect(tab.get_by_role("heading", name="Cut list")).to_be_visible(timeout=20_000)
    assert tab.locator("header").first.evaluate("e => getComputedStyle(e).borderTopStyle") == "solid", (
        "it has its style"
    )


def test_a_stranger_goes_from_an_empty_folder_to_a_sheet(browser: Browser, tmp_path: Path):
    """No job, no terminal: the questions on a page, a wrong answer mended, the plan, the file, the sheet to print."""
    answers = {
        "title": "Blue van",
        "nose": "700 mm left, 34 mm back, 18.5 mm down",
        "nose heading to": "-400 mm, -34 mm, -18.5 mm",
        "box 1 hole": "-300 mm, 0 mm, 0 mm",
        "box 1 spindle to": "-300 mm, 180 mm, 240 mm",
        "box 2 hole": "200 kg, 0 mm, 0 mm",
        "box 2 spindle to": "200 mm, 180 mm, 240 mm",
    }
    with served(tmp_path) as desk:
        page = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
        faults: list[str] = []
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.goto(desk.address)
        page.get_by_role("link", name="New job").click()
        for key, text in answers.items():
            page.locator(f"[data-key='{key}']").fill(text)
        wrong = page.locator("[data-key='box 2 hole']")
        expect(wrong).to_have_attribute("aria-invalid", "true", timeout=20_000)
        expect(page.get_by_role("button", name="Write the job")).to_be_disabled()
        wrong.fill("200 mm, 0 mm, 0 mm")
        expect(page.locator("#look svg").first).to_be_visible(timeout=20_000)
        expect(page.locator("[data-key='box 2 spindle from']")).to_have_value("200 mm, 0 mm, 0 mm")
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        page.locator("#file").fill("blue-van.toml")
        page.get_by_role("button", name="Write the job").click()
        page.wait_for_url("**/job/blue-van.toml", timeout=20_000)
        page.get_by_role("link", name="Sheet to print").click()
        expect(page.get_by_role("heading", name="Cut list")).to_be_visible(timeout=20_000)
        assert faults == []
        page.context.close()
    assert 'title  = "Blue van"' in (tmp_path / "blue-van.toml").read_text(encoding="utf-8")


def test_the_run_is_turned_by_buttons_keys_and_dragging(tab: Page):
    """Each way turns it and back again; every tube keeps its points, only their places on the page change."""
    opened(tab)
    tube = tab.locator(".turned .turn-tube").first

    def places() -> str:
        return tube.get_attribute("points") or ""

    before = places()
    tab.get_by_role("button", name="Turn left").click()
    turned = places()
    assert turned != before
    assert turned.count(",") == before.count(",")
    tab.get_by_role("button", name="Turn right").click()
    assert places() == before
    tab.locator(".turned > div").focus()
    tab.keyboard.press("ArrowUp")
    assert places() != before
    tab.keyboard.press("ArrowDown")
    assert places() == before
    box = tab.locator(".turned > div").bounding_box()
    assert box is not None
    tab.mouse.move(box["x"] + 50, box["y"] + 50)
    tab.mouse.down()
    tab.mouse.move(box["x"] + 150, box["y"] + 60)
    tab.mouse.up()
    after = places()
    assert after != before
    field(tab, NOSE).fill("-900 mm, -790 mm, -250 mm")
    expect(tab.locator(".changed")).to_be_visible(timeout=20_000)
    assert places().split()[-1] != before.split()[-1], "the view stays turned when the plan changes"


def test_the_shops_page_in_the_browser(tab: Page, folder: Path, desk: Served):
    """A price is changed and saved; shop and shelf keep the rules of accessibility."""
    text = (data_folder() / "shop.toml").read_text(encoding="utf-8")
    (folder / "shop.toml").write_text(text, encoding="utf-8")
    tab.goto(f"http://127.0.0.1:{desk.port}/shop")
    expect(tab.locator("#look .said")).to_contain_text("all can be read", timeout=20_000)
    field(tab, '["money","rate_per_hour"]').fill("55.00")
    expect(tab.get_by_role("button", name="Save")).to_be_enabled(timeout=20_000)
    found = Axe().run(tab)
    assert found.violations_count == 0, found.generate_report()
    tab.get_by_role("button", name="Save").click()
    expect(tab.locator("#status")).to_contain_text("Saved.", timeout=20_000)
    assert (folder / "shop.toml").read_text(encoding="utf-8") == text.replace('"48.00"', '"55.00"')
    tab.goto(f"http://127.0.0.1:{desk.port}/shelf")
    found = Axe().run(tab)
    assert found.violations_count == 0, found.generate_report()
