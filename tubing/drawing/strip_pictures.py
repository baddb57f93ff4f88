"""Marking-out strips: one picture of the whole blank to scale, and the same full size in lengths that fit a page.

Length:     as much of a full-size strip as the paper is wide; straight ones between the ends are not printed.
Match mark: a circle with a cross on the joint, the same letter on both lengths.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from msgspec import Struct

from tubing.drawing.bench_shapes import Strip, StripBend, StripEnd
from tubing.drawing.svg import SMALL_MM, Pen, Picture, Rect, fitted, rule, short_name, spread, text_width_mm
from tubing.sheet.records import Show
from tubing.sheet.words import angle_text, figure_text, length_text, listed
from tubing.units import rounded

WIDE_MM = 186.0
TALL_MM = 236.0  # of a full-size page
TILE_MM = 170.0  # the most of a blank on one length of a full-size strip
LEFT_MM = 8.0
BAND_MM = 9.0  # height of the blank in the picture to scale
ABOVE_MM, BELOW_MM = 16.0, 12.0  # of a full-size strip, for words
HEAD_MM = 20.0  # of a full-size page: the rule, and the instructions for the strips
HOW_TO_USE = (
    "Cut the lengths out, join them circle on circle of the same letter, and wrap them round the straight blank,",
    "print outwards, where their figures from its start say. The long line is the inside of bend 1. Straight lengths "
    "are left out.",
)
MOST_ROWS = 8  # of words over a blank
SEAM_MM = 0.4  # a line this near to the strip's edge lies on the seam when it is wrapped
SIDE_DEG = 0.05  # as the bend schedule words it

Along = Callable[[float], float]  # a place along the blank to paper


def strip_picture(strip: Strip, number: int, show: Show) -> Picture:
    """The whole blank along the paper: cut ends, flares, nut, start and end of each bend, angle and side."""
    pen = Pen()
    scale = max(1.0, strip.length_mm / (WIDE_MM - 2 * LEFT_MM))

    def x(along_mm: float) -> float:
        return LEFT_MM + along_mm / scale

    words = _bend_words(strip, x)
    top = 3.0 + (1 + max((row for _, row, _ in words), default=0)) * (SMALL_MM + 0.8)
    band = Rect(LEFT_MM, top, strip.length_mm / scale, BAND_MM)
    pen.rect(band, "white")
    for bend in strip.bends:
        pen.rect(Rect(x(bend.start_mm), top, (bend.end_mm - bend.start_mm) / scale, BAND_MM), "pale")
    for bend in strip.bends:
        for share in _inside_shares(strip, bend):
            y = top + BAND_MM * share
            pen.line((x(bend.start_mm), y), (x(bend.end_mm), y), "bold")
    _ends(pen, strip, band, scale)
    feet = [top - 1.8 - row * (SMALL_MM + 0.8) for _, row, _ in words]
    for bend, y in zip(strip.bends, feet, strict=True):
        middle = (x(bend.start_mm) + x(bend.end_mm)) / 2
        pen.line((middle, y + 0.6), (middle, top), "fine")
    for (text, _, left), y in zip(words, feet, strict=True):
        pen.text((left, y), text, "start", "halo")
    _figures(pen, strip, band, x, show)
    _end_words(pen, strip, band, show)
    zero = "the rim of the ready flare" if strip.from_rim else "the cut end"
    bent = "Grey: bent part; bold in it: its inside. " if strip.bends else ""
    pen.text(
        (0.5, band.bottom_mm + 14.2),
        f"Figures: {'mm ' if show == 'mm' else ''}from {zero} at {short_name(strip.ends[0].port)}. {bent}"
        f"Hatched: taken by the flare. Scale along 1 : {rounded(scale, 1)}.",
    )
    return pen.picture(
        f"strip-{number}", f"Marking-out strip of {strip.piece}, to scale", WIDE_MM, band.bottom_mm + 16.0
    )


def _figures(pen: Pen, strip: Strip, band: Rect, x: Along, show: Show) -> None:
    """Where the blank and its bends start and end, under it, spread so that all can be read."""
    marks = [0.0, *(m for b in strip.bends for m in (b.start_mm, b.end_mm)), strip.length_mm]
    figures = [figure_text(mark, show) for mark in marks]
    room = max(text_width_mm(text) for text in figures) + 1.5
    at = spread([x(mark) for mark in marks], room, room / 2, WIDE_MM - room / 2)
    for mark, text, here in zip(marks, figures, at, strict=True):
        pen.line((x(mark), band.top_mm), (x(mark), band.bottom_mm + 1.2), "line")
        pen.line((x(mark), band.bottom_mm + 1.2), (here, band.bottom_mm + 3.4), "fine")
        pen.text((here, band.bottom_mm + 6.2), text, "middle")


def _end_words(pen: Pen, strip: Strip, band: Rect, show: Show) -> None:
    """Under each end what is formed there."""
    said = [end_words(end, show) for end in strip.ends]
    pen.text((LEFT_MM, band.bottom_mm + 10.2), said[0])
    # Where both do not fit side by side under a short piece, the second goes on to the right.
    right = max(band.right_mm, LEFT_MM + text_width_mm(said[0]) + text_width_mm(said[1]) + 3.0)
    pen.text((right, band.bottom_mm + 10.2), said[1], "end")


def _inside_shares(strip: Strip, bend: StripBend) -> list[float]:
    """Where a bend's inside lies across the strip, 0 above to 1 below; once more beyond an edge that it lies on.

    The inside of the first bend lies in the middle, so that wrapping does not cut its line.
    """
    share = (bend.round_mm / strip.circumference_mm + 0.5) % 1.0
    if min(share, 1.0 - share) * strip.circumference_mm >= SEAM_MM:
        return [share]
    return [share, share + 1.0 if share < 0.5 else share - 1.0]


def _bend_words(strip: Strip, x: Along) -> list[tuple[str, int, float]]:
    """For each bend its number, angle and side in words, their row over the blank and their left edge."""
    ends = [-math.inf] * MOST_ROWS
    found = []
    for bend in strip.bends:
        text = bend_words(bend)
        width = text_width_mm(text)
        middle = (x(bend.start_mm) + x(bend.end_mm)) / 2
        left = min(max(middle - width / 2, 0.5), max(0.5, WIDE_MM - 0.5 - width))
        row = next((k for k, end in enumerate(ends) if left > end + 2.0), len(ends) - 1)
        ends[row] = left + width
        found.append((text, row, left))
    return found


def bend_words(bend: StripBend) -> str:
    """What to bend, to what angle to set the tool for it, and on which side.

    >>> bend_words(StripBend(1, None, 1.0, 2.0, 30.0, 31.0, 0.0, 0.0))
    'bend 1: 30.0 deg, set 31.0 deg, inside on the line'
    """
    return f"bend {bend.number}: {angle_text(bend.angle_deg)}, set {angle_text(bend.set_deg)}, {side_words(bend)}"


def end_words(end: StripEnd, show: Show = "mm") -> str:
    """What is at an end of the blank, and what is formed there.

    >>> end_words(StripEnd("nose", "double + nut", False, 2.4, True, 0.0))
    'nose: cut end; flare: double + nut'
    >>> end_words(StripEnd("nose", "double + nut", True, 0.0, True, 0.0))
    'nose: rim of the ready flare, double + nut'
    """
    port = short_name(end.port)
    if end.over_mm:
        return f"{port}: {length_text(end.over_mm, show)} over length; trim in place, then flare: {end.formed}"
    if end.ready:
        return f"{port}: rim of the ready flare, {end.formed}"
    return f"{port}: cut end; stays plain" if end.formed == "plain" else f"{port}: cut end; flare: {end.formed}"


def side_words(bend: StripBend) -> str:
    """On which side its inside lies, seen along the tube from its start, in a few words.

    >>> side_words(StripBend(2, 1, 1.0, 2.0, 30.0, 31.0, -60.0, 4.0))
    'inside 60.0 deg left of bend 1'
    """
    if bend.before is None:
        return "inside on the line"
    before = f"bend {bend.before}"
    if abs(bend.rotation_deg) < SIDE_DEG:
        return f"same side as {before}"
    if abs(bend.rotation_deg) > 180 - SIDE_DEG:
        return f"opposite side to {before}"
    way = "right" if bend.rotation_deg > 0 else "left"
    return f"inside {angle_text(abs(bend.rotation_deg))} {way} of {before}"


def _ends(pen: Pen, strip: Strip, band: Rect, scale: float) -> None:
    """What each flare takes, hatched."""
    for k, end in enumerate(strip.ends):
        at = band.left_mm if k == 0 else band.right_mm
        inwards = 1 if k == 0 else -1
        wide = max(end.consumed_mm / scale, 0.8) if end.consumed_mm else 0.0
        over = end.over_mm / scale
        if over:
            pen.line((at + inwards * over, band.top_mm), (at + inwards * over, band.bottom_mm), "dash")
        if wide:
            place = Rect(min(at + inwards * over, at + inwards * (over + wide)), band.top_mm, wide, band.height_mm)
            _hatch(pen, place)


def _hatch(pen: Pen, place: Rect, every_mm: float = 1.2) -> None:
    """Slanting strokes over a part of the paper, with its edge."""
    pen.rect(place, "line")
    steps = math.ceil((place.width_mm + place.height_mm) / every_mm)
    for k in range(1, steps):
        reach = k * every_mm
        x1, y1 = place.left_mm + min(reach, place.width_mm), place.top_mm + max(0.0, reach - place.width_mm)
        x2, y2 = place.left_mm + max(0.0, reach - place.height_mm), place.top_mm + min(reach, place.height_mm)
        pen.line((x1, y1), (x2, y2), "fine")


class _Tile(Struct, frozen=True):
    """One length of a full-size strip."""

    strip: Strip
    number: int  # from 0, those not printed counted too
    left: str  # letter of its match marks; empty where the length before is not printed
    right: str


def full_size_strips(strips: Sequence[Strip], show: Show, called: str) -> tuple[Picture, ...]:
    """The strips full size, as high as the tube is round, in lengths with match marks; each page has its rule.

    Each length says what it is ``called`` where it is cut out.
    A strip whose bends have no known place is left out: there is nothing to mark by it.
    """
    pages: list[list[_Tile]] = []
    room_mm, letters = 0.0, 0
    for strip in (strip for strip in strips if strip.bends):
        printed = [number for number in range(_tiles(strip)) if _printed(strip, number)]
        for number in printed:
            if _tall_mm(strip) > room_mm:
                pages.append([])
                room_mm = TALL_MM - HEAD_MM
            before, after = number - 1 in printed, number + 1 in printed
            # A letter for each joint of two printed lengths; none comes twice on the whole sheet.
            left = _letters(letters) if before else ""
            letters += after
            pages[-1].append(_Tile(strip, number, left, _letters(letters) if after else ""))
            room_mm -= _tall_mm(strip)
    return tuple(_page(page, f"page {number} of {len(pages)}", show, called) for number, page in enumerate(pages, 1))


def _tiles(strip: Strip) -> int:
    """How many lengths that fit a page a strip is cut into."""
    return max(1, math.ceil((strip.length_mm - 1e-6) / TILE_MM))


def _tile_mm(strip: Strip) -> float:
    """A length of it: all alike, in whole mm, so that no page is left with a stub."""
    return min(TILE_MM, float(math.ceil(strip.length_mm / _tiles(strip))))


def _printed(strip: Strip, number: int) -> bool:
    """Whether a length has something on it: an end of the blank or part of a bend."""
    start, end = number * _tile_mm(strip), (number + 1) * _tile_mm(strip)
    return number in (0, _tiles(strip) - 1) or any(b.start_mm < end and b.end_mm > start for b in strip.bends)


def _tall_mm(strip: Strip) -> float:
    return ABOVE_MM + strip.circumference_mm + BELOW_MM


def _page(page: Sequence[_Tile], which: str, show: Show, called: str) -> Picture:
    pen = Pen()
    rule(pen, (LEFT_MM, 6.0))
    for line, words in enumerate(HOW_TO_USE):
        pen.text((LEFT_MM, 13.2 + 3.6 * line), words)
    top = HEAD_MM
    for tile in page:
        _draw_tile(pen, tile, top + ABOVE_MM, show, called)
        top += _tall_mm(tile.strip)
    names = list(dict.fromkeys(tile.strip.piece for tile in page))
    words = f"Marking-out strips, full size, {which}: {listed(names)}"
    return pen.picture("full-size", words, WIDE_MM, top)


def _draw_tile(pen: Pen, tile: _Tile, top: float, show: Show, called: str) -> None:
    """One length of the strip: what lies on it, its match marks, and words over and under it."""
    strip, tiles = tile.strip, _tiles(tile.strip)
    start = tile.number * _tile_mm(strip)
    end = min(start + _tile_mm(strip), strip.length_mm)
    tall = strip.circumference_mm
    band = Rect(LEFT_MM, top, end - start, tall)
    inner = Pen()

    def x(along_mm: float) -> float:
        return LEFT_MM + along_mm - start

    line = top + tall / 2  # the inside of the first bend: the middle, so that wrapping does not cut it
    inner.line((x(start), line), (x(end), line), "chain")
    for bend in strip.bends:
        inner.rect(Rect(x(bend.start_mm), top, bend.end_mm - bend.start_mm, tall), "pale")
    inner.line((x(start), line), (x(end), line), "chain")
    for bend in strip.bends:
        inner.line((x(bend.start_mm), top), (x(bend.start_mm), top + tall), "bold")
        inner.line((x(bend.end_mm), top), (x(bend.end_mm), top + tall), "dash")
    _full_size_ends(inner, strip, x, top, tall)
    name = f"{short_name(strip.piece)} {tile.number + 1}/{tiles}, {called}"
    inner.text((x(start) + 5.0, top + tall - 2.0), fitted(name, end - start - 10.0, SMALL_MM), "start", "halo")
    pen.clipped(band, inner)
    pen.rect(band, "line")
    for bend in strip.bends:
        ends = x(max(bend.start_mm, start)), x(min(bend.end_mm, end))
        # Not clipped: on the strip's edges the line would be cut in half.
        for y in (top + tall * share for share in _inside_shares(strip, bend) if ends[0] < ends[1]):
            pen.line((ends[0], y), (ends[1], y), "bold")
    _tile_words(pen, strip, x, (start, end), top, tall, show)
    for at, letter in ((start, tile.left), (end, tile.right)):
        if letter:
            _match(pen, x(at), top, tall, letter)
    head = (
        f"{short_name(strip.piece)}, length {tile.number + 1} of {tiles}: {rounded(start, 1)} to {rounded(end, 1)} mm"
    )
    pen.text((LEFT_MM, top - ABOVE_MM + 4.0), head, "start", "strong", 3.0)


def _full_size_ends(pen: Pen, strip: Strip, x: Along, top: float, tall: float) -> None:
    """What the flares take, hatched, and a dashed line where an end that is over length is trimmed at a guess."""
    for k, end in enumerate(strip.ends):
        trimmed_mm = strip.length_mm - end.over_mm
        if end.consumed_mm:
            at = x(0.0) if k == 0 else x(trimmed_mm - end.consumed_mm)
            _hatch(pen, Rect(at, top, end.consumed_mm, tall))
        if end.over_mm:
            pen.line((x(trimmed_mm), top), (x(trimmed_mm), top + tall), "dash")


def _tile_words(
    pen: Pen, strip: Strip, x: Along, part: tuple[float, float], top: float, tall: float, show: Show
) -> None:
    start, end = part
    said: list[tuple[float, str]] = []
    for bend in strip.bends:
        said.append((bend.start_mm, f"bend {bend.number} starts {length_text(bend.start_mm, show)}"))
        said.append((bend.end_mm, f"bend {bend.number} ends {length_text(bend.end_mm, show)}"))
    _rows(pen, [(x(at), text) for at, text in said if start <= at < end], top - 1.6, -1)
    below = [
        (x(max(start, bend.start_mm)), bend_words(bend))
        for bend in strip.bends
        if bend.start_mm < end and bend.end_mm > start
    ]
    for k, (name, at) in enumerate((("starts", 0.0), ("ends", strip.length_mm))):
        if start <= at < end or (k == 1 and at == end):
            below.append((x(at), f"{name} at {end_words(strip.ends[k], show)}"))
    _rows(pen, sorted(below), top + tall + 3.4, 1)


def _rows(pen: Pen, said: Sequence[tuple[float, str]], y: float, way: int) -> None:
    """Place words beside a strip, in as many rows as it takes to keep them apart."""
    ends = [-math.inf] * 3
    for at, text in said:
        width = text_width_mm(text)
        left = min(max(at, 0.5), WIDE_MM - 0.5 - width)
        row = next((k for k, end in enumerate(ends) if left > end + 2.0), len(ends) - 1)
        ends[row] = left + width
        pen.text((left, y + way * row * (SMALL_MM + 0.8)), text)


def _match(pen: Pen, x: float, top: float, tall: float, letter: str) -> None:
    """A match mark: the next length's mark of the same letter lies on it."""
    for y in (top + 3.0, top + tall - 3.0):
        pen.circle((x, y), 1.6, "line")
        pen.line((x, y - 2.6), (x, y + 2.6), "fine")
        pen.line((x - 2.6, y), (x + 2.6, y), "fine")
    pen.text((x, top + tall / 2 - 3.0), letter, "middle", "halo strong", 4.0)


def _letters(number: int) -> str:
    """A, B, ... Z, AA, AB for 1, 2, ...

    >>> _letters(1), _letters(26), _letters(27)
    ('A', 'Z', 'AA')
    """
    text = ""
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(ord("A") + rest) + text
    return text
