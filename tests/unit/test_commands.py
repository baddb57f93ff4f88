"""The command line: exit status, one message, nothing else on the wrong stream."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import tubing
from tubing.commands import main
from tubing.inputs.shop_file import data_folder

ROOT = Path(tubing.__file__).parent.parent
JOBS = data_folder() / "jobs"
TWIN = str(JOBS / "lined-up-twin.toml")
COMMANDS = "plan, cost, sweep, nest, sheet, quote, form, tables, desk, change, new, shelf"


def told(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """Exit status, what was printed, and the message."""
    status = main(words)
    streams = capsys.readouterr()
    return status, streams.out, streams.err


@pytest.fixture
def edited(tmp_path: Path) -> Callable[..., str]:
    """A demo job with words replaced, in a file of its own."""

    def edit(name: str, *changes: tuple[str, str]) -> str:
        text = (JOBS / f"{name}.toml").read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        path = tmp_path / "job.toml"
        path.write_text(text, encoding="utf-8")
        return str(path)

    return edit


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["plann", "x"], f"command: there is no 'plann'; it must be one of {COMMANDS}; did you mean 'plan'?"),
        (["swep", "x"], f"command: there is no 'swep'; it must be one of {COMMANDS}; did you mean 'sweep'?"),
        (["plan"], "plan: JOB is missing; it must be given; see tubing plan --help for how it is written"),
        (["nest"], "nest: FILE is missing; it must be given; see tubing nest --help for how it is written"),
        (["cost", "a", "b"], "cost: 'b' is one word too many; it takes less; see tubing cost --help"),
        (
            ["plan", TWIN, "vehicel"],
            "section 'vehicel': the sheet has no such section; it must be one of bench, vehicle, tape, drive, glass, "
            "buying, notes; did you mean 'vehicle'?",
        ),
        (
            ["plan", TWIN, "--lay", "twin"],
            "plan, --lay: there is no such option; it takes --all, --layout, --shop, --json, --show, "
            "--against, --help; did you mean "
            "'--layout' or '--all'?",
        ),
        (
            ["plan", TWIN, "--layout"],
            "option --layout: nothing follows it; it must be followed by its value; see tubing --help",
        ),
        (["plan", TWIN, "--json=1"], "option --json: it is given a value; it must stand alone; see tubing --help"),
        (["plan", TWIN, "--show", "ft"], "--show: it is 'ft'; it must be mm or in; choose one of mm, in"),
        (
            ["plan", "nowhere.toml"],
            "nowhere.toml: there is no such file; it must be a file that can be read; check its name and folder",
        ),
        (
            ["plan", TWIN, "--shop", "nowhere.toml"],
            "nowhere.toml: there is no such file; it must be a file that can be read; check its name and folder",
        ),
        (["plan", str(JOBS)], f"{JOBS}: it is a folder; it must be a file; name the file in it"),
        (
            ["tables", "tube"],
            "tables: there is no table 'tube'; it must be one of tubes, flares, formers, trial bends, trial flares, "
            "motors, wheelboxes, arms, stock, prices; did you mean 'tubes'?",
        ),
        (["nest", "x.txt"], "x.txt: its name ends in '.txt'; it must be a job, .toml, or a list, .csv; rename it for "
         "what it is"),
        (["nest", TWIN, "--stock", "6000"], "--stock: '6000' has no unit; it must be a length; write it '6000 mm'"),
        (
            ["nest", TWIN, "--stock", "6 m @ x"],
            "--stock: 'x' is not a price; it must be money with two decimals at most; write '6000 mm @ 12.50'",
        ),
        (
            ["nest", TWIN, "--stock", "6 m @ 9.50", "--stock", "3 m"],
            "--stock: some have a price and some have none; all must have one, or none; write '6000 mm @ 12.50'",
        ),
        (
            ["nest", TWIN, "--kerf", "-1 mm"],
            "--kerf: '-1 mm' is negative; it must be 0 or more; leave out the minus sign",
        ),
        (
            ["nest", TWIN, "--time-limit", "-1"],
            "--time-limit: '-1 s' is negative; it must be 0 or more; leave out the minus sign",
        ),
        (
            ["sweep", str(JOBS / "works-truck.toml")],
            "works-truck.toml, screen: the job has none; a sweep is judged on the outline of the glass; add a "
            "[screen] section with its "
            "outline and pivots",
        ),
    ],
)  # fmt: skip
def test_input_that_cannot_be_read(words: list[str], message: str, capsys: pytest.CaptureFixture[str]):
    """§13 Errors: one line says which thing, what it is, what it had to be and what to do."""
    assert told(capsys, *words) == (2, "", f"{message}\n")


def test_a_layout_that_is_not_in_the_job(capsys: pytest.CaptureFixture[str]):
    status, out, err = told(capsys, "plan", TWIN, "--layout", "triple")
    assert (status, out) == (2, "")
    assert err == "lined-up-twin.toml, layout: 'triple' is not in the job; it must be one of twin; choose one\n"


def test_a_job_that_is_no_toml_is_told_with_line_and_column(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    path = tmp_path / "job.toml"
    path.write_text('title = "x"\nlayout = \n', encoding="utf-8")
    status, out, err = told(capsys, "plan", str(path))
    assert (status, out) == (2, "")
    assert err == (
        "job.toml, line 2, column 10: invalid value; it must be TOML, lines of key = value under [sections]; mend that "
        "line\n"
    )


def test_stock_that_is_too_short_names_the_piece(capsys: pytest.CaptureFixture[str]):
    status, out, err = told(capsys, "nest", TWIN, "--stock", "400 mm")
    assert (status, out) == (3, "")
    assert err == (
        "--stock, piece 'near-far': its length is 454 mm; the longest usable bar is 400 mm; buy a longer bar, or lead "
        "the run shorter or move the motor: guide tube is not to be joined; doubtful pieces are left over length "
        "(nose-near by 2 mm, near-far by 2 mm): surer positions need less\n"
    )


def test_a_layout_that_does_not_fit_is_named(capsys: pytest.CaptureFixture[str], edited: Callable[..., str]):
    """With a sweep of 260 degrees the stroke draws the rack's fixed end into the demo motor's small sister."""
    job = edited(
        "lined-up-twin",
        ('"110 deg"', '"260 deg"'),
        ('"bench-motor"', '{ fixed_end = "20 mm", nut_length = "14 mm", pull = "450 N" }'),
    )
    status, out, err = told(capsys, "cost", job)
    assert (status, out) == (3, "")
    assert err.startswith(
        "job.toml, layout twin, motor 'own motor': pushed out, the rack's fixed end is -16.3028 mm behind the"
    )
    assert err.count("\n") == 1


def test_cost_prints_the_layouts_that_fit_before_the_error_of_one_that_does_not(
    capsys: pytest.CaptureFixture[str], edited: Callable[..., str]
):
    """The middle box of the triple stands 60 mm from the near one; the twin does without it."""
    near_by = ('hole    = ["0 mm", "0 mm", "0 mm"]', 'hole    = ["-370 mm", "-40 mm", "-15 mm"]')
    status, out, err = told(capsys, "cost", edited("curved-scuttle", near_by))
    assert status == 3
    assert "COST of twin" in out
    assert "triple" not in out
    assert err.startswith("job.toml, layout triple, ")
    assert err.count("\n") == 1


def test_a_defect_of_the_program_is_one_sentence(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("two\nlines")

    monkeypatch.setattr("tubing.commands.showing.show_tables", broken)
    status, out, err = told(capsys, "tables")
    assert (status, out) == (3, "")
    assert err.startswith("tubing: a defect of this program (RuntimeError in test_commands.py, line ")
    assert err.endswith(
        ": two\\nlines); it must not happen; please report it with the job file and the words of the command\n"
    )
    assert err.count("\n") == 1


def test_a_library_that_is_not_installed(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setitem(sys.modules, "tubing.commands.showing", None)
    monkeypatch.delattr("tubing.commands.showing", raising=False)
    status, out, err = told(capsys, "tables")
    assert (status, out) == (3, "")
    assert err == (
        "tubing: the library 'tubing.commands.showing' is missing; what pyproject.toml lists must be installed; run "
        "pip install -e . in the project's folder\n"
    )


def test_the_keyboard_stops_it_with_status_4(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("tubing.commands.planning.plan_job", stopped)
    assert told(capsys, "plan", TWIN) == (
        4,
        "",
        "tubing: stopped from the keyboard; nothing was written; start it again\n",
    )


def test_help_is_plain_and_offers_what_there_is(capsys: pytest.CaptureFixture[str]):
    status, out, err = told(capsys, "--help")
    assert (status, err) == (0, "")
    assert all(f"\n  {name} " in out for name in COMMANDS.split(", "))
    assert out.isascii()
    assert told(capsys) == (0, out, "")
    for name in COMMANDS.split(", "):
        status, out, err = told(capsys, name, "--help")
        assert (status, err) == (0, "")
        assert f"Usage: tubing {name}" in out


@pytest.mark.long
@pytest.mark.parametrize("path", sorted(JOBS.glob("*.toml")), ids=lambda path: path.stem)
def test_every_demo_is_planned_in_eighty_columns_of_plain_text(
    path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(tmp_path)  # from any folder
    status, out, err = told(capsys, "plan", str(path), "--all")
    assert (status, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    assert out.isascii()
    assert "\x1b" not in out
    assert {"CUT LIST", "SAW LIST", "DRIVE", "COST", "ORDER OF WORK", "TAKE CARE"} <= set(out.splitlines())


def test_a_reader_that_leaves_is_no_error():
    """As in ``tubing plan JOB | head -1``."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, "-m", "cli", "tables"],
        cwd="/",
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait(60) == 0


CLOSED = (
    "import os, sys; os.close(1); os.close(2); os.execv(sys.executable, [sys.executable, '-m', 'cli', *sys.argv[1:]])"
)


@pytest.mark.long
def test_streams_that_were_closed_before_it_started():
    """As in ``tubing tables >&- 2>&-``."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    for words, status in ((["tables"], 0), (["plan", "nowhere.toml"], 2)):
        found = subprocess.run([sys.executable, "-c", CLOSED, *words], cwd="/", env=environment, check=False)
        assert found.returncode == status


@pytest.mark.long
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no full disk to write to")
def test_a_full_disk_is_one_message():
    with open("/dev/full", "w") as full:
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        found = subprocess.run(
            [sys.executable, "-m", "cli", "tables"], cwd="/", env=environment, stdout=full, stderr=subprocess.PIPE,
            text=True, check=False,
        )  # fmt: skip
    assert found.returncode == 3
    assert found.stderr == (
        "output: it cannot be written (No space left on device); it must go to a screen, a file or a pipe; make room "
        "there, or send it elsewhere\n"
    )


@pytest.mark.long
def test_a_name_that_the_screen_has_no_letters_for_is_printed_as_codes(edited: Callable[..., str]):
    job = edited("lined-up-twin", ("Lined-up two-seater", "Żuk"))
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "ascii"}
    found = subprocess.run(
        [sys.executable, "-m", "cli", "plan", job],
        cwd="/",
        env=environment,
        text=True,
        capture_output=True,
        check=False,
    )
    assert (found.returncode, found.stderr) == (0, "")
    assert found.stdout.splitlines()[0] == "\\u017buk"


LOADED = (
    "import sys; from tubing.commands import main; main(sys.argv[1:]); print(*sorted(sys.modules), file=sys.stderr)"
)


def loaded(*words: str) -> set[str]:
    """The modules that a command imports."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    found = subprocess.run(
        [sys.executable, "-c", LOADED, *words], cwd="/", env=environment, text=True, capture_output=True, check=True
    )
    return {name.split(".")[0] for name in found.stderr.split()}


@pytest.mark.long
def test_a_command_imports_only_what_it_uses():
    """A table needs no graph and no solver, a plan in a pipe no screen, and only a sweep the geometry of the glass."""
    assert not loaded("tables") & {"networkx", "pulp", "highspy", "shapely", "rich"}
    assert not loaded("plan", TWIN) & {"shapely", "rich", "pulp", "highspy"}
    assert "shapely" in loaded("sweep", TWIN)


def test_help_needs_no_planning():
    assert not loaded("--help") & {"networkx", "pulp", "highspy", "shapely", "pydantic"}


@pytest.mark.long
@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no file that a command would wait for")
def test_a_real_interrupt_in_a_process_of_its_own(tmp_path: Path):
    """The signal comes while the command waits for its job: a pipe that somebody has opened and writes nothing to."""
    pipe = tmp_path / "job.toml"
    os.mkfifo(pipe)
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, "-m", "cli", "plan", str(pipe)], cwd="/", env=environment, stderr=subprocess.PIPE
    ) as process:
        assert process.stderr is not None
        with pipe.open("w"):  # returns when the command has opened the other end
            process.send_signal(signal.SIGINT)
            assert process.stderr.read() == b"tubing: stopped from the keyboard; nothing was written; start it again\n"
            assert process.wait(60) == 4


def test_sweep_tells_a_fault_of_the_job_before_the_screen_that_it_lacks(
    capsys: pytest.CaptureFixture[str], edited: Callable[..., str]
):
    """The demo round two corners has no screen; on a former of 40 mm its rack cannot be bent: told first."""
    status, out, err = told(capsys, "sweep", edited("round-the-corner", ('"sheave-230"', '"bender-40"')))
    assert (status, out) == (3, "")
    assert err == (
        "job.toml, tube nose-near: a bend on the former stays at a radius of 41.2 mm; the rack bends no tighter than "
        "229 mm; choose a larger former\n"
    )
