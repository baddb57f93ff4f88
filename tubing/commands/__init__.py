"""The command line: words to calls, what comes back to the screen, what goes wrong to one message and an exit status.

0 done; 2 the input or the command's words cannot be read; 3 a sound job, but no geometry or stock fits (or this
program or the machine failed, and the message says so); 4 interrupted. The only module that prints.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence

from tubing.errors import InterruptError, OutputError, TubingError

DEFECT = 3


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; None: the words this process was started with. Returns the exit status; never raises."""
    # Starting up makes many objects and throws few away: looking for rubbish in between took a sixth of a plan's time.
    gc.set_threshold(200_000)
    try:
        _write_anything()
        from tubing.commands.app import call_of

        call = call_of(sys.argv[1:] if argv is None else list(argv))
        call()
        sys.stdout.flush()
    except BrokenPipeError:
        _close_quietly()
        return 0
    except KeyboardInterrupt:
        return _told(InterruptError("tubing", "stopped from the keyboard", "nothing was written", "start it again"))
    except TubingError as error:
        return _told(error)
    except OSError as error:
        return _told(
            OutputError(
                "output",
                f"it cannot be written ({error.strerror or error})",
                "it must go to a screen, a file or a pipe",
                "make room there, or send it elsewhere",
            )
        )
    except Exception as error:  # whatever it is, a fitter has no use for a traceback
        return _said(_defect(error), DEFECT)
    return 0


def _defect(error: Exception) -> str:
    """What an unforeseen error, or a library that is not there, means for whoever started this."""
    if isinstance(error, ModuleNotFoundError):
        return (
            f"tubing: the library {error.name!r} is missing; what pyproject.toml lists must be installed; run pip "
            "install -e . in the project's folder"
        )
    return (
        f"tubing: a defect of this program ({type(error).__name__} in {_place_of(error)}: {error}); it must not "
        "happen; please report it with the job file and the words of the command"
    )


def _write_anything() -> None:
    """Names are printed as typed; where the screen's encoding has no such letter, as its code.

    A stream that was closed before this process started takes what is written and loses it.
    """
    sys.stdout = sys.stdout or open(os.devnull, "w")  # noqa: SIM115
    sys.stderr = sys.stderr or open(os.devnull, "w")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def _told(error: TubingError) -> int:
    return _said(str(error), error.exit_status)


def _said(message: str, status: int) -> int:
    """One message, on one line of its own, and the status."""
    one_line = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in message)
    try:
        sys.stdout.flush()
        sys.stderr.write(f"{one_line}\n")
        sys.stderr.flush()
    except OSError:
        _close_quietly()
    return status


def _place_of(error: Exception) -> str:
    """Module and line where an unforeseen error arose."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    if trace is None:
        return "an unknown place"
    return f"{os.path.basename(trace.tb_frame.f_code.co_filename)}, line {trace.tb_lineno}"


def _close_quietly() -> None:
    """Whoever read our output has left: let Python find nothing to complain of when it ends."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:
            os.dup2(nowhere, stream.fileno())
