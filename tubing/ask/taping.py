"""The questions for a vehicle that was measured with a tape alone: marks, and readings from them to everything else."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tubing.ask.directions import POINTS_HELP, Asking
from tubing.ask.records import Form, Question
from tubing.inputs.records import Job
from tubing.units import rounded

LEAST_MARKS, MOST_MARKS = 3, 8
USUAL_MARKS = ("left mark", "right mark", "front mark", "high mark")
SKIPPED = "none"
SURE_ENOUGH_MM = 10.0  # beyond this a hole is hard to drill for
MARKS = (
    "Choose marks that a tape can be hooked on and that you find again: far apart, not on one line, and at least one "
    "well above or below the others. From above:\n"
    "      3 front mark\n"
    "       \\        4 high mark, on a strut top\n"
    "        \\\n"
    "  1 left mark ------------- 2 right mark\n"
    "The first is the origin. The second lies straight to its right, the third forward of the line between them. "
    "How many marks?"
)
READ_HELP = (
    "From hook to hook, straight, to the millimetre. none where the tape cannot be laid. Three readings place a point, "
    "a fourth shows a mistake."
)


def measured_how() -> Question:
    """The first question about positions."""
    return Question(
        "measured", "measured", "How was the vehicle measured?", Form.CHOICE, "squared",
        "Squared off: you read how far right, forward and up everything lies from one point. Taped: you hook a tape on "
        "some marks and read distances; the program works out where everything is, and which reading is wrong.",
        (("squared", "squared off: right, forward, up from one point"), ("taped", "distances with a tape, from marks")),
    )  # fmt: skip


def marks() -> Asking[list[str]]:
    """How many marks, their names, and the tape between them."""
    count = yield Question(
        "marks", "marks", MARKS, Form.COUNT, "4", "Four let every point be checked by a reading to spare.",
        least=LEAST_MARKS, most=MOST_MARKS,
    )  # fmt: skip
    names: list[str] = []
    for k in range(1, count + 1):
        usual = USUAL_MARKS[k - 1] if k <= len(USUAL_MARKS) else f"mark {k}"
        name = yield Question(
            f"mark {k} name", f"mark {k}", f"What do you call mark {k} of {count}?", Form.TEXT, usual,
            "A word by which you find it again.",
        )  # fmt: skip
        names.append(name)
        if k > LEAST_MARKS:
            yield Question(
                f"mark {k} about", "roughly at", f"Roughly, by eye: where is {name} from {names[0]}? Right, forward, "
                "up. A hand's width does: it tells above from below.", Form.POINT, None, POINTS_HELP,
            )  # fmt: skip
    pairs = [(i, k) for k in range(2, count + 1) for i in range(1, k)]
    for i, k in pairs:
        yield _reading(f"tape mark {i} mark {k}", names[i - 1], names[k - 1], needed=k <= LEAST_MARKS)
    return names


def readings_to(key: str, called: str, names: list[str]) -> Asking[None]:
    """The tape from every mark to one point; after the last one it is shown where the point is and how sure."""
    for k, name in enumerate(names, start=1):
        yield _reading(f"tape {key} {k}", name, called, shows=k == len(names))


def _reading(key: str, start: str, end: str, shows: bool = False, needed: bool = False) -> Question:
    return Question(
        key, "reads", f"The tape from {start} to {end}?", Form.LENGTH, None, READ_HELP, shows=shows,
        none=None if needed else SKIPPED,
    )  # fmt: skip


def taped_tables(values: Mapping[str, Any], ports: Mapping[str, str]) -> dict[str, Any]:
    """The sections of a job file for what was taped so far; ``ports``: nose and boxes by the key of their readings.

    Empty until the marks are taped with each other; a point stands in it once all its readings are there.
    """
    count = values.get("marks", 0)
    names = {k: values.get(f"mark {k} name") for k in range(1, count + 1)}
    pairs = [(i, k) for k in range(2, count + 1) for i in range(1, k)]
    if not count or any(f"tape mark {i} mark {k}" not in values for i, k in pairs):
        return {}
    points = [
        {"name": name} | ({"about": values[f"mark {k} about"]} if f"mark {k} about" in values else {})
        for k, name in names.items()
    ]
    taped = [_row(names[i], names[k], values[f"tape mark {i} mark {k}"]) for i, k in pairs]
    for key, port in ports.items():
        if is_taped(values, key):
            taped += [_row(name, port, values[f"tape {key} {k}"]) for k, name in names.items()]
    frame = {"origin": names[1], "right": names[2], "forward": names[3]}
    return {"point": points, "taped": [row for row in taped if row["length"] is not None], "frame": frame}


def is_taped(values: Mapping[str, Any], key: str) -> bool:
    """Whether all readings to a point are in."""
    count = values.get("marks", 0)
    return bool(count) and all(f"tape {key} {k}" in values for k in range(1, count + 1))


def sureness(job: Job) -> list[str]:
    """How sure each point is, what would make the loosest surer, and which reading does not fit."""
    if job.taped is None:
        return []
    measured = job.taped.measured
    ports = set(job.taped.stands_for.values())
    placed = [point for point in measured.points if point.name in ports]
    said = [f"{point.name} is sure to {rounded(point.sure_mm, 1)} mm." for point in placed]
    loosest = max(placed, key=lambda point: point.sure_mm, default=None)
    if loosest is not None and loosest.sure_mm > SURE_ENOUGH_MM:
        said.append(
            f"{loosest.name} would be surer with a mark well aside of the plane of the others, or levelled from one: "
            "the job file takes [[offset]]."
        )
    said += [
        f"The {each.reading.called} does not fit the others: they make it "
        f"{rounded(each.others_mm, 1)} mm. Measure it again; < goes back."
        for each in measured.readings
        if each.doubtful
    ]
    return said


def _row(start: Any, end: Any, length: Any) -> dict[str, Any]:
    return {"from": start, "to": end, "length": length}
