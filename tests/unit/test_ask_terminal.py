"""`new` at a real pseudo-terminal, in a process of its own: a whole session, stopping it, and going on.

The driver waits for each prompt before it types, as a person does; nothing here depends on how fast it goes.
"""

from __future__ import annotations

import contextlib
import os
import re
import select
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

import tubing
from tubing.commands import main
from tubing.inputs.job_file import read_job
from tubing.inputs.shop_file import read_shop

pty = pytest.importorskip("pty", reason="no pseudo-terminals here")
fcntl = pytest.importorskip("fcntl")
termios = pytest.importorskip("termios")

ROOT = Path(tubing.__file__).parent.parent
PATIENCE_S = 100.0  # far more than any answer takes; a test that waits so long fails
RUN = "import sys; from tubing.commands import main; sys.exit(main(sys.argv[1:]))"
AT_TERMINAL = "import fcntl, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0)"  # so that Ctrl-C reaches it
NO_ROOM = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))"  # no file may grow
# Linux, prctl(2) and capabilities(7): from the next start on root may not write where its rights do not let it.
NO_PRIVILEGE = (
    "import ctypes, os, sys; ctypes.CDLL(None).prctl(24, 1); "
    f"os.execv(sys.executable, [sys.executable, '-c', {RUN!r}, *sys.argv[1:]])"
)
MARKS = re.compile(rb"\x1b\[[0-9;?]*[a-zA-Z]|\r|\x07")  # what moves a cursor is not text
CTRL_C, CTRL_D = "\x03", "\x04"


class Fitter:
    """Someone at a terminal of 80 columns."""

    def __init__(self, *words: str, folder: Path, terminal: str = "dumb", before: str = "pass") -> None:
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.process = subprocess.Popen(
            [sys.executable, "-c", f"{AT_TERMINAL}; {before}; {RUN}", "new", *words],
            cwd=folder, stdin=slave, stdout=slave, stderr=slave, start_new_session=True,
            env={**os.environ, "PYTHONPATH": str(ROOT), "TERM": terminal, "PYTHONDONTWRITEBYTECODE": "1"},
        )  # fmt: skip
        os.close(slave)
        self.screen, self.seen = "", 0

    def silent(self, for_s: float) -> bool:
        """Whether nothing new comes for a while."""
        return not select.select([self.master], [], [], max(0.0, for_s))[0]

    def read(self, until_s: float) -> bool:
        """Take in what is on the screen by now; False at its end."""
        assert not self.silent(until_s - time.monotonic()), f"nothing more came; the screen so far:\n{self.screen}"
        try:
            new = os.read(self.master, 65536)
        except OSError:  # how Linux says that the other end is closed
            return False
        self.screen += MARKS.sub(b"", new).decode("utf-8", "replace")
        return bool(new)

    def wait_for(self, text: str) -> str:
        """Everything up to the text and with it, since the last wait."""
        until_s = time.monotonic() + PATIENCE_S
        while (at := self.screen.find(text, self.seen)) < 0:
            assert self.read(until_s), f"it ended without {text!r}; the screen:\n{self.screen}"
        found = self.screen[self.seen : at + len(text)]
        self.seen = at + len(text)
        return found

    def answers(self, *prompts_and_answers: str) -> None:
        """Wait for each prompt at the start of a line, then type its answer and Enter."""
        for prompt, answer in zip(prompts_and_answers[::2], prompts_and_answers[1::2], strict=True):
            self.wait_for(f"\n{prompt}: ")
            self.type(f"{answer}\n")

    def type(self, text: str) -> None:
        os.write(self.master, text.encode())

    def stop(self) -> int:
        """Press Ctrl-C; the exit status. Once more where nothing happens: Python's reader of lines does not notice a
        signal that comes just between its prompt and its waiting, which no finger is quick enough for."""
        until_s = time.monotonic() + PATIENCE_S
        self.type(CTRL_C)
        while self.silent(5.0):
            assert time.monotonic() < until_s, f"Ctrl-C does not stop it; the screen so far:\n{self.screen}"
            self.type(CTRL_C)
        return self.left()

    def left(self) -> int:
        """Read to the end; the exit status."""
        until_s = time.monotonic() + PATIENCE_S
        while self.read(until_s):
            pass
        return self.process.wait(PATIENCE_S)

    @property
    def words(self) -> str:
        """The screen as one line."""
        return " ".join(self.screen.split())


@contextlib.contextmanager
def fitter(*words: str, folder: Path, terminal: str = "dumb", before: str = "pass") -> Iterator[Fitter]:
    sits = Fitter(*words, folder=folder, terminal=terminal, before=before)
    try:
        yield sits
    finally:
        sits.process.kill()
        sits.process.wait()
        os.close(sits.master)


PARTS = ("title", "Two-seater", "usual unit", "", "tube", "", "former", "", "motor", "", "measured", "", "origin", "")
NOSE = ("motor nose", "-700 mm, -34 mm, -18.5 mm", "heading by", "", "point ahead", "-600 mm, -34 mm, -18.5 mm",
        "wheelboxes", "2")  # fmt: skip
NEAR = ("name", "", "model", "", "hole", "300 mm left, 0 mm forward, 0 mm up", "spindle by", "numbers",
        "spindle", "0, 0.6, 0.8", "panel by", "numbers", "panel faces", "0, 0.5, 0.866", "panel thickness", "",
        "heading by", "", "side", "")  # fmt: skip
FAR = ("name", "", "model", "", "hole", "200 mm, 0 mm, 0 mm", "spindle by", "", "spindle", "", "panel by", "",
       "panel faces", "", "panel thickness", "", "heading by", "", "side", "")  # fmt: skip
REST = ("motion", "", "sweep", "", "park", "", "measuring error", "", "things in the way", "", "write", "")


def check_written(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The job holds what was typed, and `plan` accepts it."""
    job = read_job(path, read_shop(None))
    assert (job.title, job.nose.position_mm, job.nose.heading) == (
        "Two-seater",
        (-700.0, -34.0, -18.5),
        (1.0, 0.0, 0.0),
    )
    assert [box.hole_mm for box in job.mountings.values()] == [(-300.0, 0.0, 0.0), (200.0, 0.0, 0.0)]
    assert main(["plan", str(path)]) == 0
    assert "near-far" in capsys.readouterr().out


@pytest.mark.long
def test_a_whole_session_to_a_job_that_plan_accepts(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    with fitter("job.toml", folder=tmp_path, terminal="xterm-256color") as sits:
        sits.answers(*PARTS, *NOSE, *NEAR, *FAR, *REST)
        assert sits.left() == 0
        assert "Plan, seen from above" in sits.words
        assert "Written: job.toml Plan it with: tubing plan job.toml" in sits.words
        assert max(len(line) for line in sits.screen.split("\n")) <= 80
    check_written(tmp_path / "job.toml", capsys)
    assert [path.name for path in tmp_path.iterdir()] == ["job.toml"]


@pytest.mark.long
def test_an_enter_typed_ahead_does_not_write_the_job(tmp_path: Path):
    """While the first look at the plan is worked out, Enter is typed twice: the question still waits for its answer."""
    with fitter("job.toml", folder=tmp_path) as sits:
        sits.answers(*PARTS, *NOSE, *NEAR, *FAR, *REST[:-4])
        sits.wait_for("\nthings in the way: ")
        sits.type("\n\n\n")
        sits.wait_for("\nwrite: ")
        assert sits.silent(1.0), sits.screen
        assert not (tmp_path / "job.toml").exists()
        sits.type("\n")
        assert sits.left() == 0
    assert (tmp_path / "job.toml").is_file()


@pytest.mark.long
def test_a_bare_number_is_shown_with_its_unit_and_a_wrong_unit_is_asked_again(tmp_path: Path):
    with fitter("job.toml", folder=tmp_path) as sits:
        sits.answers(*PARTS, "motor nose", "-700, -34 mm, 0 mm")
        assert "Taken: -700 mm, -34 mm, 0 mm" in " ".join(sits.wait_for("\nheading by: ").split())
        sits.type("<\n")
        sits.wait_for("\nmotor nose: ")
        sits.type("-700 kg, -34 mm, 0 mm\n")
        told = " ".join(sits.wait_for("\nmotor nose: ").split())
        assert "to the right: '-700 kg' has the unknown unit 'kg'; it must be a length; " in told
        assert sits.stop() == 4


@pytest.mark.long
def test_going_back_one_question(tmp_path: Path):
    with fitter("job.toml", folder=tmp_path) as sits:
        sits.answers("title", "Two-sater", "usual unit", "<")
        assert "Enter: Two-sater" in sits.wait_for("\ntitle: ")
        sits.type("Two-seater\n")
        sits.answers("usual unit", "<")
        assert "Enter: Two-seater" in sits.wait_for("\ntitle: ")
        sits.type(CTRL_D)
        assert sits.left() == 4


@pytest.mark.long
@pytest.mark.parametrize("how", ["Ctrl-C", "end of input", "kill"])
def test_stopped_and_gone_on_with(how: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """In the middle of an answer: what was answered before is kept, what was half typed is not."""
    with fitter("job.toml", folder=tmp_path) as sits:
        sits.answers(*PARTS, *NOSE, "name", "", "model", "")
        sits.wait_for("\nhole: ")
        if how == "kill":
            sits.process.send_signal(signal.SIGKILL)
            assert sits.process.wait(PATIENCE_S) == -signal.SIGKILL
        else:
            sits.type("-300 mm, 0" if how == "Ctrl-C" else CTRL_D)
            if how == "Ctrl-C":
                sits.wait_for("-300 mm, 0")  # as the terminal shows it
            assert (sits.stop() if how == "Ctrl-C" else sits.left()) == 4
            why = "stopped from the keyboard" if how == "Ctrl-C" else "the answers ended"
            assert sits.words.endswith(
                f"new: {why}; what was answered is in job.toml.unfinished; go on with: tubing new job.toml"
            )
    assert [path.name for path in tmp_path.iterdir()] == ["job.toml.unfinished"]
    with fitter("job.toml", folder=tmp_path) as sits:
        assert "job.toml is not finished: it goes on where it stopped." in sits.wait_for("\nhole: ")
        sits.type(f"{NEAR[5]}\n")
        sits.answers(*NEAR[6:], *FAR, *REST)
        assert sits.left() == 0
    check_written(tmp_path / "job.toml", capsys)


BARGE = """
title = 'Barge "Emma"'
layout = "twin"
layouts = { twin = ["port", "starboard"] }
tube = { size = "steel-7.94", former = "sheave-240" }
drive = { motion = "opposed", sweep = "100 deg", park = "right" }
motor = { model = "bench-motor-strong", nose = ["-29 1/2 in", "-1.3125 in", "-3/4 in"], heading = [1.0, 0.0, 0.0] }
measuring = { error = "1/16 in" }
[[wheelbox]]
name = "port"
model = "bench-box-long"
hole = ["-12 1/4 in", "0 in", "0 in"]
spindle = { lean = "5 deg", toward = [0.0, 1.0, 0.0] }
panel = { from = ["0 in", "0 in", "0 in"], to = ["0 in", "3 in", "4 in"] }
panel_thickness = "3/16 in"
side = "right"
[[wheelbox]]
name = "starboard"
model = "bench-box-long"
hole = ["12 1/4 in", "0 in", "0 in"]
spindle = [0.0, 0.6, 0.8]
panel_thickness = "3/16 in"
[[in_the_way]]
name = "steering column"
cylinder = { from = ["6 in", "-12 in", "-14 in"], to = ["6 in", "-1 in", "-6 in"], radius = "1 in" }
[[in_the_way]]
name = "fan"
sphere = { centre = ["-4 in", "-8 in", "-3 in"], radius = "2 in" }
"""


@pytest.mark.long
def test_a_job_in_inches_with_mistakes_going_back_stopping_and_things_in_the_way(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """As a fitter does it in two sittings; the job is the one that would be written by hand."""
    with fitter("barge.toml", folder=tmp_path) as sits:
        sits.answers(
            *("title", 'Barge "Emma"', "usual unit", "inch", "tube", "steel", "tube", "steel-7", "former", "2"),
            *("motor", "strong", "motor", "bench-motor-s", "motor", "2", "measured", "", "origin", "the mast's foot"),
            *("motor nose", "29 1/2 in left, 1 5/16 in back", "motor nose", "-29 1/2 in, -1.3125 in, 3/4"),
            *("heading by", "<"),
            *("motor nose", "-29 1/2 in, -1.3125 in, -3/4 in", "heading by", "numbers", "heading", "right"),
            *("wheelboxes", "two", "wheelboxes", "2", "name", "port", "model", "bench-box-l"),
            *("hole", "12 1/4 in left, 0 forward, 0 up", "spindle by", "lean", "panel by", "points"),
            *("first point", "0, 0, 0", "second point", "0, 3 in, 4 in", "lean toward by", "", "lean toward", "ahead"),
            *("lean toward", "forward", "lean", "95 deg", "lean", "5 deg", "panel thickness", "3/16 in"),
        )
        sits.wait_for("\nheading by: ")
        assert sits.stop() == 4
        for told in (
            "usual unit: inch Taken: in",
            "'steel' is not on offer; it must be a word of the list, or its number; did you mean",
            "'strong' is not on offer",
            "it has 2 parts; it must be three lengths with commas between them; write it like -25 1/2 in, -2 in",
            "Taken: -29 1/2 in, -1.3125 in, 3/4 in",
            "'two' is no such count; it must be a number from 1 to 6",
            "'ahead' is not three plain numbers",
            "'95 deg' is too much (lean); it must be from 0 deg",
        ):
            assert told in sits.words, sits.words
    with fitter("barge.toml", folder=tmp_path) as sits:
        sits.answers(
            *("heading by", "free", "side", "right", "name", "port", "name", "starboard", "model", ""),
            *("hole", "12 1/4 in, 0, 0", "spindle by", "numbers", "spindle", "0, 0.6, 0.8", "panel by", "none"),
            *(
                "panel thickness",
                "",
                "heading by",
                "",
                "side",
                "free",
                "motion",
                "opp",
                "sweep",
                "100",
                "sweep",
                "100 deg",
            ),
            *("park", "left", "measuring error", "<", "park", "right", "measuring error", "1/16 in"),
            *("things in the way", "2", "name", "steering column", "shape", "cyl", "from", "6 in, -12 in, -14 in"),
            *(
                "to",
                "6 in, -1 in, -6 in",
                "radius",
                "1 in",
                "name",
                "fan",
                "shape",
                "3",
                "centre",
                "-4 in, -8 in, -3 in",
            ),
            *("radius", "-2 in", "radius", "2 in", "write", "<", "radius", "", "write", ""),
        )
        assert sits.left() == 0
        assert "100 what? Write 100 deg." in sits.words
        assert "radius: '-2 in' is negative; it must be above 0; leave out the minus sign." in sits.words
        assert "twin: it can be planned, with 3 tubes" in sits.words
    by_hand = tmp_path / "by-hand.toml"
    by_hand.write_text(BARGE, encoding="utf-8")
    assert read_job(tmp_path / "barge.toml", read_shop(None)) == read_job(by_hand, read_shop(None))
    assert main(["plan", str(tmp_path / "barge.toml"), "--show", "in"]) == 0
    assert "port-starboard" in capsys.readouterr().out


@pytest.mark.long
def test_a_signal_before_the_file_is_known_writes_nothing(tmp_path: Path):
    with fitter(folder=tmp_path) as sits:
        sits.wait_for("file: ")
        assert sits.stop() == 4
        assert sits.words.endswith("new: stopped from the keyboard; nothing was written; start it again")
    assert list(tmp_path.iterdir()) == []


def test_an_existing_job_is_not_touched_and_another_name_is_asked_for(tmp_path: Path):
    (tmp_path / "job.toml").write_text("mine")
    with fitter("job.toml", folder=tmp_path) as sits:
        assert "job.toml: it is there already; it stays as it is; give another name." in sits.wait_for("file: ")
        sits.type("job.toml\n")
        assert "it is there already" in sits.wait_for("\nfile: ")
        sits.type("it's new.toml\n")
        sits.answers("title", '<b>"Ann\'s" car/van</b>')
        sits.wait_for("\nusual unit: ")
        sits.type("\x16\x1b[2J\n")  # Ctrl-V lets an escape character through
        assert "it must be letters that can be printed" in " ".join(sits.wait_for("\nusual unit: ").split())
        sits.type(CTRL_D)
        assert sits.left() == 4
        assert """go on with: tubing new 'it'"'"'s new.toml'""" in sits.words
    assert (tmp_path / "job.toml").read_text() == "mine"
    kept = (tmp_path / "it's new.toml.unfinished").read_text()
    assert '"title" = "<b>\\"Ann\'s\\" car/van</b>"' in kept


@pytest.mark.long
def test_no_pictures(tmp_path: Path):
    with fitter("--no-pictures", "job.toml", folder=tmp_path) as sits:
        sits.answers(*PARTS, *NOSE[:2])
        shown = sits.wait_for("\nheading by: ")
        assert "M motor nose: 700 mm left, 34 mm back, 18.5 mm down" in " ".join(shown.split())
        assert "Plan, seen from above" not in shown
        sits.type(CTRL_D)
        assert sits.left() == 4


@pytest.mark.long
def test_a_disk_without_room(tmp_path: Path):
    """The system refuses the first byte of any file."""
    with fitter("job.toml", folder=tmp_path, before=NO_ROOM) as sits:
        told = " ".join(sits.wait_for("file: ").split())
        assert "job.toml.unfinished: it cannot be written (File too large); it must lie in a folder with room" in told
        sits.type(CTRL_D)
        assert sits.left() == 4
    assert list(tmp_path.iterdir()) == []


@pytest.mark.long
def test_a_read_only_folder(tmp_path: Path):
    root = os.getuid() == 0
    if root and sys.platform != "linux":
        pytest.skip("no right stops root here")
    tmp_path.chmod(0o555)
    try:
        with fitter("job.toml", folder=tmp_path, before=NO_PRIVILEGE if root else "pass") as sits:
            told = " ".join(sits.wait_for("file: ").split())
            assert "job.toml.unfinished: it cannot be written (Permission denied); it must lie in a folder" in told
            sits.type(CTRL_D)
            assert sits.left() == 4
        assert list(tmp_path.iterdir()) == []
    finally:
        tmp_path.chmod(0o755)


@pytest.mark.long
def test_answers_from_a_pipe_are_shown_as_they_are_taken(tmp_path: Path):
    found = subprocess.run(
        [sys.executable, "-c", RUN, "new", "job.toml"], cwd=tmp_path, input="Two-seater\nmm\n", text=True,
        capture_output=True, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False,
    )  # fmt: skip
    assert found.returncode == 4
    assert "title: Two-seater\n" in found.stdout
    assert found.stderr == (
        "new: the answers ended; what was answered is in job.toml.unfinished; go on with: tubing new job.toml\n"
    )
