"""What of a plan matters at the bench, as labelled texts: its mark, and what changed since an earlier plan.

Both go by the data that ``plan --json`` prints, so an earlier plan can be read back from its file.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from tubing.errors import JobError
from tubing.plan import Plan
from tubing.sheet.records import Column, Lines, Sheet, Table

MARK_LETTERS = 5
PLAN_FILE = "plan.json"  # in a folder with a sheet
NOTHING = "-"


def mark_of(data: Mapping[str, Any]) -> str:
    """A short code of a plan's content: two plans that are worked alike have the same one.

    Letters A to Z and figures 2 to 7, of the SHA-256 of its facts.
    """
    text = json.dumps(sorted(facts(data).items()))
    return base64.b32encode(hashlib.sha256(text.encode()).digest()).decode()[:MARK_LETTERS]


def plan_called(plan: Plan, mark: str) -> str:
    """What parts cut out of the paper, and drawings, are called: the plan's mark, layout and job."""
    return f"plan {mark}, {plan.layout}, {plan.job.title}"


def facts(data: Mapping[str, Any]) -> dict[str, str]:
    """What is sawn, marked, bent, flared, drilled and bought, each under its label; to a tenth."""
    return dict(_facts(data))


def to_keep(data: Mapping[str, Any]) -> dict[str, Any]:
    """What a later plan can be held against, for a folder that may go out of the house: no money is in it."""
    bars = [{key: value for key, value in bar.items() if key != "price"} for bar in data["bars"]]
    return {**{key: data[key] for key in ("title", "layout", "mark", "pieces", "ports", "drive")}, "bars": bars}


def _facts(data: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    yield "layout", str(data["layout"])
    for piece in data["pieces"]:
        yield from _of_piece(piece)
    for port in data["ports"]:
        name = f"wheelbox {port['name']}"
        yield f"{name}, groove in", _point(port["groove_in"])
        yield f"{name}, groove out", _point(port["groove_out"])
        yield f"{name}, side", str(port["side"])
    for at, bar in enumerate(data["bars"], start=1):
        pieces = ", ".join(bar["pieces"])
        yield f"bar {bar.get('number', at)}", f"{bar['count']} of {_mm(bar['stock_mm'])} ({bar['from']}): {pieces}"
    yield "rack, cut", _mm(data["drive"]["rack_cut_mm"])


def _of_piece(piece: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    name = f"piece {piece['id']}"
    yield f"{name}, sawn", _mm(piece["sawn_mm"])
    yield f"{name}, over length", f"{_mm(piece['over_mm'])} at {piece['over_at']}" if piece["over_at"] else NOTHING
    for end in piece["ends"]:
        nut, ready = ", nut" if end["nut"] else "", ", ready" if end["ready"] else ""
        yield f"{name}, end at {end['at']}", f"{end['flare']}{nut}{ready}"
    for bend in piece["bends"]:
        start = NOTHING if bend["start_mm"] is None else f"starts {_mm(bend['start_mm'])} from {piece['bends_from']}"
        turn = "" if bend["rotation_deg"] is None else f", rotation {bend['rotation_deg']:.1f} deg"
        yield f"{name}, bend {bend['number']}", f"{start}, set {bend['set_deg']:.1f} deg{turn}"


def _mm(length_mm: float) -> str:
    return f"{length_mm:.1f} mm"


def _point(at_mm: list[float]) -> str:
    return "(" + ", ".join(f"{part:.1f}" for part in at_mm) + ") mm"


def changed_facts(was: Mapping[str, str], is_now: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """What differs between the facts of two plans: label, old and new, a dash where one has none.

    >>> changed_facts({"a": "1 mm", "b": "2 mm"}, {"b": "2 mm", "c": "3 mm"})
    [('c', '-', '3 mm'), ('a', '1 mm', '-')]
    """
    labels = dict.fromkeys([*is_now, *was])
    return [
        (label, was.get(label, NOTHING), is_now.get(label, NOTHING))
        for label in labels
        if was.get(label) != is_now.get(label)
    ]


def changes_sheet(title: str, before: Mapping[str, Any], now: Mapping[str, Any], called: str) -> Sheet:
    """What changed since an earlier plan, old beside new."""
    rows = changed_facts(facts(before), facts(now))
    marks = f"Plan {mark_of(now)}, held against {mark_of(before)} in {called}."
    if not rows:
        said = f"{marks} Nothing changed that is sawn, bent, flared, drilled for or bought."
        return Sheet(title, (Lines("What changed", (said,)),))
    columns = (Column("what"), Column("was"), Column("is now"))
    return Sheet(title, (Table("What changed", columns, tuple(rows), before=(marks,)),))


def earlier_plan(path: Path) -> dict[str, Any]:
    """The data of an earlier plan, as ``plan --json`` wrote it, or of the sheet in a folder.

    Raises JobError: it cannot be read, or is no plan.
    """
    remedy = "give a file that plan --json wrote, or a folder that sheet wrote"
    path = path / PLAN_FILE if path.is_dir() else path
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as cause:
        raise JobError(
            str(path), f"it cannot be read ({cause.strerror})", "it must be a plan's data", remedy
        ) from cause
    except ValueError as cause:
        raise JobError(str(path), "it is not JSON", "it must be a plan's data", remedy) from cause
    try:
        facts(data)
    except (KeyError, TypeError, ValueError, AttributeError) as cause:
        raise JobError(str(path), "it is not the data of a plan", "it must be a plan's data", remedy) from cause
    return dict(data)
