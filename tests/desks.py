"""A desk that is really served, in a process of its own, on a folder of a test's own."""

from __future__ import annotations

import http.client
import json
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import tubing

ROOT = Path(tubing.__file__).parent.parent
STARTS_S = 30.0


class Served:
    """Its address, and requests to it with whatever heads a test wants."""

    def __init__(self, process: subprocess.Popen[str], address: str) -> None:
        self.process, self.address = process, address
        self.token = address.split("token=")[1]
        self.port = int(address.split(":")[2].split("/")[0])

    @property
    def ours(self) -> dict[str, str]:
        """The heads that our own page sends."""
        return {
            "Host": f"127.0.0.1:{self.port}",
            "Origin": f"http://127.0.0.1:{self.port}",
            "Cookie": f"desk-{self.port}={self.token}",
            "Content-Type": "application/json",
        }

    def ask(
        self, method: str, path: str, body: Any = None, heads: dict[str, str | None] | None = None
    ) -> tuple[int, dict[str, str], str]:
        """Status, heads and text of an answer. ``heads``: to be sent besides; None takes one away."""
        sent = {name: value for name, value in {**self.ours, **(heads or {})}.items() if value is not None}
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            raw = body if isinstance(body, bytes) or body is None else json.dumps(body).encode()
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in sent.items():
                connection.putheader(name, value)
            if raw is not None and "Content-Length" not in sent:
                connection.putheader("Content-Length", str(len(raw)))
            connection.endheaders(raw)
            answer = connection.getresponse()
            found = {name.lower(): value for name, value in answer.getheaders()}
            return answer.status, found, answer.read().decode("utf-8")
        finally:
            connection.close()

    def post(self, path: str, body: Any) -> tuple[int, dict[str, Any]]:
        """Status and data of a request as our own page makes it."""
        status, _, text = self.ask("POST", path, body)
        return status, json.loads(text) if text.startswith("{") else {}


@contextmanager
def served(folder: Path, *more: str) -> Iterator[Served]:
    """The command ``desk`` on a folder, ended afterwards."""
    words = [sys.executable, str(ROOT / "cli.py"), "desk", str(folder), "--no-browser", *more]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    try:
        assert process.stdout is not None
        started = time.monotonic()
        line = process.stdout.readline()
        assert "http://127.0.0.1:" in line, line
        assert time.monotonic() - started < STARTS_S
        yield Served(process, line.split()[-1])
    finally:
        process.kill()
        process.wait()
        if process.stdout is not None:
            process.stdout.close()
