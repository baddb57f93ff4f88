"""What the page's server refuses before anything else: other hosts, other pages, no token, bodies too large.

After OWASP's sheets on cross-site requests, content policy and headers, and what is known of DNS rebinding: only the
page that this process has opened may talk to it.
"""

from __future__ import annotations

import hmac
import json
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LARGEST_BODY = 4_000_000  # bytes; no job is so long
SAFE = ("GET", "HEAD")
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'"
)
HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"cache-control", b"no-store"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)


class Guard:
    """Lets through what comes from our own page. The token is in the first address, then in a cookie."""

    def __init__(self, app: App, port: int) -> None:
        self.app, self.port = app, port
        self.token = secrets.token_urlsafe(24)
        self.cookie = f"desk-{port}"  # cookies do not tell ports apart
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}

    @property
    def address(self) -> str:
        """Where the page is opened."""
        return f"http://127.0.0.1:{self.port}/?token={self.token}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        heads = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        refused = self._refused(scope, heads)
        if refused is not None:
            await _answer(send, *refused)
            return
        given = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("token", [""])[0]
        if given and scope["path"] == "/" and scope["method"] == "GET":
            await self._welcome(given, send)
            return
        if not self._known(heads):
            await _answer(send, 403, "Another start of the desk opened this page: use the address that was printed.")
            return
        started = False

        async def noted(message: Message) -> None:
            nonlocal started
            started = started or message["type"] == "http.response.start"
            await send(message)

        try:
            await self.app(scope, _capped(receive), _with_headers(noted))
        except Exception as error:  # whatever it is, it is told on the page and not as a traceback in the terminal
            if not started:
                await _answer(send, 500, json.dumps({"error": defect(error)}), "application/json")

    def _refused(self, scope: Scope, heads: MutableMapping[str, str]) -> tuple[int, str] | None:
        if heads.get("host") not in self.hosts:
            return 403, "Another host was asked for."
        if scope["method"] in SAFE:
            return None
        origin = heads.get("origin")
        if origin not in {f"http://{host}" for host in self.hosts} or origin != f"http://{heads['host']}":
            return 403, "The request comes from another page."
        if heads.get("sec-fetch-site", "same-origin") != "same-origin":
            return 403, "The request comes from another site."
        if not heads.get("content-type", "").startswith("application/json"):
            return 415, "The request must be JSON."
        length = heads.get("content-length", "")
        if not length.isdecimal() or int(length) > LARGEST_BODY:
            return 413, "The request is too large, or does not say how large it is."
        return None

    def _known(self, heads: MutableMapping[str, str]) -> bool:
        try:
            cookies = SimpleCookie(heads.get("cookie", ""))
        except CookieError:
            return False
        given = cookies[self.cookie].value if self.cookie in cookies else ""
        return hmac.compare_digest(given.encode(), self.token.encode())

    async def _welcome(self, given: str, send: Send) -> None:
        """The token becomes a cookie, and the address is clean again."""
        if not hmac.compare_digest(given.encode(), self.token.encode()):
            await _answer(send, 403, "This address is of another start of the desk: use the one that was printed.")
            return
        cookie = f"{self.cookie}={self.token}; HttpOnly; SameSite=Strict; Path=/"
        headers = [(b"location", b"/"), (b"set-cookie", cookie.encode()), *HEADERS]
        await send({"type": "http.response.start", "status": 303, "headers": headers})
        await send({"type": "http.response.body", "body": b""})


def defect(error: Exception) -> str:
    """What an unforeseen error means for whoever sits before the page."""
    return f"A defect of this program ({type(error).__name__}: {error}); please report it with the job file."


async def _answer(send: Send, status: int, words: str, kind: str = "text/plain; charset=utf-8") -> None:
    headers = [(b"content-type", kind.encode()), *HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": words.encode()})


def _capped(receive: Receive) -> Receive:
    """A body that is longer than it said is cut off as a lost connection."""
    so_far = 0

    async def read() -> Message:
        nonlocal so_far
        message = await receive()
        so_far += len(message.get("body", b""))
        return {"type": "http.disconnect"} if so_far > LARGEST_BODY else message

    return read


def _with_headers(send: Send) -> Send:
    async def answer(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = list(message["headers"])
            if not any(name == b"content-security-policy" for name, _ in headers):
                headers.append((b"content-security-policy", POLICY.encode()))
            message = {**message, "headers": [*headers, *HEADERS]}
        await send(message)

    return answer
