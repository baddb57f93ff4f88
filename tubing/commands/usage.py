"""What is wrong with the words of a command, in the words of this program."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from tubing.errors import JobError
from tubing.inputs.table_rows import near

HELP = "see tubing --help"


def usage_error(error: Any, commands: Sequence[str]) -> JobError:
    """typer's complaint as one of ours. ``error`` is known by its facts: their classes differ between releases."""
    context = getattr(error, "ctx", None)
    command = getattr(context, "info_name", None) or "tubing"
    message = str(getattr(error, "message", "")) or str(error.format_message())
    if getattr(error, "option_name", None) is not None:
        return _option(error, command, context)
    if getattr(error, "param", None) is not None:
        return _parameter(error, command, message)
    word = re.search(r"No such command '(.*?)'", message, re.S)
    if word:
        return JobError(
            "command", f"there is no {word[1]!r}", f"it must be one of {', '.join(commands)}", near(word[1], commands)
        )
    extra = re.search(r"unexpected extra arguments? \((.*)\)|unexpected extra argument\(s\) \((.*)\)", message, re.S)
    if extra:
        return JobError(
            command, f"{extra[1] or extra[2]!r} is one word too many", "it takes less", f"see tubing {command} --help"
        )
    return JobError(command, _lower(message), "its words must be as in its help", HELP)


def _option(error: Any, command: str, context: Any) -> JobError:
    option = str(error.option_name)
    if hasattr(error, "possibilities"):
        known = _options_of(context)
        return JobError(
            f"{command}, {option}",
            "there is no such option",
            f"it takes {', '.join(known)}",
            near(option, known),
        )
    if "does not take" in str(error.message):
        return JobError(f"option {option}", "it is given a value", "it must stand alone", HELP)
    return JobError(f"option {option}", "nothing follows it", "it must be followed by its value", HELP)


def _options_of(context: Any) -> list[str]:
    """The options of the command that the words are for."""
    if context is None:
        return ["--help"]
    return [name for p in context.command.get_params(context) for name in p.opts if name.startswith("--")]


def _parameter(error: Any, command: str, message: str) -> JobError:
    name = getattr(error.param, "metavar", None) or error.param.name
    if type(error).__name__ == "MissingParameter":
        return JobError(
            command, f"{name} is missing", "it must be given", f"see tubing {command} --help for how it is written"
        )
    return JobError(f"{command}, {name}", _lower(message), "it must be as in its help", f"see tubing {command} --help")


def _lower(message: str) -> str:
    """A foreign sentence as the middle of ours."""
    return f"{message[:1].lower()}{message[1:]}".rstrip(".")
