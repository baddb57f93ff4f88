"""The process that looks: planning never holds up the page, and a look that is out of date is given up."""

from __future__ import annotations

import asyncio
import multiprocessing
import time
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from msgspec import Struct

from tubing.desk.guard import defect
from tubing.desk.looking import Look, Task, look

PATIENCE_S = 1.0  # how long a look may go on once a newer one waits
LOOK_EVERY_S = 0.01
DIED = "The planning has ended by itself, perhaps for want of memory. Change a value to plan again."


def serve(pipe: Connection) -> None:
    """The process's life: a task comes, its look goes."""
    while True:
        try:
            task = pipe.recv()
        except (EOFError, KeyboardInterrupt):
            return
        try:
            found = look(task)
        except KeyboardInterrupt:
            return
        except Exception as error:  # whatever it is, the page must say it and go on
            found = Look(error=defect(error), said=defect(error))
        pipe.send(found)


class _Process(Struct):
    process: BaseProcess
    pipe: Connection


def _begun() -> _Process:
    # Forked from a process with threads a child may hang; a new one starts clean.
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=serve, args=(theirs,), daemon=True)
    process.start()
    theirs.close()
    return _Process(process, ours)


class Looker:
    """Looks at one task after the other; of those that wait only the newest is looked at."""

    def __init__(self) -> None:
        self._lock = asyncio.Lock()
        self._newest = 0
        self._stopped = False
        self._now, self._spare = _begun(), _begun()

    async def look(self, task: Task) -> Look | None:
        """What the page shows, also where the process has died; None: a newer task has come, or it was stopped."""
        self._newest += 1
        mine = self._newest
        async with self._lock:
            if mine != self._newest:
                return None
            self._stopped = False
            try:
                return await self._waited_for(task, mine)
            except (EOFError, OSError):  # its end of the pipe is closed
                self._give_up()
                return Look(error=DIED, said=DIED)

    async def _waited_for(self, task: Task, mine: int) -> Look | None:
        """The look of the process; None: it was given up. Raises EOFError or OSError where the process has died."""
        started = time.monotonic()
        self._now.pipe.send(task)
        while not self._now.pipe.poll():
            waited_s = time.monotonic() - started
            if self._stopped or (mine != self._newest and waited_s > PATIENCE_S):
                self._give_up()
                return None
            if not self._now.process.is_alive() and not self._now.pipe.poll():
                raise EOFError
            await asyncio.sleep(LOOK_EVERY_S)
        found: Look = self._now.pipe.recv()
        return found

    def stop(self) -> None:
        """Give up what is being looked at."""
        self._stopped = True

    def _give_up(self) -> None:
        """End the process; another one is ready."""
        self._now.process.kill()
        self._now.pipe.close()
        self._now, self._spare = self._spare, _begun()

    def close(self) -> None:
        """End both processes."""
        for each in (self._now, self._spare):
            each.process.kill()
            each.process.join()
            each.pipe.close()
