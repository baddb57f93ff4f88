"""What is wrong with the words of a command, in the words of this program."""

from __future__ import annotations

from typing import Any

from typer.core import TyperCommand, TyperGroup

from tubing.errors import JobError
from tubing.inputs.table_rows import near

HELP = "see tubing --help"


class Commands(TyperGroup):
    """The program's commands; an unknown one is told with the nearest."""

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """The command that the first word names. Raises JobError where there is none."""
        names = self.list_commands(ctx)
        if args[0] not in names:
            raise JobError(
                "command", f"there is no {args[0]!r}", f"it must be one of {', '.join(names)}", near(args[0], names)
            )
        return super().resolve_command(ctx, args)


class Command(TyperCommand):
    """One command; words beyond those that it takes are told."""

    allow_extra_args = True

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """The words into the command's parameters. Raises JobError for a word too many."""
        left = super().parse_args(ctx, args)
        if left:
            command = called(ctx)
            words = " ".join(left)
            raise JobError(
                command,
                f"{words!r} is {'one word' if len(left) == 1 else f'{len(left)} words'} too many",
                "it takes less",
                f"see tubing {command} --help",
            )
        return left


def called(context: Any) -> str:
    """A command as it is typed after ``tubing``, such as ``shelf add``; ``tubing`` for the program itself."""
    return str(context.command_path).removeprefix("tubing ")


def usage_error(error: Any) -> JobError:
    """typer's complaint as one of ours. ``error`` is known by its facts: their classes differ between releases."""
    context = getattr(error, "ctx", None)
    command = "tubing" if context is None else called(context)
    if getattr(error, "option_name", None) is not None:
        return _option(error, command, context)
    if getattr(error, "param", None) is not None:
        return _parameter(error, command)
    return JobError(command, _lower(str(error.format_message())), "its words must be as in its help", HELP)


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
    if "does not take" in str(error.message):  # the parser tells neither the command nor the kind of option
        return JobError(f"option {option}", "it is given a value", "it must stand alone", HELP)
    return JobError(f"option {option}", "nothing follows it", "it must be followed by its value", HELP)


def _options_of(context: Any) -> list[str]:
    """The options of the command that the words are for."""
    if context is None:
        return ["--help"]
    return [name for p in context.command.get_params(context) for name in p.opts if name.startswith("--")]


def _parameter(error: Any, command: str) -> JobError:
    name = getattr(error.param, "metavar", None) or error.param.name
    if type(error).__name__ == "MissingParameter":
        return JobError(
            command, f"{name} is missing", "it must be given", f"see tubing {command} --help for how it is written"
        )
    return JobError(
        f"{command}, {name}", _lower(str(error.message)), "it must be as in its help", f"see tubing {command} --help"
    )


def _lower(message: str) -> str:
    """A foreign sentence as the middle of ours."""
    return f"{message[:1].lower()}{message[1:]}".rstrip(".")
