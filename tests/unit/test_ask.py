"""The questions of `new`, answered from a list: what is written, what is refused and why, going back, pictures.

The whole sentence is compared where an answer is refused; jobs are compared with job files written by hand.
"""

from __future__ import annotations

import errno
import math
import os
import re
import tomllib
from collections.abc import Iterable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tubing.ask import ask_job, keeping
from tubing.ask.picture import Mark, pictures
from tubing.ask.writing import quoted
from tubing.errors import InterruptError
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import read_shop
from tubing.plan import plan

SHOP = read_shop(None)
START = ["Two-seater", "", "", "", "", "", ""]  # title, unit, tube, former, motor, measured how, origin
NOSE = ["-700 mm, -34 mm, -18.5 mm", "numbers", "right"]
NEAR = ["near", "", "-300 mm, 0 mm, 0 mm", "numbers", "0, 0.6, 0.8", "numbers", "0, 0.5, 0.866", "", "", ""]
FAR = ["far", "", "200 mm, 0 mm, 0 mm", "", "", "", "", "", "", ""]
DRIVE = ["", "", "", "1 mm"]  # motion, sweep, park, error
TWIN = [*START, *NOSE, "2", *NEAR, *FAR, *DRIVE, "0", ""]


class Scripted:
    """Answers from a list; keeps what was said and asked. Like a pipe, it ends."""

    def __init__(self, answers: Iterable[str]) -> None:
        self.answers, self.heard, self.prompts = list(answers), "", list[str]()

    def say(self, text: str) -> None:
        self.heard += f"{text}\n"

    def ask(self, prompt: str, fresh: bool = False) -> str:
        self.heard += prompt
        self.prompts.append(prompt)
        if not self.answers:
            raise EOFError
        answer = self.answers.pop(0)
        self.heard += f"{answer}\n"
        return answer

    @property
    def words(self) -> str:
        """What was heard, as one line: where it is broken does not matter."""
        return " ".join(self.heard.split())


def asked(path: Path, answers: Iterable[str], pictures: bool = True) -> Scripted:
    """A session that must run out of neither questions nor answers."""
    talk = Scripted(answers)
    assert ask_job(str(path), SHOP, talk, pictures) == path
    assert talk.answers == []
    return talk


def broken_off(path: Path, answers: Iterable[str]) -> Scripted:
    """A session whose answers end before the questions do."""
    talk = Scripted(answers)
    with pytest.raises(InterruptError):
        ask_job(str(path), SHOP, talk)
    return talk


BY_HAND = """
title = "Two-seater"
layout = "twin"
layouts = { twin = ["near", "far"] }
tube = { size = "steel-8", former = "sheave-230" }
drive = { motion = "tandem", sweep = "110 deg", park = "left" }
motor = { model = "bench-motor", nose = ["-700 mm", "-34 mm", "-18.5 mm"], heading = [1.0, 0.0, 0.0] }
measuring = { error = "1 mm" }
[[wheelbox]]
name = "near"
model = "bench-box"
hole = ["-300 mm", "0 mm", "0 mm"]
spindle = [0.0, 0.6, 0.8]
panel = [0.0, 0.5, 0.866]
panel_thickness = "1.2 mm"
[[wheelbox]]
name = "far"
model = "bench-box"
hole = ["200 mm", "0 mm", "0 mm"]
spindle = [0.0, 0.6, 0.8]
panel = [0.0, 0.5, 0.866]
panel_thickness = "1.2 mm"
"""


def by_hand(tmp_path: Path, text: str):
    path = tmp_path / "by-hand.toml"
    path.write_text(text, encoding="utf-8")
    return read_job(path, SHOP)


def test_a_twin_is_the_job_that_one_would_write_by_hand(tmp_path: Path):
    """Enter at the second wheelbox repeats the directions of the first."""
    path = tmp_path / "job.toml"
    asked(path, TWIN)
    assert read_job(path, SHOP) == by_hand(tmp_path, BY_HAND)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["by-hand.toml", "job.toml"]


INCHES = """
title = "Launch"
layout = "twin"
layouts = { triple = ["port", "middle", "starboard"], twin = ["port", "starboard"] }
tube = { size = "steel-7.94", former = "sheave-240" }
drive = { motion = "opposed", sweep = "100 deg", park = "right" }
measuring = { error = "1/16 in" }
[motor]
model = "bench-motor-strong"
nose = ["-29 1/2 in", "-1 5/16 in", "-3/4 in"]
heading = { from = ["-29 1/2 in", "-1 5/16 in", "-3/4 in"], to = ["-10 in", "-1 5/16 in", "-0.5 in"] }
[[wheelbox]]
name = "port"
model = "bench-box-long"
hole = ["-12 1/4 in", "0 in", "0 in"]
spindle = { from = ["-12 1/4 in", "0 in", "0 in"], to = ["-12 1/4 in", "6 in", "8 in"] }
panel_thickness = "3/16 in"
heading = { from = ["-14 in", "0 in", "0 in"], to = ["-10 in", "0 in", "0 in"] }
side = "right"
[[wheelbox]]
name = "middle"
model = "bench-box-long"
hole = ["0 in", "0 in", "0 in"]
spindle = { lean = "5 deg", toward = [0.0, 1.0, 0.0] }
panel = { from = ["0 in", "0 in", "0 in"], to = ["0 in", "6 in", "8 in"] }
panel_thickness = "3/16 in"
[[wheelbox]]
name = "starboard"
model = "bench-box-long"
hole = ["12 1/4 in", "0 in", "0 in"]
spindle = [0.0, 0.6, 0.8]
panel = [0.0, 0.6, 0.8]
panel_thickness = "3/16 in"
heading = [1.0, 0.0, 0.0]
[[in_the_way]]
name = "heater"
box = { from = ["-9 in", "-20 in", "-3 in"], to = ["9 in", "-14 in", "-9 in"] }
[[in_the_way]]
name = "duct"
cylinder = { from = ["-20 in", "-10 in", "-8 in"], to = ["20 in", "-10 in", "-8 in"], radius = "1 1/2 in" }
[[in_the_way]]
name = "horn"
sphere = { centre = ["20 in", "-12 in", "0 in"], radius = "40 mm" }
"""
INCH_ANSWERS = [
    "Launch", "in", "steel-7.94", "2", "2", "", "the stem's middle",
    "29 1/2 in left, 3/4 in down, 1 5/16 in back", "points", "-10 in; -1 5/16 in; -0.5 in", "3",
    "port", "2", "-12 1/4 in, 0 in, 0 in", "points", "", "-12 1/4 in, 6 in, 8 in", "none", "3/16 in",
    "points", "-14 in, 0 in, 0 in", "-10 in, 0 in, 0 in", "right",
    "middle", "", "0 in, 0 in, 0 in", "lean", "points", "0 in, 0 in, 0 in", "0 in, 6 in, 8 in", "numbers", "forward",
    "5 deg", "", "free", "free",
    "starboard", "", "12 1/4 in, 0 in, 0 in", "numbers", "0, .6, .8", "numbers", "0, 0.6, 0.8", "3/16 in",
    "numbers", "right", "free",
    "1, starboard", "twin", "opposed", "100 deg", "right", "1/16 in", "3",
    "heater", "box", "-9 in, -20 in, -3 in", "9 in, -14 in, -9 in",
    "duct", "2", "-20 in, -10 in, -8 in", "20 in, -10 in, -8 in", "1 1/2 in",
    "horn", "sphere", "20 in, -12 in, 0 in", "40 mm", "",
]  # fmt: skip


@pytest.mark.long
def test_inches_a_triple_and_every_way_of_giving_a_direction(tmp_path: Path):
    path = tmp_path / "launch.toml"
    talk = asked(path, INCH_ANSWERS)
    assert read_job(path, SHOP) == by_hand(tmp_path, INCHES)
    assert "M motor nose: 29 1/2 in left, 1 5/16 in back, 3/4 in down" in talk.words
    assert "a heater: 17 in back, 6 in down; 18 in x 6 in x 6 in" in talk.words
    assert "b duct: 10 in back, 8 in down; 43 in x 3 in x 3 in" in talk.words
    assert max(map(len, talk.heard.replace(str(path), path.name).split("\n"))) <= 80


@pytest.mark.parametrize(
    ("before", "answer", "sentence"),
    [
        ([], "", "nothing was typed; this has no default; type words, or ? or <."),
        ([], "<", "This is the first question."),
        ([], "a\x1b[Db", "answer: character 2 is the control character \\x1b; it must be letters that can be printed; "
         "type it again, without the arrow keys."),
        ([], "x" * 101, "title: it is 101 characters long; it must be at most 100; shorten it."),
        (START[:1], "mile", "'mile' is not on offer; it must be a word of the list, or its number; choose one of mm, "
         "cm, in."),
        (START[:2], "steel-9", "'steel-9' is not on offer; it must be a word of the list, or its number; did you mean "
         "'steel-8' or 'steel-7.94'?"),
        (START, "-650 mm, -50 mm", "it has 2 parts; it must be three lengths with commas between them; write it like "
         "-650 mm, -50 mm, 35.5 mm (a point in decimals, not a comma)."),
        (START, "-650 mm, 0 mm, 3 deg", "up: '3 deg' is an angle; it must be a length; use one of mm, cm, m, in, ft."),
        (START, "-650 mm, 0 mm, 200 m", "motor, nose, z: '200 m' is absurdly large; it must be at most 100 m; check "
         "the number and its unit."),
        (START, "1 mm left, 1 mm, 1 mm", "'1 mm' has no word; all three must have one, or none; add left, forward, up "
         "...."),
        (START, "1 mm left, 1 mm right, 1 mm up", "it says nothing of forward; it must say how far right or left, "
         "forward or back, up or down; write 0 mm where it is level."),
        (START, "-1 mm left, 1 mm back, 1 mm up", "'-1 mm left' has a sign and a word; it must have one of them; write "
         "1 mm left."),
        ([*START, NOSE[0], "points"], NOSE[0], "motor, heading: from and to are the same point; a direction needs two "
         "points apart; measure them again."),
        ([*START, *NOSE[:2]], "1, 0 mm, 0", "'1, 0 mm, 0' is not three plain numbers; it must be three, without a "
         "unit, or one of right, left, forward, back, up, down; write it like 0, 0.71, 0.71 (right, forward, up)."),
        ([*START, *NOSE[:2]], "0, 0, 0", "motor, heading: it has no length; a direction must point somewhere; give at "
         "least one number that is not 0."),
        ([*START, *NOSE], "7", "'7' is no such count; it must be a number from 1 to 6; count again."),
        ([*START, *NOSE, "2"], "nose", "wheelbox 'nose': the name is taken; 'nose' and 'end' are the run's own ends; "
         "rename it."),
        ([*START, *NOSE, "2", *NEAR], "near", "wheelbox 2: the name 'near' stands twice; each wheelbox must have its "
         "own; rename one."),
        ([*START, *NOSE, "2", *NEAR, *FAR[:2]], NEAR[2], "wheelbox 'far', hole: it is the same spot as that of 'near'; "
         "wheelboxes of one layout ('twin') must stand apart; measure them again."),
        ([*START, *NOSE, "2", *NEAR[:6]], "0, 0, -1", "wheelbox 'near', spindle: it leans 143.1 deg from the panel's "
         "normal; it must come out of the panel, below 90 deg; turn the spindle or the panel's normal round."),
        ([*START, *NOSE, "2", *NEAR[:3], "lean", "numbers", "up", "numbers"], "up", "wheelbox 'near', spindle, toward: "
         "it runs along the panel's normal; it must point along the panel; give another direction."),
        ([*START, *NOSE, "2", *NEAR[:3], "lean", "numbers", "up", "numbers", "forward"], "95 deg", "wheelbox 'near', "
         "spindle, lean: '95 deg' is too much (lean); it must be from 0 deg to 89.9 deg, for a spindle comes out of "
         "the panel; measure it again."),
        ([*START, *NOSE, "2", *NEAR[:7]], "-1 mm", "wheelbox 'near', panel_thickness: '-1 mm' is negative; it must be "
         "0 or more; leave out the minus sign."),
        ([*START, *NOSE, "2", *NEAR[:8], "numbers"], "0, 1, 0", "wheelbox 'near', heading: it is 36.9 degrees from "
         "perpendicular to the spindle; the rack passes a wheelbox at a right angle to its spindle, within 5 degrees; "
         "measure the heading or the spindle again."),
        ([*START, *NOSE, "2", *NEAR[:9], "left", *FAR[:9], "right"], "tandem", "side: the job says near left, far "
         "right; in tandem motion all boxes have the rack on one side; change a side, or drive.motion, or leave "
         "sides out."),
        ([*START, *NOSE, "2", *NEAR, *FAR, ""], "110", "110 what? Write 110 deg."),
        ([*START, *NOSE, "2", *NEAR, *FAR, ""], "12 mm", "'12 mm' is a length; it must be an angle; use one of deg, "
         "rad."),
        ([*START, *NOSE, "2", *NEAR, *FAR, *DRIVE, "1", "heater", "box", "0 mm, 0 mm, 0 mm"], "1 mm, 0 mm, 1 mm",
         "in_the_way 'heater', box: from and to have the same y; a box must have a size each way; measure them again."),
        ([*INCH_ANSWERS[:INCH_ANSWERS.index("1, starboard")]], "1", "it names 1; it must name 2 to 2; put commas "
         "between the names."),
    ],
)  # fmt: skip
def test_an_answer_is_refused_at_once_and_asked_again(before: list[str], answer: str, sentence: str, tmp_path: Path):
    path = tmp_path / "job.toml"
    talk = broken_off(path, [*before, answer])
    assert talk.prompts[-1] == talk.prompts[-2]
    assert talk.words.endswith(f"{answer} {sentence} {talk.prompts[-1]}".strip())
    assert len(keeping.load(path).answers) == len(before)


def test_a_bare_length_is_in_the_unit_that_was_chosen_and_is_shown_with_it(tmp_path: Path):
    """It is kept with its unit, so that nothing changes if another unit is chosen afterwards."""
    path = tmp_path / "job.toml"
    heard = broken_off(path, ["x", "in", "", "", "", "", "", "12, 12 mm, -1 1/2"]).words
    assert "Taken: 12 in, 12 mm, -1 1/2 in" in heard
    assert keeping.load(path).answers["nose"] == "12 in, 12 mm, -1 1/2 in"
    heard = broken_off(tmp_path / "other.toml", ["x", "cm", "", "", "", "", "", "12 left, 0 back, 3.5 up"]).words
    assert "Taken: -12 cm, 0 cm, 3.5 cm" in heard


def test_going_back_shows_what_was_answered_and_enter_keeps_it(tmp_path: Path):
    """Back from the second wheelbox's name to the first one's thickness, a new one, and on with Enter alone."""
    path = tmp_path / "job.toml"
    start = [*START, *NOSE, "2", *NEAR]
    talk = asked(path, [*start, "<", "<", "<", "3 mm", "", "", *FAR[:7], "1.2 mm", *FAR[8:], *DRIVE, "0", ""])
    assert "How thick is the panel there? Enter: 1.2 mm panel thickness: 3 mm" in talk.words
    assert read_job(path, SHOP) == by_hand(tmp_path, BY_HAND.replace('"1.2 mm"', '"3 mm"', 1))


def test_going_back_over_every_question_and_enter_to_the_end_changes_nothing(tmp_path: Path):
    path = tmp_path / "job.toml"
    questions = len(TWIN) - 1
    talk = asked(path, [*TWIN[:-1], *["<"] * questions, *[""] * questions, ""])
    assert read_job(path, SHOP) == by_hand(tmp_path, BY_HAND)
    assert "first question" not in talk.words


def test_an_answer_that_a_later_change_spoils_is_asked_again(tmp_path: Path):
    """The first wheelbox moved to where the second stands: Enter at the second's hole no longer does."""
    path = tmp_path / "job.toml"
    start = [*START, *NOSE, "2", *NEAR, *FAR[:3]]
    back = len(NEAR) + 3 - 2
    moved = "600 mm, 0 mm, 0 mm"
    talk = asked(path, [*start, *["<"] * back, FAR[2], *NEAR[3:], "", "", "", moved, *FAR[3:], *DRIVE, "0", ""])
    assert "it is the same spot as that of 'near'" in talk.words
    job = read_job(path, SHOP)
    assert [box.hole_mm for box in job.mountings.values()] == [(200.0, 0.0, 0.0), (600.0, 0.0, 0.0)]


def test_fewer_wheelboxes_after_going_back_leave_the_others_out(tmp_path: Path):
    path = tmp_path / "job.toml"
    asked(path, [*START, *NOSE, "2", *NEAR, *["<"] * 11, "1", *[""] * 10, *DRIVE, "0", ""])
    job = read_job(path, SHOP)
    assert job.layouts == {"single": ("near",)}


@pytest.mark.long
@pytest.mark.parametrize("stop", range(0, len(TWIN), 7))
def test_broken_off_anywhere_it_goes_on_where_it_stopped(stop: int, tmp_path: Path):
    path = tmp_path / "job.toml"
    broken_off(path, TWIN[:stop])
    assert not path.exists()
    talk = asked(path, TWIN[stop:])
    assert "job.toml is not finished: it goes on where it stopped." in talk.words
    assert read_job(path, SHOP) == by_hand(tmp_path, BY_HAND)


def test_what_is_said_when_it_is_broken_off(tmp_path: Path):
    path = tmp_path / "my job.toml"
    with pytest.raises(InterruptError) as error:
        ask_job(str(path), SHOP, Scripted(START))
    assert str(error.value) == (
        f"new: the answers ended; what was answered is in {path}.unfinished; go on with: tubing new '{path}'"
    )
    with pytest.raises(InterruptError) as error:
        ask_job(None, SHOP, Scripted([]))
    assert str(error.value) == "new: the answers ended; nothing was written; start it again"


def test_it_goes_on_by_the_name_of_the_unfinished_file_too(tmp_path: Path):
    path = tmp_path / "job.toml"
    broken_off(path, TWIN[:9])
    talk = Scripted(TWIN[9:])
    assert ask_job(f"{path}.unfinished", SHOP, talk) == path


def test_going_back_is_kept_too(tmp_path: Path):
    """Stopped after going back twice: it goes on two questions back, with what was answered there as default."""
    path = tmp_path / "job.toml"
    broken_off(path, [*START, *NOSE, "<", "<"])
    assert "heading by: right" not in (heard := broken_off(path, [""]).words)
    assert "Enter: numbers heading by:" in heard
    assert heard.endswith("Enter: right heading:")


def test_answers_that_the_shop_no_longer_has_are_asked_again(tmp_path: Path):
    path = tmp_path / "job.toml"
    broken_off(path, [*START, *NOSE])
    kept = keeping.unfinished(path)
    kept.write_text(kept.read_text().replace("sheave-230", "sheave-231"))
    assert broken_off(path, []).words.endswith(
        "What was answered before, 'sheave-231', is not on offer here. Enter: sheave-230 former:"
    )


def test_a_default_of_the_box_before_is_one_that_is_on_offer(tmp_path: Path):
    """Without a panel the second spindle cannot be given by its lean: then "none" is not proposed again."""
    near = ["near", "", "-300 mm, 0, 0", "numbers", "up", "none", "", "", ""]
    heard = broken_off(tmp_path / "job.toml", [*START, *NOSE, "2", *near, "far", "", "200 mm, 0, 0", "lean"]).words
    assert heard.endswith("2 numbers: three plain numbers, or a word such as up Enter: points panel by:")


@pytest.mark.parametrize(
    ("answer", "taken"), [("in", "in"), ("3", "in"), ("inch", "in"), ("Inches", "in"), ("c", "cm"), ("milli", "mm")]
)
def test_a_choice_may_be_the_beginning_of_just_one(tmp_path: Path, answer: str, taken: str):
    """Of the word or of what it says; then what was taken is said, unless it was typed so."""
    heard = broken_off(tmp_path / "job.toml", [START[0], answer]).words
    assert (f"usual unit: {answer} Taken: {taken}" in heard) == (answer != taken)
    assert "Which tube?" in heard


def test_a_beginning_of_several_is_not_guessed(tmp_path: Path):
    heard = broken_off(tmp_path / "job.toml", [*START[:2], "steel"]).words
    assert "'steel' is not on offer; it must be a word of the list, or its number; did you mean 'steel-8'" in heard
    assert heard.endswith("tube:")


def test_nothing_needs_no_unit(tmp_path: Path):
    """0 is as long in inches as in mm; any other number still needs its unit."""
    heard = broken_off(tmp_path / "job.toml", [*START[:1], "in", *START[2:], "-20 in, 0, 0"]).words
    assert "M motor nose: 20 in left" in heard


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("answers", "job.toml.unfinished, line 1, column 8: expected '=' after a key in a key/value pair; it must be "
         "TOML, lines of key = value under [sections]; mend that line."),
        ("behind = 1\n", "its answers are not texts; it must be as `new` wrote it; mend it, or take it away to start "
         "anew."),
        ("behind = -1\npictures = true\n[answers]\n", "behind is -1, pictures true; it must be as `new` wrote it; mend "
         "it, or take it away to start anew."),
        ('behind = 1\npictures = true\n[answers]\ntitle = "\\u001b[2J"\n', "its answers are not texts; it must be as "
         "`new` wrote it; mend it, or take it away to start anew."),
    ],
)  # fmt: skip
def test_spoilt_answers_are_told_and_left_alone(text: str, sentence: str, tmp_path: Path):
    path = tmp_path / "job.toml"
    keeping.unfinished(path).write_text(text)
    talk = Scripted([])
    with pytest.raises(InterruptError):
        ask_job(str(path), SHOP, talk)
    assert talk.words.endswith(f"{sentence} file:")
    assert keeping.unfinished(path).read_text() == text


def test_more_answers_behind_than_there_are_do_no_harm(tmp_path: Path):
    path = tmp_path / "job.toml"
    broken_off(path, START)
    kept = keeping.unfinished(path)
    kept.write_text(kept.read_text().replace(f"behind = {len(START)}", "behind = 999"))
    asked(path, TWIN[len(START) :])
    assert read_job(path, SHOP) == by_hand(tmp_path, BY_HAND)


@pytest.mark.parametrize(
    ("word", "sentence"),
    [
        ("", "file: it is no name for a job; it must end in .toml; write it like two-seater.toml."),
        ("car", "car: it is no name for a job; it must end in .toml; write it like car.toml."),
        (".toml", ".toml: it is no name for a job; it must end in .toml; write it like two-seater.toml."),
        ("no/such/car.toml", "no/such/car.toml: there is no folder 'no/such'; it must exist; make it, or name "
         "another."),
        ("folder.toml", "folder.toml: it is not a file; it must be a new file; give another name."),
        ("a\x07.toml", "answer: character 2 is the control character \\x07; it must be letters that can be printed; "
         "type it again, without the arrow keys."),
        ("there.toml", "there.toml: it is there already; it stays as it is; give another name."),
        (f"{'x' * 300}.toml", f"{'x' * 300}.toml: it cannot be looked at (File name too long); it must be a file that "
         "can be written; give another name."),
    ],
)  # fmt: skip
def test_a_file_that_will_not_do_is_asked_for_again(
    word: str, sentence: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "there.toml").write_text("mine")
    talk = Scripted([word])
    with pytest.raises(InterruptError):
        ask_job(None, SHOP, talk)
    assert talk.words.replace(" ", "").endswith(f"{sentence} file:".replace(" ", ""))
    assert (tmp_path / "there.toml").read_text() == "mine"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["folder.toml", "there.toml"]


def test_a_job_that_appears_meanwhile_is_not_touched(tmp_path: Path):
    """Another name is asked for at the end, as often as needed, and the answers are lost at none of them."""
    path, other = tmp_path / "job.toml", tmp_path / "other.toml"
    broken_off(path, TWIN[:-1])
    path.write_text("mine")
    talk = Scripted(["", str(path), "x", str(other)])
    assert ask_job(str(path), SHOP, talk) == other
    assert path.read_text() == "mine"
    assert read_job(other, SHOP) == by_hand(tmp_path, BY_HAND)
    assert not keeping.unfinished(path).exists()


def test_a_file_system_without_links_overwrites_nothing_either(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def no_links(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    path, other = tmp_path / "job.toml", tmp_path / "other.toml"
    broken_off(path, TWIN[:-1])
    path.write_text("mine")
    assert ask_job(str(path), SHOP, Scripted(["", str(other)])) == other
    assert path.read_text() == "mine"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["job.toml", "other.toml"]


class FullDisk:
    """No file can be written to the end while ``full``."""

    full = True

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        really = os.fsync
        monkeypatch.setattr(os, "fsync", lambda number: self.fail() if self.full else really(number))

    def fail(self) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")


FULL = (
    "it cannot be written (No space left on device); it must lie in a folder with room that may be written; make room "
    "or name another folder."
)


def test_a_full_disk_at_the_start_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    FullDisk(monkeypatch)
    talk = Scripted([])
    with pytest.raises(InterruptError) as error:
        ask_job(str(tmp_path / "job.toml"), SHOP, talk)
    assert FULL in talk.words
    assert str(error.value) == "new: the answers ended; nothing was written; start it again"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.long
def test_a_disk_that_fills_up_loses_only_what_came_after(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    path, disk = tmp_path / "job.toml", FullDisk(monkeypatch)

    class Filling(Scripted):
        def ask(self, prompt: str, fresh: bool = False) -> str:
            disk.full = len(self.answers) <= len(TWIN) - 9
            return super().ask(prompt)

    disk.full = False
    talk = Filling(TWIN)
    with pytest.raises(InterruptError) as error:
        ask_job(str(path), SHOP, talk)
    assert talk.words.count("This answer is not kept: ") == 1
    # A long path may be broken over lines: where it is broken does not matter.
    assert "".join(talk.heard.split()).endswith("".join(f"{path}: {FULL} file:".split()))
    assert str(error.value).startswith(
        "new: the answers ended, and the last answers are not kept; what was answered is "
    )
    assert [p.name for p in tmp_path.iterdir()] == ["job.toml.unfinished"]
    disk.full = False
    asked(path, TWIN[9:])
    assert read_job(path, SHOP) == by_hand(tmp_path, BY_HAND)


@pytest.mark.long
@pytest.mark.parametrize(
    "name",
    [
        '5" scuttle',
        "it's",
        "a/b\\c",
        "<b>bold</b>",
        "# no comment",
        "x = [1]",
        '"""',
        "{first}",
        "\u00e9\u9060",
        "-",
        "a, b",
    ],
)
def test_names_are_written_as_they_were_typed(name: str, tmp_path: Path):
    path = tmp_path / "job.toml"
    asked(path, [name, *START[1:6], name, *NOSE, "2", name, *NEAR[1:], *FAR, *DRIVE, "1", name, "sphere",
                 "0 mm, -500 mm, 0 mm", "5 mm", ""])  # fmt: skip
    job = read_job(path, SHOP)
    assert job.title == name
    assert list(job.mountings) == [name, "far"]
    assert job.in_the_way[0].name == name
    assert f"# They count from: {name}" in path.read_text(encoding="utf-8").split("\n")


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_any_text_comes_back_from_toml_as_it_was(text: str):
    """tomllib, the standard library's reader, is the judge."""
    assert tomllib.loads(f"{quoted(text)} = {quoted(text)}") == {text: text}


def test_the_lines_that_can_be_added_are_right_when_added(tmp_path: Path):
    """Every commented line of the job, with its mark taken away, is a line that the reader takes."""
    path = tmp_path / "job.toml"
    asked(path, [*START, *NOSE, "1", *NEAR[:5], "none", "", "", "", *DRIVE, "0", ""])
    keys = r"^# ((?:\[\[|panel|spacer|heading|side|from|to|corners|piece|length))"
    text, added = re.subn(keys, r"\1", path.read_text(), flags=re.M)
    assert added == 11
    job = by_hand(tmp_path, text)
    assert job.between[0].corners_mm == ((-400.0, 0.0, 0.0),)
    assert job.cuts[0].piece == "nose-near"
    assert job.mountings["near"].side == 1


def test_the_plan_accepts_what_is_written_and_says_what_was_said(tmp_path: Path):
    path = tmp_path / "job.toml"
    talk = asked(path, TWIN)
    planned = plan(read_job(path, SHOP), SHOP)
    bends = sum(len(piece.bends) for piece in planned.pieces)
    assert f"twin: it can be planned, with {len(planned.pieces)} tubes and {bends} bends." in talk.words


def test_what_does_not_fit_is_told_before_writing_and_can_be_mended(tmp_path: Path):
    """Holes 60 mm apart less a groove offset of 25 mm at each box: a leg of 10 mm. Back to the hole, and it fits."""
    path = tmp_path / "job.toml"
    near = [*NEAR[:8], "numbers", "right", "right"]
    far = [*FAR[:2], "-240 mm, 0 mm, 0 mm", *FAR[3:], ""]
    talk = asked(path, [*START, *NOSE, "2", *near, *far, *DRIVE, "0", *["<"] * 14, FAR[2], *[""] * 13, ""])
    assert (
        "twin: it does not fit as measured. wheelboxes 'near' and 'far': they stand 60.0 mm apart, spindle to spindle, "
        "and no tube of radius 236.9 mm (as bent) joins them; a straight tube between them needs 100.0 mm; move them "
        "apart, or plan a layout without one of them." in talk.words
    )
    assert "twin: it can be planned, with 3 tubes and " in talk.words
    straight_on = 'panel_thickness = "1.2 mm"\nheading = [1.0, 0.0, 0.0]\nside = "right"'
    assert read_job(path, SHOP) == by_hand(tmp_path, BY_HAND.replace('panel_thickness = "1.2 mm"', straight_on))


def test_pictures_can_be_switched_off_and_stay_off(tmp_path: Path):
    path = tmp_path / "job.toml"
    heard = broken_off(path, ["#", *START, *NOSE[:1]]).words
    assert "Pictures are off." in heard
    assert "M motor nose: 700 mm left, 34 mm back, 18.5 mm down" in heard
    assert "Plan, seen from above" not in heard
    assert "Plan, seen from above" not in broken_off(path, NOSE[1:]).words
    assert "Plan, seen from above" in broken_off(path, ["#"]).words
    assert "Plan, seen from above" not in asked(tmp_path / "other.toml", TWIN, pictures=False).words


def test_every_question_has_something_to_say_when_asked(tmp_path: Path):
    """Before each answer of a triple in inches, with every way of giving a direction, stands a question mark."""
    heard: list[str] = []

    class Curious(Scripted):
        curious = True

        def ask(self, prompt: str, fresh: bool = False) -> str:
            if not fresh and prompt != "file: ":
                self.curious = not self.curious
                if not self.curious:
                    heard.append(prompt)
                    self.told_before = len(self.heard)
                    return "?"
                said = self.heard[self.told_before :].strip()
                assert len(said.split()) > 4, f"? says nothing at {prompt!r}: {said!r}"
            return super().ask(prompt, fresh)

    talk = Curious(INCH_ANSWERS)
    assert ask_job(str(tmp_path / "launch.toml"), SHOP, talk, True) == tmp_path / "launch.toml"
    assert len(heard) > 60
    assert "the first and the third go the same way and the middle one against them" in talk.words
    assert "Parked, the blades lie along the lower edge of the glass" in talk.words


def test_a_former_too_tight_for_the_rack_is_told_at_the_question(tmp_path: Path):
    """In the demo shop the rack wants 229 mm: what is tighter is marked in the list."""
    words = broken_off(tmp_path / "job.toml", START[:3]).words
    assert "bender-40: radius 40 mm: too tight for a bend, only for a run without any" in words
    assert "sheave-230: radius 230 mm: too tight" not in words


def test_a_question_mark_explains_and_asks_again(tmp_path: Path):
    heard = broken_off(tmp_path / "job.toml", [*START[:3], "?"]).words
    assert heard.endswith("former: ? The radius is to the tube's centre line. former:")


@given(
    st.lists(st.tuples(*[st.floats(-3000, 3000)] * 3), min_size=1, max_size=7, unique=True),
    st.sampled_from(["mm", "in", "cm"]),
)
def test_a_picture_shows_each_position_where_it_is(points: list[tuple[float, float, float]], usual: str):
    """Measured back from the letters: columns from the origin's times the scale, within half a letter."""
    marks = [Mark(str(k), f"box {k}", at) for k, at in enumerate(points, 1)]
    lines = pictures(marks, usual)
    assert max(map(len, lines)) <= 80
    plan_view = lines[1 : lines.index("From the driver's seat: right is right, up is up.")] if any(
        line.startswith("From") for line in lines) else lines[1:-1]  # fmt: skip
    found = {letter: (row, column) for row, line in enumerate(plan_view) for column, letter in enumerate(line)}
    step = re.search(r"about (.*?) across", lines[-1])
    assert step
    step_mm = next(s for s in (1, 2, 5, 10, 20, 50, 100, 200, 500) if step[1] in (f"{s} mm", f"{s / 10:g} cm", inch(s)))
    if "+" not in found:
        return  # a mark lies on the origin
    for mark in marks:
        if mark.letter in found:
            row, column = found[mark.letter]
            assert math.isclose((column - found["+"][1]) * step_mm, mark.at_mm[0], abs_tol=step_mm * 1.001)
            assert math.isclose((found["+"][0] - row) * 2 * step_mm, mark.at_mm[1], abs_tol=2 * step_mm * 1.001)
        else:
            assert "*" in found


def inch(length_mm: float) -> str:
    """Inches to 1/64, worked out here anew."""
    whole, rest = divmod(round(length_mm / 25.4 * 64), 64)
    under = 64
    while rest and rest % 2 == 0:
        rest, under = rest // 2, under // 2
    return " ".join([str(whole)] * bool(whole) + [f"{rest}/{under}"] * bool(rest)) + " in"


TAPED = [
    "Taped estate", "", "", "2", "", "taped", "4", "", "", "", "", "100 mm, 300 mm, 250 mm",
    "1310 mm", "843 mm", "941 mm", "390 mm", "1248 mm", "614 mm",
    "129 mm", "1340 mm", "901 mm", "506 mm", "numbers", "0.8, 0.5, 0.33", "2",
    "near", "", "460 mm", "935 mm", "436 mm", "340 mm", "numbers", "0, 0.5, 0.87", "none", "", "", "",
    "far", "", "986 mm", "422 mm", "536 mm", "858 mm", "numbers", "0, 0.5, 0.87", "", "", "", "",
    "", "", "", "2 mm", "0", "",
]  # fmt: skip


@pytest.mark.long
def test_a_vehicle_measured_with_a_tape_alone(tmp_path: Path):
    """Marks, tape between them, tape to nose and holes; after each point it is said where it is and how sure."""
    path = tmp_path / "job.toml"
    heard = asked(path, TAPED).words
    job = read_job(path, SHOP)
    measured = job.taped.measured
    assert [point.name for point in measured.points if point.name.endswith("mark")] == [
        "left mark", "right mark", "front mark", "high mark",
    ]  # fmt: skip
    assert measured.at_mm("near") == pytest.approx((402, 214, 64), abs=4)
    assert len(measured.readings) == 6 + 4 + 4 + 4
    assert "near is sure to" in heard
    assert "does not fit" not in heard
    assert plan(job, SHOP).pieces


@pytest.mark.long
def test_a_reading_that_does_not_fit_is_told_at_once(tmp_path: Path):
    """A decimetre misread at the last reading of the near box."""
    wrong = [*TAPED[: TAPED.index("340 mm")], "440 mm"]
    heard = broken_off(tmp_path / "job.toml", wrong).words
    assert "Measure it again; < goes back" in heard or "it cannot be right" in heard


@pytest.mark.long
def test_a_point_with_three_readings_may_lie_in_a_mirror(tmp_path: Path):
    """One mark the tape does not reach from: the other three leave two places, and the answer is not taken."""
    three = [*TAPED[: TAPED.index("436 mm")], "none", "340 mm"]
    heard = broken_off(tmp_path / "job.toml", three).words
    assert "point 'near': it may lie at" in heard


@pytest.mark.long
def test_marks_on_a_line_are_refused_while_they_are_taped(tmp_path: Path):
    """The third mark lies on the line of the first two: its last reading is not accepted."""
    start = TAPED[: TAPED.index("843 mm")]
    heard = broken_off(tmp_path / "job.toml", [*start, "600 mm", "710 mm", "390 mm", "1248 mm", "614 mm"]).words
    assert "lie on a line" in heard
