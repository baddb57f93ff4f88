"""The pieces of one vehicle, or of several together, on the shop's bars.

Label:    what a vehicle is called in a stock plan for several; its pieces are called ``label: piece`` there.
Own part: the bars of such a plan that hold pieces of one vehicle, these called by their own names again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from tubing.errors import StockError
from tubing.inputs.records import Job, Shop
from tubing.nesting import Bar, Cutting, Item, Nest, Progress, Proof, Stock, check_nest, nest
from tubing.pieces.blanks import Piece
from tubing.pieces.sawn import OverLength
from tubing.plan.facts import bars_gone, items_of
from tubing.shelf.records import Vehicle


class OnBars(Struct, frozen=True):
    """What one vehicle wants of the bars."""

    label: str  # empty: the vehicle is alone
    job: Job
    pieces: tuple[Piece, ...]
    over: Mapping[str, OverLength]
    often_because: tuple[str, ...] = ()  # what a piece that is too long for the stock often comes from
    vehicle: Vehicle | None = None  # its name in the shelf's book; None: no book is kept


def told_apart(names: Sequence[str]) -> list[str]:
    """Names, those that stand more than once with a number.

    >>> told_apart(["van", "launch", "van"])
    ['van (1)', 'launch', 'van (2)']
    """
    count, seen, told = Counter(names), Counter[str](), []
    for name in names:
        seen[name] += 1
        told.append(f"{name} ({seen[name]})" if count[name] > 1 else name)
    return told


def labelled(items: Sequence[Item], label: str) -> list[Item]:
    """Items called by their vehicle or list as well; without a label as they are."""
    return [replace(item, id=called(item.id, label)) for item in items]


def called(name: str, label: str) -> str:
    """A piece by its vehicle or list as well; without a label by its name."""
    return f"{label}: {name}" if label else name


def stock_plan(
    vehicles: Sequence[OnBars],
    shop: Shop,
    stocks: Sequence[Stock],
    cutting: Cutting,
    *,
    more: Sequence[Item] = (),
    done: Mapping[str, Collection[str]] = {},
    time_limit_s: float | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> Nest:
    """All pieces on bars at least cost, checked. ``more``: pieces that are of no vehicle. ``done``: by the
    vehicle's label, pieces that need no bar any more.

    A piece that was cut from a ready-flared bar which is used up keeps its length: the bars are chosen again without
    that end. Raises StockError where the pieces do not fit; its remedy names what often makes a piece too long.
    """
    gone: dict[str, set[str]] = {each.label: set() for each in vehicles}
    limit = {} if time_limit_s is None else {"time_limit_s": time_limit_s}
    while True:
        items = [
            item
            for each in vehicles
            for item in items_of(each.pieces, each.job, shop, each.over, gone[each.label])
            if item.id not in done.get(each.label, ())
            for item in labelled([item], each.label)
        ]
        items += more
        if not items:
            return Nest((), 0, 0, Proof.OPTIMAL)
        try:
            nested = nest(items, stocks, cutting=cutting, progress=progress, **limit)
        except StockError as error:
            error.remedy += "".join(f"; {said}" for said in _remedies(vehicles))
            raise
        found = {each.label: bars_gone(own_part(nested, each), each.job) for each in vehicles}
        if nested.interrupted or all(found[label] <= gone[label] for label in gone):
            check_nest(items, nested, stocks=stocks, cutting=cutting)
            return nested
        for label, pieces in found.items():
            gone[label] |= pieces


def _remedies(vehicles: Sequence[OnBars]) -> list[str]:
    said = []
    for each in vehicles:
        if each.over:
            longer = ", ".join(f"{called(n, each.label)} by {float(o.by_mm):g} mm" for n, o in each.over.items())
            said.append(f"doubtful pieces are left over length ({longer}): surer positions need less")
        # A piece that is too long for the stock often has to turn round: then the remedy lies in its headings.
        said += each.often_because[:1]
    return said


def own_part(nested: Nest, vehicle: OnBars) -> Nest:
    """The bars of a stock plan for several that hold pieces of one vehicle, under the numbers that they have there.

    Cost, bound and proof stay those of the whole plan. Without a label the plan is one vehicle's own.
    """
    if not vehicle.label:
        return nested
    names = {called(piece.id, vehicle.label): piece.id for piece in vehicle.pieces}
    own = [(number, bar) for number, bar in nested.numbered if not names.keys().isdisjoint(bar.items)]
    sawn = [bar for bar in nested.sawn if not names.keys().isdisjoint(bar.items)]

    def by_own_names(bar: Bar) -> Bar:
        return replace(bar, items=tuple(names.get(name, name) for name in bar.items))

    return replace(
        nested,
        bars=tuple(by_own_names(bar) for _, bar in own),
        numbers=tuple(number for number, _ in own),
        sawn=tuple(map(by_own_names, sawn)),
    )
