"""The command that asks for a job: its talk with whoever sits at the keyboard, or with a pipe."""

from __future__ import annotations

import contextlib
import sys

from tubing.ask import ask_job
from tubing.commands.output import path_or_none
from tubing.inputs.shop_file import read_shop
from tubing.sheet.words import visible


class Keyboard:
    """Lines to the screen and from the keyboard, which may be a pipe."""

    def __init__(self) -> None:
        self.echoes = sys.stdin.isatty()  # what comes from a pipe shows on no screen, unless we repeat it
        if sys.stdin.isatty() and sys.stdout.isatty():
            with contextlib.suppress(ImportError):  # not on every system; then a line is edited with backspace alone
                import readline

                # It would show its own marks around each line to a screen that asked for nothing of the kind.
                readline.parse_and_bind("set enable-bracketed-paste off")

    def say(self, text: str) -> None:
        """Show lines; a name out of the shop's tables moves no cursor."""
        sys.stdout.write(visible(text, keep="\n") + "\n")

    def ask(self, prompt: str, fresh: bool = False) -> str:
        """What is typed. Raises EOFError and KeyboardInterrupt; the cursor is then on a line of its own.

        ``fresh``: what was typed at a keyboard before the prompt was shown does not count. A pipe keeps what it holds.
        """
        sys.stdout.flush()
        if fresh and self.echoes:
            _forget_typed_ahead()
        try:
            typed = input(prompt)
        except UnicodeDecodeError:
            return "\ufffd\x00"  # refused as no printable letter, and asked again
        except (EOFError, KeyboardInterrupt):
            self.say("")
            raise
        if not self.echoes:
            self.say(typed)
        return typed


def _forget_typed_ahead() -> None:
    """Drop what was typed and not read yet, where the system can."""
    with contextlib.suppress(ImportError, OSError):
        import termios

        termios.tcflush(sys.stdin, termios.TCIFLUSH)


def new_job(job: str | None, shop: str | None, *, pictures: bool) -> None:
    """``new``. Raises what reading the shop raises, and InterruptError when stopped."""
    ask_job(job, read_shop(path_or_none(shop)), Keyboard(), pictures)
