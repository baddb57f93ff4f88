"""A process that is killed at the one step that puts a file in place."""

import os
import signal
from collections.abc import Callable


def killed_while_it_replaces(work: Callable[[], object], when: str) -> bool:
    """Do some work in a child process that dies "before" or "after" its first replacing of a file; whether it died."""
    child = os.fork()
    if child == 0:
        real = os.replace

        def dying(source: str, target: str) -> None:
            if when == "after":
                real(source, target)
            os.kill(os.getpid(), signal.SIGKILL)

        os.replace = dying
        try:
            work()
        finally:
            os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])
