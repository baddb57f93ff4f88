"""The operations that the pieces and the vehicle still need, each with what it needs and makes."""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator

from tubing.bench_work.ends import flared_first, flared_last, over_length_end
from tubing.bench_work.records import Does, Fact, Operation, WorkPiece, Workshop

MOTOR = "motor"
RACK = "rack"


def operations(shop: Workshop) -> tuple[Operation, ...]:
    """Every operation that is still to do, in no order."""
    stock = [_operation(Does.STOCK, "stock", (), [Fact("sound", "stock")])]
    return (
        *(stock if any(not piece.sawn for piece in shop.pieces) else ()),
        *_holes(shop),
        *(operation for piece in shop.pieces for operation in _piece(piece, shop)),
        *_fitting(shop),
        *_running(shop),
    )


def _operation(
    does: Does, thing: str, needs: Iterable[Fact] = (), makes: Iterable[Fact] = (), at: str = ""
) -> Operation:
    return Operation(does, thing, at, frozenset(needs), frozenset(makes))


def _holes(shop: Workshop) -> Iterator[Operation]:
    """Boxes and motor are drilled for and fixed, each once what decides its place is known."""
    for thing in (MOTOR, *shop.boxes):
        if thing in shop.fixed:
            continue
        if thing != MOTOR:
            needs = [Fact("laid", piece.id) for piece in shop.pieces if _decides(piece, shop) == thing]
            yield _operation(Does.DRILL, thing, needs, [Fact("drilled", thing)])
        needs = [] if thing == MOTOR else [Fact("drilled", thing)]
        yield _operation(Does.FIX, thing, needs, [Fact("fixed", thing)])


def _decides(piece: WorkPiece, shop: Workshop) -> str | None:
    """The box that is drilled for where the piece's far flare comes: of a doubtful piece that nothing can shorten."""
    box = piece.ends[1].port
    if piece.in_doubt and over_length_end(piece) is None and box in shop.boxes:
        return None if box in shop.fixed else box
    return None


def _piece(piece: WorkPiece, shop: Workshop) -> Iterator[Operation]:
    """From the bar to a finished piece."""
    sawn, clean = Fact("sawn", piece.id), Fact("clean", piece.id)
    if not piece.sawn:
        yield _operation(Does.SAW, piece.id, [Fact("sound", "stock")], [sawn])
        yield _operation(Does.DEBURR, piece.id, [sawn], [clean])
    straight = [] if piece.sawn else [clean]
    bent = [] if piece.bent or not piece.bends else [Fact("bent", piece.id)]
    if bent:
        marked = [Fact("marked", piece.id)] if piece.bends_known else []
        if marked:
            yield _operation(Does.MARK, piece.id, straight, marked)
        first = flared_first(piece)
        flared = [] if first is None else [_flared(piece, first)]
        yield _operation(Does.BEND, piece.id, [*straight, *marked, *flared], bent)
    yield from _ends(piece, shop, straight, bent)


def _ends(piece: WorkPiece, shop: Workshop, straight: list[Fact], bent: list[Fact]) -> Iterator[Operation]:
    """The flares, and what is cut in place between the first and the last of them."""
    first, last = flared_first(piece), flared_last(piece)
    ready = [*straight, *bent]
    if first is not None:
        marked = [Fact("marked", piece.id)] if bent and piece.bends_known else []
        yield _operation(Does.FIRST_FLARE, piece.id, [*straight, *marked], [_flared(piece, first)], _port(piece, first))
        ready.append(_flared(piece, first))
    held: list[Fact] = []
    if piece.in_doubt:
        held = yield from _held_in_place(piece, shop, ready)
    if last is not None:
        at = _port(piece, last)
        if piece.ends[last].nut:
            yield _operation(Does.NUT, piece.id, [*ready, *held], [Fact("nut on", piece.id)], at)
            held = [*held, Fact("nut on", piece.id)]
        yield _operation(Does.LAST_FLARE, piece.id, [*ready, *held], [_flared(piece, last)], at)
        ready.append(_flared(piece, last))
    if bent:
        yield _operation(Does.MEASURE, piece.id, [*ready, *held], [Fact("measured", piece.id)])


def _held_in_place(piece: WorkPiece, shop: Workshop, ready: list[Fact]) -> Generator[Operation, None, list[Fact]]:
    """A doubtful piece is laid in place; where an end can be cut, it is trimmed there. Returns what that makes."""
    waits = over_length_end(piece)
    undrilled = _decides(piece, shop)
    things = [end.port for end in piece.ends if end.port in shop.boxes and end.port != undrilled]
    if any(end.port == "nose" for end in piece.ends):
        things.append(MOTOR)
    fixed = [Fact("fixed", thing) for thing in things if thing not in shop.fixed]
    laid = [Fact("laid", piece.id)]
    yield _operation(Does.LAY, piece.id, [*ready, *fixed], laid, "" if waits is None else _port(piece, waits))
    if waits is None:
        return laid
    at = _port(piece, waits)
    trimmed, dressed = Fact("trimmed", piece.id, at), Fact("dressed", piece.id, at)
    yield _operation(Does.TRIM, piece.id, laid, [trimmed], at)
    yield _operation(Does.DRESS, piece.id, [trimmed], [dressed], at)
    return [dressed]


def _flared(piece: WorkPiece, end: int) -> Fact:
    return Fact("flared", piece.id, piece.ends[end].port)


def _port(piece: WorkPiece, end: int) -> str:
    return piece.ends[end].port


def _finished(piece: WorkPiece, shop: Workshop) -> set[Fact]:
    """All that is so of a piece when nothing more is to be done to it at the bench."""
    made = {fact for operation in _piece(piece, shop) for fact in operation.makes}
    return {fact for fact in made if fact.what != "measured"}


def _fitting(shop: Workshop) -> Iterator[Operation]:
    """From finished pieces to a rack that runs by hand."""
    if not shop.rack_cut:
        yield _operation(Does.RACK, RACK, (), [Fact("cut", RACK)])
    yield _operation(Does.GREASE, RACK, [Fact("cut", RACK)] if not shop.rack_cut else (), [Fact("greased", RACK)])
    finished = {fact for piece in shop.pieces for fact in _finished(piece, shop)}
    measured = {Fact("measured", piece.id) for piece in shop.pieces if piece.bends and not piece.bent}
    fixed = {Fact("fixed", thing) for thing in (MOTOR, *shop.boxes) if thing not in shop.fixed}
    yield _operation(Does.THREAD, RACK, {Fact("greased", RACK), *finished, *measured, *fixed}, [Fact("threaded", RACK)])
    yield _operation(Does.SEAT, RACK, [Fact("threaded", RACK)], [Fact("seated", RACK)])
    if shop.clips:
        yield _operation(Does.CLIP, RACK, [Fact("seated", RACK)], [Fact("clipped", RACK)])


def _running(shop: Workshop) -> Iterator[Operation]:
    """From the rack that runs by hand to the water test."""
    before = [Fact("clipped" if shop.clips else "seated", RACK)]
    for does, makes in (
        (Does.PULL, Fact("runs free", RACK)),
        (Does.STOP, Fact("stopped", RACK)),
        (Does.PARK, Fact("parked", MOTOR)),
        (Does.ARMS, Fact("on", "arms")),
        (Does.TURN, Fact("clear", "arms")),
        (Does.WATER, Fact("wiped wet", "arms")),
    ):
        yield _operation(does, makes.thing, before, [makes])
        before = [makes]
