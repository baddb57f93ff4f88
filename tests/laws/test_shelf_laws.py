"""Laws of the shelf's book, tried on random days in a workshop: what is done, undone, repeated, in whichever order."""

from __future__ import annotations

import tempfile
from fractions import Fraction
from pathlib import Path

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from tests.shelf_replay import check_replay, rows_of
from tests.unit.test_shelf_book import plan_on
from tubing.errors import BookError
from tubing.shelf import stock_changes
from tubing.shelf.door import begun
from tubing.shelf.kept_bars import cut, free, keep, spoil
from tubing.shelf.reading import live_keepings, shelf
from tubing.shelf.records import NewBar, Shelf, Vehicle

pytestmark = pytest.mark.long

JOBS = [Vehicle(name) for name in ("van.toml", "launch.toml", "heater.toml")]
LENGTHS = st.integers(320, 3000)


class Workshop(RuleBasedStateMachine):
    """Days in a workshop. The model beside the book: which bars are free, kept for whom, and gone."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.path = Path(self.folder.name) / "shelf.sqlite"
        self.open = begun(self.path)
        self.book = self.open.__enter__()
        self.free: dict[int, int] = {}
        self.kept: dict[Vehicle, tuple[int, int, int]] = {}  # bar, its length, what will be left
        self.keys = 0
        self.past: list[tuple[dict, dict]] = []  # the model before each operation that is not undone

    def teardown(self) -> None:
        self.open.__exit__(None, None, None)
        self.folder.cleanup()

    def key(self) -> str:
        self.keys += 1
        return f"key {self.keys}"

    def remember(self) -> None:
        self.past.append((dict(self.free), dict(self.kept)))

    @rule(length=LENGTHS, count=st.integers(1, 3))
    def add(self, length: int, count: int) -> None:
        """Bars come; the same command again brings none."""
        self.remember()
        key = self.key()
        bars = [NewBar("steel-8", Fraction(length))] * count
        for number in stock_changes.add(self.book, bars, key).bars:
            self.free[number] = length
        assert stock_changes.add(self.book, bars, key).repeated

    @precondition(lambda self: self.free)
    @rule(data=st.data())
    def scrap(self, data: st.DataObject) -> None:
        self.remember()
        number = data.draw(st.sampled_from(sorted(self.free)))
        stock_changes.scrap(self.book, [number], self.key())
        del self.free[number]

    @precondition(lambda self: self.free)
    @rule(data=st.data(), job=st.sampled_from(JOBS), piece=st.integers(10, 300))
    def keep(self, data: st.DataObject, job: Vehicle, piece: int) -> None:
        """A bar is kept; what was kept for the job before is free again."""
        self.remember()
        number = data.draw(st.sampled_from(sorted(self.free)))
        length = self.free[number]
        keep(self.book, plan_on(number, piece, bar_mm=length, vehicle=job), self.key())
        if job in self.kept:
            bar, before, _ = self.kept.pop(job)
            self.free[bar] = before
        del self.free[number]
        self.kept[job] = (number, length, length - piece)

    @precondition(lambda self: self.kept)
    @rule(data=st.data())
    def free_again(self, data: st.DataObject) -> None:
        """Free after keep restores."""
        self.remember()
        job = data.draw(st.sampled_from(sorted(self.kept)))
        free(self.book, [job], self.key())
        bar, length, _ = self.kept.pop(job)
        self.free[bar] = length

    @precondition(lambda self: self.kept)
    @rule(data=st.data())
    def cut(self, data: st.DataObject) -> None:
        """The bar is gone, and what is left of it lies there if it is worth keeping."""
        self.remember()
        job = data.draw(st.sampled_from(sorted(self.kept)))
        keeping = next(k for k in live_keepings(self.book) if k.plan.vehicles == (job,))
        done = cut(self.book, [keeping], self.key())
        _, _, left = self.kept.pop(job)
        assert len(done.bars) == (left >= 300)
        for number in done.bars:
            self.free[number] = left

    @precondition(lambda self: self.past)
    @rule()
    def undo(self) -> None:
        """Undo restores, operation by operation, back to the empty shelf."""
        stock_changes.undo(self.book)
        self.free, self.kept = self.past.pop()

    @rule(number=st.integers(1, 40), job=st.sampled_from(JOBS))
    def what_cannot_be_changes_nothing(self, number: int, job: Vehicle) -> None:
        """Scrapping what is not free, freeing what is not kept: refused, and the book is as it was."""
        before = rows_of(self.path)
        if number not in self.free:
            with pytest.raises(BookError):
                stock_changes.scrap(self.book, [number], self.key())
        if job not in self.kept:
            with pytest.raises(BookError):
                free(self.book, [job], self.key())
        assert rows_of(self.path) == before

    @invariant()
    def the_book_shows_what_the_model_has(self) -> None:
        """What is shown, what a second reading of the rows gives, and the model are one."""
        lies = {**self.free, **{bar: length for bar, length, _ in self.kept.values()}}
        now = shelf(self.book, self.path)
        assert {bar.number: bar.length_mm for bar in now.bars} == lies
        assert {bar.number for bar in now.bars if bar.keeping is not None} == {bar for bar, _, _ in self.kept.values()}
        assert check_replay(self.path) == {number: length * 10**9 for number, length in lies.items()}


Workshop.TestCase.settings = settings(max_examples=40, stateful_step_count=30, deadline=None)
TestWorkshop = Workshop.TestCase


def shown(now: Shelf) -> object:
    """What is on the shelf, whatever the numbers are that it was given."""
    return sorted((bar.tube, bar.length_mm, bar.keeping is not None, bar.from_job) for bar in now.bars)


ACTS = ("add", "scrap", "keep", "cut", "spoil")


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(order=st.permutations(ACTS), other=st.permutations(ACTS))
def test_the_order_of_unrelated_operations_does_not_matter(order: list[str], other: list[str]):
    """Each touches bars of its own; in any order the same bars lie there, and the same lengths went where they went."""
    found = []
    for acts in (order, other):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "shelf.sqlite"
            with begun(path) as book:
                stock_changes.add(book, [NewBar("steel-8", Fraction(1000))] * 5, "bars")
                keep(book, plan_on(1, 200, vehicle=JOBS[0]), "to cut")
                keep(book, plan_on(2, 200, vehicle=JOBS[1]), "to spoil")
                cut(book, [k for k in live_keepings(book) if k.plan.vehicles == (JOBS[1],)], "cut it")
                for act in acts:
                    if act == "add":
                        stock_changes.add(book, [NewBar("copper-8", Fraction(700))], act)
                    elif act == "scrap":
                        stock_changes.scrap(book, [3], act)
                    elif act == "keep":
                        keep(book, plan_on(4, 333, vehicle=JOBS[2]), act)
                    elif act == "cut":
                        cut(book, [k for k in live_keepings(book) if k.plan.vehicles == (JOBS[0],)], act)
                    else:
                        spoil(book, [p for p in shelf(book, path).cut if p.vehicle == JOBS[1]], act)
                now = shelf(book, path)
                sums = book.execute("SELECT place, sum(length_pm) FROM entry GROUP BY place ORDER BY place").fetchall()
            check_replay(path)
            found.append((shown(now), sorted((p.vehicle, p.name, p.length_mm) for p in now.cut), sums))
    assert found[0] == found[1]
