"""What the tape says: where the points are and how sure that is, and how each reading fits the others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tubing.inputs.records import Job
from tubing.sheet.records import Column, Table
from tubing.units import rounded

if TYPE_CHECKING:
    from tubing.measuring import Judged, NextReading

UNCHECKED = 0.1  # share below which nothing checks a reading


def points_table(job: Job) -> Table:
    """Every taped point's position, and how sure it is."""
    measured = job.taped.measured if job.taped else None
    return Table(
        "Measurements: where the points are",
        (
            Column("point"),
            Column("right", "mm"),
            Column("forward", "mm"),
            Column("up", "mm"),
            Column("sure to", "mm"),
        ),
        tuple((point.name, *point.at_mm, point.sure_mm) for point in measured.points) if measured else (),
        before=(
            "Worked out from the tape's readings. Sure to: it lies within that in the worst direction, 19 times in 20.",
        ),
    )


def readings_table(job: Job, next_reading: NextReading | None) -> Table:
    """Every reading, the doubtful ones first, and the one worth taking next."""
    measured = job.taped.measured if job.taped else None
    rows = sorted(measured.readings, key=lambda each: not each.doubtful) if measured else []
    after = []
    if measured:
        after.append(f"{measured.spare} readings are to spare.")
    if next_reading is not None:
        after.append(
            f"Worth taping next: from {next_reading.start} to {next_reading.end}. It makes {next_reading.piece} sure "
            f"to {rounded(next_reading.sure_then_mm, 1)} mm, now {rounded(next_reading.sure_now_mm, 1)} mm."
        )
    return Table(
        "Measurements: how the readings fit",
        (
            Column("from"),
            Column("to"),
            Column("what"),
            Column("read", "mm"),
            Column("off the others", "mm"),
            Column("how checked"),
        ),
        tuple(
            (
                each.reading.start or "origin",
                each.reading.end,
                each.reading.kind,
                each.reading.value_mm,
                -each.residual_mm,
                _checked(each),
            )
            for each in rows
        ),
        before=("Off the others: how much longer it was read than all readings together make it.",),
        after=tuple(after),
    )


def _checked(each: Judged) -> str:
    """How much the others say of a reading, in words."""
    if each.doubtful:
        return "DOUBTFUL: measure it again"
    if each.checked < UNCHECKED:
        return "nothing checks it"
    return "well" if each.checked > 0.3 else "a little"
