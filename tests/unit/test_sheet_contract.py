"""The plan as data: the keys and types that other programs rely on, and what the printed sheet says beside it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.demos import NAMES, demo_plan
from tubing.commands import main
from tubing.inputs.shop_file import data_folder
from tubing.plan import Plan, plan
from tubing.sheet.content import job_sheet
from tubing.sheet.sections import sheet_of
from tubing.writers.plan_data import plan_data
from tubing.writers.terminal import draw

NUMBER, TEXT, TRUTH = (int, float), str, bool

# The agreed keys, word for word; more may be there, never fewer.
CONTRACT: dict[str, Any] = {
    "title": TEXT,
    "layout": TEXT,
    "pieces": [
        {
            "id": TEXT,
            "from": TEXT,
            "to": TEXT,
            "centreline_mm": NUMBER,
            "finished_mm": NUMBER,
            "blank_mm": NUMBER,
            "cut_mm": NUMBER,
            "over_mm": NUMBER,
            "over_at": (str, type(None)),
            "sawn_mm": NUMBER,
            "bends_from": TEXT,
            "rim_to_rim_mm": NUMBER,
            "ends": [
                {"at": TEXT, "flare": TEXT, "nut": TRUTH, "ready": TRUTH, "consumed_mm": NUMBER, "seat_mm": NUMBER}
            ],
            "first_turn": (list, type(None)),
            "bends": [
                {
                    "start_mm": (*NUMBER, type(None)),
                    "angle_deg": NUMBER,
                    "set_deg": NUMBER,
                    "former_radius_mm": NUMBER,
                    "rotation_deg": (*NUMBER, type(None)),
                    "radius_mm": NUMBER,
                }
            ],
            "pull_in": {"mm": NUMBER, "deg": NUMBER},
            "least_radius_mm": {"tube": NUMBER, "rack": NUMBER},
            "error_mm": {"likely": (*NUMBER, type(None)), "worst": (*NUMBER, type(None))},
        }
    ],
    "ports": [{"name": TEXT, "heading": list, "side": TEXT, "groove_in": list, "groove_out": list}],
    "bars": [
        {
            "number": NUMBER,
            "size": TEXT,
            "stock_mm": NUMBER,
            "from": TEXT,
            "count": int,
            "pieces": list,
            "marks_mm": list,
            "left_mm": NUMBER,
            "kept": TRUTH,
        }
    ],
    "nest": {"cost": TEXT, "bound": TEXT, "proof": TEXT},
    "together": list,
    "drive": {
        "stroke_mm": NUMBER,
        "crank_mm": NUMBER,
        "rack_mm": NUMBER,
        "rack_least_mm": NUMBER,
        "tail_in_mm": NUMBER,
        "tail_out_mm": NUMBER,
        "pull_n": (*NUMBER, type(None)),
        "park": {"side": TEXT, "at": TEXT},
        "boxes": [
            {
                "name": TEXT,
                "path_turn_deg": NUMBER,
                "pull_ratio": NUMBER,
                "sweep_deg": NUMBER,
                "lost_motion_deg": NUMBER,
                "lean_deg": NUMBER,
                "slot_mm": {"width": NUMBER, "length": NUMBER},
            }
        ],
    },
    "in_the_way": [
        {
            "name": TEXT,
            "kind": TEXT,
            "clearance_mm": NUMBER,
            "left_mm": (*NUMBER, type(None)),
            "piece": (str, type(None)),
        }
    ],
    "glass": (dict, type(None)),
    "cost": {
        "lines": [
            {
                "what": TEXT,
                "quantity": NUMBER,
                "unit": TEXT,
                "each": (str, type(None)),
                "amount": (str, type(None)),
                "source": TEXT,
            }
        ],
        "total": TEXT,
    },
    "work": [
        {
            "does": TEXT,
            "thing": TEXT,
            "piece": (str, type(None)),
            "at": (str, type(None)),
            "text": TEXT,
            "after": list,
        }
    ],
    "learned": [
        {
            "what": TEXT,
            "tube": TEXT,
            "former": (str, type(None)),
            "trials": int,
            "proportional": (*NUMBER, type(None)),
            "fixed_deg": (*NUMBER, type(None)),
            "consumes_mm": (*NUMBER, type(None)),
            "sure": (*NUMBER, type(None)),
        }
    ],
    "warnings": list,
}


def breaks(wanted: Any, found: Any, at: str = "") -> list[str]:
    """Where ``found`` is not as the contract wants it."""
    if isinstance(wanted, dict):
        if not isinstance(found, dict):
            return [f"{at} is no table"]
        missing = [f"{at}.{key} is missing" for key in wanted if key not in found]
        return missing + [b for key in wanted if key in found for b in breaks(wanted[key], found[key], f"{at}.{key}")]
    if isinstance(wanted, list):
        if not isinstance(found, list):
            return [f"{at} is no list"]
        return [b for k, each in enumerate(found) for b in breaks(wanted[0], each, f"{at}[{k}]")]
    right = isinstance(found, wanted) and (wanted is TRUTH or not isinstance(found, bool))
    return [] if right else [f"{at} is {found!r}"]


def test_a_missing_key_and_a_wrong_type_are_seen():
    """The comparison itself can fail."""
    assert breaks({"a": {"b": TEXT}}, {"a": {}}) == [".a.b is missing"]
    assert breaks({"a": [{"b": NUMBER}]}, {"a": [{"b": True}]}) == [".a[0].b is True"]


def test_every_demo_keeps_the_contract(planned: Plan):
    assert breaks(CONTRACT, plan_data(planned)) == []


def test_words_of_the_contract_that_have_few_values(planned: Plan):
    data = plan_data(planned)
    assert {end["flare"] for piece in data["pieces"] for end in piece["ends"]} <= {"single", "double", "plain"}
    assert {bar["from"] for bar in data["bars"]} <= {"new", "shelf"}
    assert data["nest"]["proof"] in ("proved optimal", "best found in the time allowed", "impossible")
    assert data["drive"]["park"]["side"] in ("left", "right")
    assert data["drive"]["park"]["at"] in ("in", "out")
    assert {port["side"] for port in data["ports"]} <= {"left", "right"}
    assert data["pieces"][0]["from"] == "nose"
    assert data["pieces"][-1]["to"] == "end"
    assert re.fullmatch(r"-?\d+\.\d\d", data["nest"]["cost"])
    assert re.fullmatch(r"-?\d+\.\d\d", data["cost"]["total"])


def test_a_bend_starts_behind_what_the_flare_takes_its_seat_and_the_straight(planned: Plan):
    """``start_mm`` counts from the end at ``bends_from``: what the flare takes, its seat and the straight add up."""
    for piece in plan_data(planned)["pieces"]:
        if not piece["bends"] or piece["bends"][0]["start_mm"] is None:
            continue
        backwards = piece["bends_from"] == piece["to"]
        first, start = piece["bends"][0], piece["ends"][1 if backwards else 0]
        straight = first["start_mm"] - start["consumed_mm"] - start["seat_mm"]
        assert straight > 0
        shape = next(p for p in planned.pieces if p.id == piece["id"]).tube.shape
        assert straight == pytest.approx(shape.line.straights_mm[-1 if backwards else 0], abs=1e-5)  # type: ignore[union-attr]


def test_a_piece_has_one_length_wherever_it_is_told(planned: Plan):
    """Cut list, saw list and data give the length that is really sawn, and the same ends as ready-flared."""
    sheet = job_sheet(planned)
    rows = {row[0]: row for row in sheet.cut_list.rows}
    sawn = {
        name: length
        for bar in plan_data(planned)["bars"]
        for name, length in zip(bar["pieces"], bar["lengths_mm"], strict=True)
    }
    for piece in plan_data(planned)["pieces"]:
        row = rows[piece["id"]]
        assert piece["sawn_mm"] == float(row[1]) == sawn[piece["id"]]
        assert piece["cut_mm"] == piece["sawn_mm"] - piece["over_mm"]
        assert (piece["over_at"] is None) == (piece["over_mm"] == 0)
        assert [end["ready"] for end in piece["ends"]] == [", ready" in row[3], ", ready" in row[5]]
        assert piece["blank_mm"] == pytest.approx(
            piece["finished_mm"] + sum(end["consumed_mm"] for end in piece["ends"]), abs=1e-5
        )
        assert all(end["consumed_mm"] == 0 for end in piece["ends"] if end["ready"])
        assert 0 <= piece["cut_mm"] - piece["blank_mm"] + 1e-5 <= 1.0 + 1e-5, (
            "rounded up by a step, saved by whole steps"
        )


@pytest.mark.long
def test_the_data_is_the_same_bytes_each_time(planned: Plan):
    """§15 Same job, same bytes."""
    once = json.dumps(plan_data(planned), allow_nan=False)
    again = json.dumps(plan_data(plan(planned.job, planned.shop, planned.layout)), allow_nan=False)
    assert once == again


def tenth(number: float) -> str:
    """To one decimal, halves up, as the sheet prints lengths and angles."""
    return f"{int(abs(number) * 10 + 0.5 + 1e-7) / 10:.1f}"


def test_every_figure_of_the_data_stands_on_the_sheet(planned: Plan):
    """What the sheet prints and what the data says come from the same plan, rounded."""
    data, text = plan_data(planned), draw(sheet_of(job_sheet(planned)))
    words = set(re.split(r"[\s;:,()]+", text))
    figures = [tenth(bar["left_mm"]) for bar in data["bars"]]
    figures += [tenth(mark) for bar in data["bars"] for mark in bar["marks_mm"]]
    for piece in data["pieces"]:
        figures += [tenth(piece["finished_mm"]), tenth(piece["rim_to_rim_mm"]), tenth(piece["pull_in"]["mm"])]
        figures += [tenth(piece[key]) for key in ("cut_mm", "over_mm", "sawn_mm") if piece[key]]
        figures += [tenth(bend[key]) for bend in piece["bends"] for key in ("angle_deg", "set_deg", "radius_mm")]
        figures += [tenth(bend["start_mm"]) for bend in piece["bends"] if bend["start_mm"] is not None]
        assert {piece["id"], piece["from"], piece["to"]} <= words
    figures += [tenth(each[key]) for each in data["in_the_way"] for key in ("clearance_mm", "left_mm")]
    drive = data["drive"]
    figures += [
        tenth(drive[k]) for k in ("stroke_mm", "crank_mm", "rack_mm", "rack_least_mm", "tail_in_mm", "tail_out_mm")
    ]
    for box in drive["boxes"]:
        figures += [tenth(box[key]) for key in ("path_turn_deg", "sweep_deg", "lost_motion_deg", "lean_deg")]
        figures += [tenth(box["slot_mm"]["width"]), tenth(box["slot_mm"]["length"])]
    figures += [line["amount"] for line in data["cost"]["lines"] if line["amount"] is not None]
    figures += [data["cost"]["total"], data["nest"]["cost"], data["nest"]["bound"]]
    assert [figure for figure in figures if figure not in words] == []


def test_without_a_screen_glass_is_null_and_with_one_it_is_not():
    by_screen = {True: [], False: []}  # type: ignore[var-annotated]
    for planned in map(demo_plan, NAMES):
        by_screen[planned.job.screen is not None].append(plan_data(planned)["glass"])
    assert by_screen[True]
    assert by_screen[False]
    assert all(isinstance(glass, dict) and glass["wiped_percent"]["screen"] > 0 for glass in by_screen[True])
    assert all(glass is None for glass in by_screen[False])


@pytest.mark.long
def test_nest_and_cost_print_their_own_keys(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    job = str(data_folder() / "jobs" / "works-truck.toml")
    assert main(["nest", job, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert breaks({key: CONTRACT[key] for key in ("bars", "nest")}, data) == []
    assert main(["cost", job, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    line = CONTRACT["cost"]["lines"][0]
    assert breaks({"layouts": [{"layout": TEXT, "lines": [line], "total": TEXT}]}, data) == []
    assert [layout["layout"] for layout in data["layouts"]] == ["triple", "twin"]
