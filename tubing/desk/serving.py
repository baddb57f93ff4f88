"""The desk's life: a port of this machine alone, the address, and an end when nobody is there."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import time
from collections.abc import Callable
from pathlib import Path

import uvicorn

from tubing.desk.guard import Guard
from tubing.desk.job_folder import Folder
from tubing.desk.server import GONE_S, Desk, application

LOOPBACK = "127.0.0.1"


def serve(folder: Path, shop: Path | None, opened: Callable[[str], None], gone_s: float = GONE_S) -> None:
    """Serve until Ctrl-C, or until no page has been there for ``gone_s``. ``opened`` is told the address."""
    with contextlib.closing(socket.socket(socket.AF_INET, socket.SOCK_STREAM)) as listening:
        listening.bind((LOOPBACK, 0))
        port = int(listening.getsockname()[1])
        desk = Desk(Folder(folder), shop)
        guard = Guard(application(desk), port)
        settings = uvicorn.Config(
            guard, log_level="error", access_log=False, lifespan="on", server_header=False, ws="none"
        )
        server = uvicorn.Server(settings)

        async def run() -> None:
            task = asyncio.create_task(server.serve(sockets=[listening]))
            while not server.started and not task.done():
                await asyncio.sleep(0.01)
            if server.started:
                opened(guard.address)
            while not task.done():
                await asyncio.wait([task], timeout=1.0)
                if time.monotonic() - desk.alive_s > gone_s:
                    server.should_exit = True
            await task

        with contextlib.suppress(KeyboardInterrupt):
            asyncio.run(run())
