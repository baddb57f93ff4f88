"""The order of work, followed to the letter by a bench that knows only what can be done to tube.

The bench below shares no code with what it checks: it keeps what each piece looks like, and refuses what no fitter can
do, such as marking a bent tube or putting a nut over a flare.
"""

from collections import Counter
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from tubing.bench_work.order import order_of_work
from tubing.bench_work.records import Does, WorkEnd, WorkPiece, Workshop


class Bench:
    """Pieces as they lie on the bench, boxes as they stand on the vehicle."""

    def __init__(self, shop):
        self.shop = shop
        self.pieces = {piece.id: piece for piece in shop.pieces}
        self.sawn = {p.id for p in shop.pieces if p.sawn}
        self.clean = set(self.sawn)
        self.marked, self.laid, self.trimmed, self.nut_on, self.ended = set(), set(), set(), set(), False
        self.bent = {p.id for p in shop.pieces if p.bent or not p.bends}
        self.formed = {(p.id, e.port) for p in shop.pieces for e in p.ends if e.ready or e.flared}
        self.drilled, self.fixed, self.threaded = set(shop.fixed), set(shop.fixed), False

    def end(self, name, port):
        return next(end for end in self.pieces[name].ends if end.port == port)

    def do(self, step):
        getattr(self, step.does.name.lower(), lambda thing, at: None)(step.thing, step.at)

    def drill(self, box, at):
        assert box not in self.drilled
        self.drilled.add(box)

    def fix(self, thing, at):
        assert thing == "motor" or thing in self.drilled
        self.fixed.add(thing)

    def saw(self, name, at):
        assert name not in self.sawn
        self.sawn.add(name)

    def deburr(self, name, at):
        assert name in self.sawn
        self.clean.add(name)

    def mark(self, name, at):
        assert name in self.clean
        assert name not in self.bent, "a bent tube cannot be marked along its length"
        self.marked.add(name)

    def bend(self, name, at):
        assert name in self.clean
        assert name not in self.bent
        assert name in self.marked or not self.pieces[name].bends_known
        self.bent.add(name)

    def lay(self, name, at):
        piece = self.pieces[name]
        assert name in self.bent
        held = [end.port for end in piece.ends if end.port in (*self.shop.boxes, "nose")]
        standing = [port for port in held if ("motor" if port == "nose" else port) in self.fixed]
        if at:
            assert standing == held, "trimmed between places that are not fixed"
        else:
            assert len(standing) >= len(held) - 1
        self.laid.add(name)

    def trim(self, name, at):
        assert name in self.laid
        assert (name, at) not in self.formed, "a flare was sawn off"
        self.trimmed.add(name)
        self.clean.discard(name)

    def dress(self, name, at):
        self.clean.add(name)

    def nut(self, name, at):
        assert (name, at) not in self.formed
        assert name in self.bent, "the nut would be caught before the bend"
        self.nut_on.add(name)

    def flare(self, name, at):
        end = self.end(name, at)
        assert name in self.clean
        assert end.flare != "plain"
        assert (name, at) not in self.formed
        assert not end.nut or name in self.nut_on
        self.formed.add((name, at))

    first_flare = last_flare = flare

    def thread(self, thing, at):
        for piece in self.shop.pieces:
            assert piece.id in self.bent & self.clean & self.sawn
            for end in piece.ends:
                assert end.flare == "plain" or (piece.id, end.port) in self.formed
            assert piece.id in self.laid or not piece.doubtful or piece.trimmed
        assert {"motor", *self.shop.boxes} <= self.fixed
        self.threaded = True

    def water(self, thing, at):
        assert self.threaded
        self.ended = True


@st.composite
def workshops(draw):
    """Two or three boxes with their pieces, each in any state that a bench can be left in."""
    boxes = ("near", "middle", "far")[: draw(st.integers(2, 3))]
    ports = ("nose", *boxes, "end")
    pieces = []
    for start, end in pairwise(ports):
        sawn = draw(st.booleans())
        bends = draw(st.integers(0, 3))
        bent = sawn and bool(bends) and draw(st.booleans())
        ends = []
        for port in (start, end):
            flare = draw(st.sampled_from(("single", "double", "plain"))) if port == "end" else "single"
            ready = flare != "plain" and draw(st.booleans())
            flared = flare != "plain" and not ready and sawn and draw(st.booleans())
            ends.append(WorkEnd(port, flare, nut=port == "nose", ready=ready, flared=flared))
        doubtful = draw(st.booleans())
        trimmed = doubtful and sawn and draw(st.booleans())
        known = draw(st.booleans())
        pieces.append(WorkPiece(f"{start}-{end}", tuple(ends), bends, known, doubtful, sawn, bent, trimmed))
    return Workshop(tuple(pieces), boxes, frozenset(), draw(st.booleans()), draw(st.booleans()))


@given(workshops())
def test_the_order_can_be_followed_to_the_letter(shop):
    """No step asks for what no bench can do, and at the end the wiper wipes."""
    bench = Bench(shop)
    for step in order_of_work(shop):
        bench.do(step)
    assert bench.ended


@given(workshops())
def test_each_operation_is_told_once_and_after_all_that_it_needs(shop):
    """What a step needs was made by an earlier one, or was so before the work began."""
    steps = order_of_work(shop)
    assert max(Counter((s.does, s.thing, s.at) for s in steps).values()) == 1
    made = set()
    for place, step in enumerate(steps):
        assert step.needs <= made
        assert all(earlier < place for earlier in step.after)
        made |= step.makes


@given(workshops())
def test_what_is_done_is_not_told_again(shop):
    """A sawn piece is not sawn, a bent one neither marked nor bent, a flared end not flared."""
    steps = {(s.does, s.thing, s.at) for s in order_of_work(shop)}
    for piece in shop.pieces:
        if piece.sawn:
            assert (Does.SAW, piece.id, "") not in steps
        if piece.bent:
            assert not {(Does.MARK, piece.id, ""), (Does.BEND, piece.id, "")} & steps
        for end in piece.ends:
            if end.flared or end.ready:
                assert not {(Does.FIRST_FLARE, piece.id, end.port), (Does.LAST_FLARE, piece.id, end.port)} & steps


@given(workshops())
def test_an_end_that_waits_is_trimmed_between_fixed_places_and_flared_after(shop):
    """An over-length end is trimmed once, before its flare; nothing else is trimmed."""
    steps = order_of_work(shop)
    place = {(s.does, s.thing, s.at): k for k, s in enumerate(steps)}
    for (does, thing, at), k in place.items():
        if does is Does.TRIM:
            assert place[Does.LAY, thing, at] < k < place.get((Does.LAST_FLARE, thing, at), len(steps))
