"""Sketches for the measuring form: what is measured, and from where. They are to no scale."""

from __future__ import annotations

from tubing.drawing.svg import Pen, Picture

WIDE_MM, TALL_MM = 88.0, 46.0


def form_pictures() -> tuple[Picture, ...]:
    """The frame, the motor's nose, a wheelbox with its panel, and marks for a tape."""
    return _frame(), _nose(), _wheelbox(), _marks()


def _frame() -> Picture:
    """Right, forward and up, from a point that stays."""
    pen = Pen()
    at = (38.0, 30.0)
    for (dx, dy), words, anchor in (((34.0, 0.0), "right", "end"), ((-18.0, -12.0), "forward", "middle"),
                                    ((0.0, -24.0), "up", "start")):  # fmt: skip
        tip = (at[0] + dx, at[1] + dy)
        pen.arrow(at, tip, "bold", 2.0)
        pen.text((tip[0] + (1.5 if words == "up" else 0.0), tip[1] - 1.6), words, anchor, "strong")
    pen.circle(at, 1.1, "black")
    pen.text((at[0] + 2.0, at[1] + 4.4), "origin: a point that you find again")
    pen.text((2.0, 42.0), "Seen from the driver's seat. Left, back and down: write a minus.")
    return pen.picture("form-frame", "Three arrows from the origin: right, forward and up", WIDE_MM, TALL_MM)


def _nose() -> Picture:
    """The middle of the nose's seat, and a rod that shows the way."""
    pen = Pen()
    pen.lines([(4.0, 14.0), (24.0, 14.0), (24.0, 28.0), (4.0, 28.0)], "grey", closed=True)
    pen.lines([(24.0, 18.0), (32.0, 18.0), (32.0, 24.0), (24.0, 24.0)], "pale", closed=True)
    pen.line((24.0, 21.0), (84.0, 21.0), "chain")
    pen.lines([(32.0, 20.0), (80.0, 20.0), (80.0, 22.0), (32.0, 22.0)], "white", closed=True)
    for x, words in ((32.0, "nose: middle of its seat"), (78.0, "point ahead")):
        pen.circle((x, 21.0), 1.1, "black")
        pen.line((x, 21.0), (x, 32.0), "fine")
        pen.text((x, 35.0), words, "middle" if x < 50 else "end", "strong")
    pen.text((4.0, 11.0), "motor")
    pen.text((44.0, 17.6), "a straight rod held in the nose")
    pen.text((2.0, 42.0), "The farther out the second point, the better: 300 mm is good.")
    return pen.picture("form-nose", "The motor's nose with a rod in it and two points", WIDE_MM, TALL_MM)


def _wheelbox() -> Picture:
    """The hole in the panel's outer face, the spindle, and the panel's own direction."""
    pen = Pen()
    pen.lines([(10.0, 34.0), (60.0, 22.0), (60.6, 24.4), (10.6, 36.4)], "grey", closed=True)
    pen.line((35.0, 28.0), (46.0, 4.0), "bold")
    pen.line((35.0, 28.0), (31.0, 37.0), "chain")
    pen.circle((35.0, 28.0), 1.1, "black")
    pen.circle((45.0, 6.0), 1.1, "black")
    pen.text((47.0, 6.0), "spindle, farther out", "start", "strong")
    pen.line((35.0, 28.0), (20.0, 22.0), "fine")
    pen.text((19.0, 21.6), "hole: outer face", "end", "strong")
    pen.line((52.0, 23.9), (48.6, 9.5), "line")
    pen.circle((48.9, 10.6), 1.1, "black")
    pen.text((50.5, 13.0), "blade of a square on the panel")
    pen.text((61.5, 25.0), "panel")
    pen.text((2.0, 42.0), "The spindle may lean; the square shows which way the panel faces.")
    return pen.picture("form-wheelbox", "A panel with a leaning spindle and a square on it", WIDE_MM, TALL_MM)


def _marks() -> Picture:
    """Four marks to hook a tape on, from above."""
    pen = Pen()
    places = {"1": (10.0, 32.0), "2": (74.0, 32.0), "3": (22.0, 8.0), "4": (58.0, 14.0)}
    said = {"1": "origin", "2": "to its right", "3": "forward", "4": "well above or below"}
    for number, place in places.items():
        pen.circle(place, 1.1, "black")
        left = number != "2"
        pen.text((place[0] + (2.0 if left else -2.0), place[1] - 1.8), f"{number} {said[number]}",
                 "start" if left else "end", "strong")  # fmt: skip
    pen.line(places["1"], places["2"], "chain")
    pen.line(places["1"], places["3"], "chain")
    pen.text((2.0, 42.0), "Only for a tape: four marks, far apart, one well above or below the others.")
    return pen.picture("form-marks", "Four marks from above, to hook a tape on", WIDE_MM, TALL_MM)
