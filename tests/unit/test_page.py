"""The page as text: whole, alone, the same every time, and names on it as typed."""

from __future__ import annotations

import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.demos import demo_plan
from tubing.commands.sheeting import picture_files, sheet_files
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.plan import Plan, plan
from tubing.sheet.content import job_sheet

JOBS = data_folder() / "jobs"
NASTY = "a/b \"c\" 'd' <script>alert(1)</script> \x07 &amp; =1+1 }} {{ 7*7 }} {% x %}"


def planned(name: str, title: str | None = None) -> Plan:
    shop = read_shop(None)
    job = read_job(JOBS / f"{name}.toml", shop)
    return plan(job if title is None else replace(job, title=title), shop)


@pytest.fixture(scope="module")
def twin() -> Plan:
    return demo_plan("lined-up-twin")


@pytest.fixture(scope="module")
def corner() -> Plan:
    return demo_plan("round-the-corner")


class Elements(HTMLParser):
    """What a browser would find: tags in order, and the texts between them."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def test_every_number_of_the_cut_list_and_bends_stands_on_the_page(corner: Plan) -> None:
    """The page draws the same records as the terminal."""
    texts = {text.strip() for text in Elements(sheet_files(corner, "mm", prices=True)["sheet.html"]).texts}
    sheet = job_sheet(corner)
    for row in sheet.cut_list.rows:
        assert f"{float(row[1]):.1f}" in texts
    marks = [cell for row in sheet.bends.rows for cell in row[3:10]]  # places and angles
    assert {f"{float(cell):.1f}" for cell in marks if cell is not None} <= texts
    assert {*sheet.work.lines, *sheet.fitting.lines} <= texts


def test_the_page_has_a_box_to_tick_for_each_step(twin: Plan) -> None:
    """The order of work with boxes, each inside the label that names it."""
    found = Elements(sheet_files(twin, "mm", prices=True)["sheet.html"])
    boxes = [attrs for tag, attrs in found.tags if tag == "input"]
    sheet = job_sheet(twin)
    assert len(boxes) == len(sheet.work.lines) + len(sheet.fitting.lines)
    assert {box["type"] for box in boxes} == {"checkbox"}


def test_the_page_asks_for_nothing_from_outside(corner: Plan) -> None:
    """No source, no link but to itself; one script, which stands in the page and is let run by its hash alone."""
    page = sheet_files(corner, "mm", prices=True)["sheet.html"]
    found = Elements(page)
    assert [attrs for tag, attrs in found.tags if tag == "script"] == [{}]
    assert not {"img", "iframe", "object", "embed"} & {tag for tag, _ in found.tags}
    assert all((attrs.get("href") or "#").startswith(("#", "data:")) for _, attrs in found.tags)
    assert "url(" not in page.replace("url(#", "")
    assert "@import" not in page


def test_names_are_shown_as_typed_and_never_run() -> None:
    """Slashes, quotes, tags, template signs: all of them text; a control character by its code."""
    files = sheet_files(planned("lined-up-twin", NASTY), "mm", prices=True)
    found = Elements(files["sheet.html"])
    assert len([tag for tag, _ in found.tags if tag == "script"]) == 1
    assert NASTY.replace("\x07", "\\x07") in found.texts
    assert "\x07" not in "".join(files.values())
    assert sorted(files) == sorted(sheet_files(planned("lined-up-twin"), "mm", prices=True)), "no name becomes a path"


def test_without_prices_nothing_on_the_page_is_money(corner: Plan) -> None:
    """The workshop's copy."""
    with_prices = sheet_files(corner, "mm", prices=True)["sheet.html"]
    without = sheet_files(corner, "mm", prices=False)["sheet.html"]
    currency = corner.shop.money.currency
    assert currency in with_prices
    for word in (currency, "price", "cost", "Tube costs", str(corner.cost.total)):
        assert word not in re.sub(r"costs most pull", "", without), word
    assert "These are the best bars to take (proved: no plan is better)." in without


def test_inches_stand_beside_the_millimetres(corner: Plan) -> None:
    """``--show in`` on the page as in the terminal."""
    page = sheet_files(corner, "in", prices=True)["sheet.html"]
    assert "cut <span>[mm, in]</span>" in page
    assert re.search(r"<br>\d+ \d+/64 in<", page)


@pytest.mark.long
def test_the_same_job_gives_the_same_bytes(tmp_path: Path) -> None:
    """In two processes with other hash seeds, every file alike: no clock, no chance, no order of a set."""
    made = []
    for seed in ("1", "2"):
        folder = tmp_path / seed
        words = [sys.executable, "cli.py", "sheet", str(JOBS / "round-the-corner.toml"), "-o", str(folder)]
        root = Path(__file__).parents[2]
        subprocess.run(words, cwd=root, check=True, capture_output=True, env={"PYTHONHASHSEED": seed, "PATH": "/bin"})
        made.append({path.name: path.read_bytes() for path in sorted(folder.iterdir())})
    assert made[0] == made[1]
    assert set(made[0]) == {
        "sheet.html", "cut-list.csv", "bends.csv", "saw-list.csv", "parts.csv", "run.dxf", "templates.dxf", "plan.json"
    }  # fmt: skip


def test_the_pictures_of_the_readme_are_those_the_program_makes(twin: Plan, corner: Plan) -> None:
    """data/pictures/ is written by ``sheet --pictures``; the command stands in DEVELOPERS.md."""
    for name, made in (("lined-up-twin", twin), ("round-the-corner", corner)):
        kept = {path.name: path.read_text(encoding="utf-8") for path in (data_folder() / "pictures" / name).iterdir()}
        assert kept == picture_files(made, "mm")
