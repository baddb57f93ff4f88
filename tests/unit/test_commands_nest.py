"""``nest``: several jobs and lists on one stock, and what stops it."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tubing.commands import main, nesting
from tubing.inputs.shop_file import data_folder
from tubing.nesting import Bar, Nest, Progress, Proof, Stock

JOBS = data_folder() / "jobs"
TWIN, TRUCK = str(JOBS / "lined-up-twin.toml"), str(JOBS / "works-truck.toml")


@pytest.fixture
def listed(tmp_path: Path) -> Callable[..., str]:
    """A list of pieces in a file."""

    def write(*rows: str, header: str = "piece,length,quantity", name: str = "rails") -> str:
        path = tmp_path / f"{name}.csv"
        path.write_text("\n".join([header, *rows, ""]), encoding="utf-8")
        return str(path)

    return write


@pytest.fixture
def trimming(tmp_path: Path) -> str:
    """The demo shop, which loses 5 mm at each raw end of a bar and nothing to the saw."""
    text = (data_folder() / "shop.toml").read_text(encoding="utf-8")
    for key, value in (("end_trim", "5 mm"), ("kerf", "0 mm")):
        text, found = re.subn(rf'^{key}( *)= "[^"]*"', rf'{key}\1= "{value}"', text, flags=re.M)
        assert found == 1
    path = tmp_path / "shop.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def nested(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["nest", *words, "--json"]) == 0
    streams = capsys.readouterr()
    assert streams.err == ""
    return json.loads(streams.out)  # type: ignore[no-any-return]


def pieces(data: dict[str, Any]) -> Counter[str]:
    return Counter(name for bar in data["bars"] for name in bar["pieces"] * bar["count"])


def test_a_list_on_bars_given_in_words(capsys: pytest.CaptureFixture[str], listed: Callable[..., str], trimming: str):
    """Six of 900 mm: the shop's 5 mm at each end leave 990 of a metre, one piece each; the saw takes 1 mm."""
    data = nested(capsys, listed("rail,900 mm,6"), "--stock", "1 m @ 2.50", "--kerf", "1 mm", "--shop", trimming)
    (bar,) = data["bars"]
    assert (bar["count"], bar["pieces"], bar["marks_mm"]) == (6, ["rail"], [5.0, 905.0])
    assert bar["left_mm"] == 1000 - 905 - 1 - 5
    assert data["nest"] == {
        "cost": "15.00", "bound": "15.00", "proof": "proved optimal", "counted_in": "EUR", "note": "",
    }  # fmt: skip


def test_stock_without_a_price_is_counted_by_length(capsys: pytest.CaptureFixture[str], listed: Callable[..., str]):
    data = nested(capsys, listed("rail,900 mm,6"), "--stock", "1 m", "--stock", "2 m")
    assert data["nest"]["cost"] == "6000.00"
    assert data["nest"]["counted_in"] == "mm of bar"


def test_several_jobs_and_lists_say_whose_piece_it_is(capsys: pytest.CaptureFixture[str], listed: Callable[..., str]):
    data = nested(capsys, TWIN, TRUCK, listed("rail,412.5 mm,2,steel-8", header="piece,length,quantity,size"))
    assert pieces(data) == Counter(
        {
            "Lined-up two-seater: nose-near": 1,
            "Lined-up two-seater: near-far": 1,
            "Lined-up two-seater: far-end": 1,
            "Works truck: nose-left": 1,
            "Works truck: left-middle": 1,
            "Works truck: middle-right": 1,
            "Works truck: right-end": 1,
            "rails: rail": 2,
        }
    )


def test_a_stock_plan_says_which_jobs_it_is_for(capsys: pytest.CaptureFixture[str]):
    """A job's own sheet and a saw list for several may differ: each says whose it is."""
    assert main(["plan", TWIN]) == 0
    own = " ".join(capsys.readouterr().out.split())
    assert (
        "This stock plan is for this vehicle alone. One for several together (the commands sheet A B and nest)" in own
    )
    assert main(["nest", TWIN, TRUCK]) == 0
    together = " ".join(capsys.readouterr().out.split())
    assert (
        "This stock plan is for lined-up-twin.toml and works-truck.toml together. The sheets that belong to it"
        in together
    )
    assert main(["nest", TWIN]) == 0
    assert "This stock plan is for" not in capsys.readouterr().out


def test_jobs_of_one_title_are_told_apart(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    again = tmp_path / "again.toml"
    again.write_text(Path(TWIN).read_text(encoding="utf-8"), encoding="utf-8")
    names = pieces(nested(capsys, TWIN, str(again)))
    assert set(names.values()) == {1}
    assert {"Lined-up two-seater (1): near-far", "Lined-up two-seater (2): near-far"} <= set(names)


def test_no_time_gives_the_first_plan(capsys: pytest.CaptureFixture[str], listed: Callable[..., str]):
    """Bars filled by length, longest first: a plan that can be sawn, and told as not proved."""
    rails = listed(*(f"rail {k},{700 + 37 * k} mm,{1 + k % 3}" for k in range(25)))
    data = nested(capsys, rails, "--stock", "6000 mm @ 12.50", "--stock", "4000 mm @ 9.00", "--time-limit", "0")
    assert sum(pieces(data).values()) == sum(1 + k % 3 for k in range(25))
    assert data["nest"]["proof"] == "best found in the time allowed"


def test_one_job_alone_needs_no_name(capsys: pytest.CaptureFixture[str]):
    assert set(pieces(nested(capsys, TWIN))) == {"nose-near", "near-far", "far-end"}


def test_a_name_in_two_rows_gets_its_line(capsys: pytest.CaptureFixture[str], listed: Callable[..., str]):
    data = nested(capsys, listed("rail,300 mm,1", "post,20 mm,1", "rail,200 mm,2"), "--stock", "6 m")
    assert pieces(data) == Counter({"rail (line 2)": 1, "post": 1, "rail (line 4)": 2})


def test_a_list_without_sizes_takes_that_of_the_only_other_tube(
    capsys: pytest.CaptureFixture[str], listed: Callable[..., str]
):
    data = nested(capsys, TWIN, listed("rail,300 mm,1"))
    assert {bar["size"] for bar in data["bars"]} == {"steel-8"}


def test_a_list_whose_tube_is_not_clear(capsys: pytest.CaptureFixture[str], listed: Callable[..., str]):
    assert main(["nest", listed("rail,300 mm,1")]) == 2
    assert capsys.readouterr() == (
        "",
        "rails.csv, line 2, size: it is not given; it must be clear which tube the piece is cut from; add a column "
        "size with one of aluminium-7.94, copper-8, steel-7.94, steel-8\n",
    )


def test_a_list_of_a_tube_that_is_not_stocked(capsys: pytest.CaptureFixture[str], listed: Callable[..., str]):
    path = listed("rail,300 mm,1,steel-80", header="piece,length,quantity,size")
    assert main(["nest", path]) == 2
    assert capsys.readouterr().err == (
        "rails.csv, line 2, size: the shop has no stock of 'steel-80'; it must be one of aluminium-7.94, copper-8, "
        "steel-7.94, steel-8; did you mean 'steel-8' or 'steel-7.94'?\n"
    )


def test_a_piece_longer_than_any_bar_is_named(
    capsys: pytest.CaptureFixture[str], listed: Callable[..., str], trimming: str
):
    assert main(["nest", listed("rail,300 mm,1", "mast,7 m,1"), "--stock", "6 m", "--shop", trimming]) == 3
    assert capsys.readouterr().err == (
        "--stock, piece 'mast': its length is 7000 mm; the longest usable bar is 5990 mm; buy a longer bar, or lead "
        "the run shorter or move the motor: guide tube is not to be joined\n"
    )


def test_the_same_length_of_stock_twice(capsys: pytest.CaptureFixture[str], listed: Callable[..., str]):
    assert main(["nest", listed("rail,300 mm,1"), "--stock", "6 m", "--stock", "6000 mm"]) == 2
    assert capsys.readouterr().err.startswith("stock 'tube 6000 mm': size 'tube' in 6000 mm is given twice;")


def test_the_saw_list_is_printed_with_its_marks(
    capsys: pytest.CaptureFixture[str], listed: Callable[..., str], trimming: str
):
    assert main(["nest", listed("rail,900 mm,6"), "--stock", "1 m @ 2.50", "--shop", trimming]) == 0
    text = capsys.readouterr().out
    assert text.startswith("Cutting plan for rails.csv\n==========================\n")
    assert "In every row: count 6; from new; tube tube; bar length 1000.0 mm; marks count" in text
    assert "905.0   rail" in text
    assert max(map(len, text.splitlines())) <= 80


def interrupted(*_: object, **__: object) -> Nest:
    """A solve that was stopped, with the best plan it had."""
    stock = Stock("tube 1000 mm", "tube", Fraction(1000), 100)
    bar = Bar(stock, 1, ("rail",), (Fraction(900),), (Fraction(5), Fraction(905)), Fraction(90), False)
    return Nest((bar,), 100, 50, Proof.FEASIBLE, interrupted=True)


def test_an_interrupt_prints_the_best_plan_so_far_and_says_so(
    capsys: pytest.CaptureFixture[str], listed: Callable[..., str], trimming: str, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("tubing.plan.together.nest", interrupted)
    assert main(["nest", listed("rail,900 mm,1"), "--stock", "1 m @ 1.00", "--shop", trimming]) == 4
    out, err = capsys.readouterr()
    assert "could still save 0.50 EUR (best found in the time allowed; not proved)" in out.replace("\n", " ")
    assert err == (
        "nest: stopped from the keyboard; the plan printed is the best so far; start it again for a better one\n"
    )


class Screen:
    """Stands for a terminal on the error stream."""

    def __init__(self) -> None:
        self.text = ""

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        self.text += text
        return len(text)

    def flush(self) -> None:
        """Nothing is kept back."""


def test_progress_is_told_after_a_second_and_only_on_a_screen(monkeypatch: pytest.MonkeyPatch):
    """At most twice a second, and what has not changed every five."""
    clock, screen = [0.0], Screen()
    monkeypatch.setattr(nesting.time, "monotonic", lambda: clock[0])
    monkeypatch.setattr(nesting.sys, "stderr", screen)
    tell = nesting._teller()
    assert tell is not None
    for second, cost in ((0.5, 1700), (1.2, 1600), (1.4, 1590), (2.0, 1560), (4.0, 1560), (8.0, 1560)):
        clock[0] = second
        tell(Progress(cost, 1500))
    assert screen.text == (
        "cost so far 16.00, cannot be below 15.00, could still save 1.00\n"
        "cost so far 15.60, cannot be below 15.00, could still save 0.60\n"
        "cost so far 15.60, cannot be below 15.00, could still save 0.60\n"
    )


def test_no_progress_in_a_pipe(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(Screen, "isatty", lambda self: False)
    monkeypatch.setattr(nesting.sys, "stderr", Screen())
    assert nesting._teller() is None


@pytest.mark.parametrize("words", ["2.5", "2.5 s", "0.5 min"])
def test_a_time_limit_is_seconds_or_says_its_unit(words: str):
    assert nesting._seconds(words) == (30.0 if "min" in words else 2.5)


def test_a_job_named_twice_is_two_vehicles(capsys: pytest.CaptureFixture[str]) -> None:
    """Each piece of the job is cut once for either vehicle, and the title says how many there are."""
    assert main(["nest", TWIN, TWIN, "--json"]) == 0
    cut = Counter(name for bar in json.loads(capsys.readouterr().out)["bars"] for name in bar["pieces"] * bar["count"])
    assert main(["nest", TWIN, "--json"]) == 0
    once = Counter(name for bar in json.loads(capsys.readouterr().out)["bars"] for name in bar["pieces"] * bar["count"])
    [title] = {name.split(" (")[0] for name in cut}
    assert cut == Counter({f"{title} ({k}): {name}": count for name, count in once.items() for k in (1, 2)})
    assert main(["nest", TWIN, TWIN]) == 0
    assert "Cutting plan for 2 of lined-up-twin.toml" in capsys.readouterr().out
