"""What a customer is offered: sums by hand, nothing of the workshop's own figures, and wrong words. All invented."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.demos import demo_plan
from tubing.commands import main
from tubing.cost import Cost, CostLine, Group
from tubing.inputs.shop_file import data_folder, read_shop
from tubing.quote import offered, quote

JOBS = data_folder() / "jobs"
TWIN = str(JOBS / "lined-up-twin.toml")
BUSINESS = read_shop(None).business


def line(group: Group, what: str, amount: str, quantity: int = 1, unit: str = "each") -> CostLine:
    return CostLine(group, what, Fraction(quantity), unit, None, Decimal(amount), "invented")


def costs(*lines: CostLine) -> Cost:
    total = sum((each.amount for each in lines if each.amount is not None), Decimal(0))
    return Cost("EUR", lines, total, ())


def test_the_margin_lies_in_the_lines_and_they_add_up_to_the_net():
    """100 of parts and 50 of work, 15 % margin, 20 % tax: 115.00 and 57.50, 172.50 net, 34.50 tax, 207.00."""
    found = offered(
        "twin",
        costs(
            line(Group.PARTS, "motor", "100.00"),
            line(Group.WORK, "bend", "50.00"),
            line(Group.MARGIN, "margin", "22.50", 15, "%"),
            line(Group.TAX, "tax", "34.50", 20, "%"),
        ),
    )
    assert found.lines == (
        ("Motor, wheelboxes, rack and fittings", Decimal("115.00")),
        ("Making and fitting", Decimal("57.50")),
    )
    assert (found.net, found.tax, found.tax_percent, found.total) == (
        Decimal("172.50"), Decimal("34.50"), 20, Decimal("207.00"),
    )  # fmt: skip


@given(st.lists(st.integers(0, 10**6), min_size=4, max_size=4), st.integers(0, 10**5))
def test_to_the_cent_whatever_the_shares_are(amounts: list[int], margin: int):
    """The lines always add up to the net, and none is below what it was without the margin by more than a cent."""
    groups = (Group.PARTS, Group.TUBE, Group.WORK, Group.CONSUMABLES)
    money = [str(Decimal(each).scaleb(-2)) for each in amounts]
    lines = [line(group, group.name, amount) for group, amount in zip(groups, money, strict=True)]
    if sum(amounts):
        lines.append(line(Group.MARGIN, "margin", str(Decimal(margin).scaleb(-2)), 15, "%"))
    found = offered("twin", costs(*lines))
    assert sum((amount for _, amount in found.lines), Decimal(0)) == found.net == found.total


def test_a_demo_quote_costs_what_the_job_costs(capsys: pytest.CaptureFixture[str]):
    """The sum to pay is the cost's total, and neither margin, sources nor prices of parts stand on the paper."""
    assert main(["quote", TWIN, "--date", "2026-05-31", "--customer", "A. Nobody"]) == 0
    text = capsys.readouterr().out
    total = demo_plan("lined-up-twin").cost.total
    assert f"to pay {total}" in " ".join(text.split())
    assert "valid until 2026-06-30" in " ".join(text.split())
    for word in ("margin", "price list", "48.00", "96.00", "27.50"):
        assert word not in text
    assert "A. Nobody" in text
    assert "2 x bench-box" in text


def test_a_quote_as_data_and_its_number(capsys: pytest.CaptureFixture[str]):
    """The keys of the contract; the same offer on the same day has the same number, unless one is given."""
    assert main(["quote", TWIN, "--date", "2026-05-31", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert {"number", "date", "valid_until", "layouts"} <= data.keys()
    assert data["layouts"][0].keys() >= {"layout", "lines", "net", "tax", "total"}
    assert data["number"].startswith("20260531-")
    assert main(["quote", TWIN, "--date", "2026-05-31", "--json", "--number", "17/b"]) == 0
    assert json.loads(capsys.readouterr().out)["number"] == "17/b"


def test_layouts_are_offered_side_by_side(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """A twin and a triple of one job, each with its own price; what each contains is told apart."""
    shop = tmp_path / "shop.toml"
    text = (data_folder() / "shop.toml").read_text(encoding="utf-8")
    for item in ("own motor", "own box 'left'", "own box 'middle'", "own box 'right'"):
        text += f'\n[[price]]\nitem = "{item}"\namount = "50.00"\nunit = "each"\nsource = "invented"\n'
    shop.write_text(text, encoding="utf-8")
    job = str(JOBS / "works-truck.toml")
    assert main(["quote", job, "--shop", str(shop), "--json"]) == 0
    offer = json.loads(capsys.readouterr().out)
    totals = [Decimal(layout["total"]) for layout in offer["layouts"]]
    assert len(totals) > 1
    assert main(["cost", job, "--shop", str(shop), "--json"]) == 0
    own = json.loads(capsys.readouterr().out)["layouts"]
    assert totals == [Decimal(each["cost"]["total"]) if "cost" in each else Decimal(each["total"]) for each in own]
    assert main(["quote", job, "--shop", str(shop), "--layout", offer["layouts"][1]["layout"]]) == 0
    assert offer["layouts"][0]["layout"] not in capsys.readouterr().out.split("PRICE")[1].split("\n")[1]


def test_a_page_goes_into_a_new_file_and_says_names_as_typed(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    page = tmp_path / "quote.html"
    name = '<b>Nobody & "Sons"</b>'
    assert main(["quote", TWIN, "--customer", name, "-o", str(page)]) == 0
    text = page.read_text(encoding="utf-8")
    assert "&lt;b&gt;Nobody &amp; &#34;Sons&#34;&lt;/b&gt;" in text
    assert "http" not in text.replace("http-equiv", "")
    capsys.readouterr()
    assert main(["quote", TWIN, "-o", str(page)]) == 3
    assert capsys.readouterr().err == f"{page}: it is there already; it must be a new file; give it another name\n"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([TWIN, "--date", "31.5.2026"], "--date: it is '31.5.2026'; it must be a day, year first; write it "
         "like 2026-05-31"),
        ([TWIN, "--date", "2026-02-30"], "--date: it is '2026-02-30'; it must be a day, year first; write it "
         "like 2026-05-31"),
        ([TWIN, "--layout", "triple"], "lined-up-twin.toml, layout: 'triple' is not in the job; it must be one of "
         "twin; choose one"),
        ([TWIN, "--number", "x" * 101], "--number: it is 101 letters long; it must be at most 100; shorten it"),
        ([str(JOBS / "works-truck.toml")], "shop.toml, layout triple, price of 'own motor': there is none in the price "
         "list; a quote must be whole; add a [[price]] for it to the shop file"),
    ],
)  # fmt: skip
def test_wrong_words_are_told(words: list[str], message: str, capsys: pytest.CaptureFixture[str]):
    """§13 Errors: one line says which thing, what it is, what it had to be and what to do."""
    assert main(["quote", *words]) == 2
    assert capsys.readouterr() == ("", f"{message}\n")


def test_a_shop_that_does_not_say_who_offers_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    shop = tmp_path / "shop.toml"
    text = (data_folder() / "shop.toml").read_text(encoding="utf-8")
    start = text.index("[business]")
    shop.write_text(text[:start] + text[text.index("[[price]]", start) :], encoding="utf-8")
    assert main(["quote", TWIN, "--shop", str(shop)]) == 2
    assert capsys.readouterr().err == (
        'shop.toml, business: it is not given; a quote says who offers; add a section [business] with name = "..."\n'
    )


def test_how_long_a_quote_stands_is_the_shops_to_say():
    """Thirty days from the last of January end in March, where a month would have no such day."""
    assert BUSINESS is not None
    made = quote(
        {"twin": costs(line(Group.PARTS, "motor", "1.00"))}, BUSINESS, title="x", customer="", number="1",
        on=date(2026, 1, 31),
    )  # fmt: skip
    assert made.valid_until == date(2026, 3, 2)
