"""What every answer carries, and what is let in: one layer around the application.

Forms carry no token of their own, since the page beside the mat is kept for days and would bring a
stale one.  A request that changes something must come from our own pages, and the browser says so:
Fetch Metadata (W3C), or the Origin header (RFC 6454) of browsers that do not send it.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from fastapi import FastAPI
    from starlette.responses import Response

Scope: TypeAlias = MutableMapping[str, Any]
Message: TypeAlias = MutableMapping[str, Any]
Receive: TypeAlias = Callable[[], Awaitable[Message]]
Send: TypeAlias = Callable[[Message], Awaitable[None]]

RULES = (
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self' data:",
    "connect-src 'self'",
    "worker-src 'self'",
    "manifest-src 'self'",
    "font-src 'self'",
    "form-action 'self'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
    "require-trusted-types-for 'script'",
    "trusted-types sw",
)
POLICY = "; ".join(RULES)
"""Content Security Policy (W3C): nothing from elsewhere, nothing inline."""

HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), screen-wake-lock=(self)",
    "cache-control": "no-store",
}
"""On every answer that does not say otherwise itself."""

SECURE = ("strict-transport-security", "max-age=31536000")

READS = {"GET", "HEAD", "OPTIONS"}
MOST_BYTES = 1 << 20
MOST_UPLOADED = 2 << 20
UPLOADS = ("/people/import", "/book/copies")
"""Where files are sent to."""
SLOWEST_SECONDS = 30.0
"""By when a request's content must be here."""


ELSEWHERE = "this was sent from another site; open our page and send it"


class Guard:
    """The application with headers on its answers, and a door; around everything, faults too."""

    def __init__(
        self,
        app: FastAPI,
        page: Callable[[Scope, int, str], Response] | None = None,
        *,
        slowest: float = SLOWEST_SECONDS,
    ) -> None:
        """`page` says to a person, with a status, why a request is not let in."""
        self.app = app
        self._page = page
        self._slowest = slowest

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        send = _with_headers(send, secure=scope["scheme"] == "https")
        if scope["method"] not in READS and not comes_from_here(scope):
            await self._refuse(scope, send, 403, ELSEWHERE)
            return
        try:
            body = await self._whole(scope, receive)
        except _TooLarge:
            await self._refuse(scope, send, 413, "more was sent than is taken at once")
        except TimeoutError:
            await self._refuse(scope, send, 408, "it took too long to arrive; send it again")
        else:
            if body is not None:
                await self.app(scope, _again(body, receive), send)

    async def _refuse(self, scope: Scope, send: Send, status: int, words: str) -> None:
        """A script is told in JSON, as by the application; a person on a page."""
        if self._page is None or scope["path"].startswith("/api/"):
            content = json.dumps({"error": words}).encode()
            headers = [
                (b"content-type", b"application/json"),
                (b"content-length", str(len(content)).encode()),
            ]
            await send({"type": "http.response.start", "status": status, "headers": headers})
            await send({"type": "http.response.body", "body": content})
        else:
            await self._page(scope, status, words)(scope, _nothing, send)

    async def _whole(self, scope: Scope, receive: Receive) -> bytes | None:
        """The content of the request; None when whoever sent it went away."""
        most = MOST_UPLOADED if scope["path"] in UPLOADS else MOST_BYTES
        declared = _header(scope, b"content-length")
        if declared and (not declared.isdigit() or int(declared) > most):
            raise _TooLarge
        parts: list[bytes] = []
        length = 0
        async with asyncio.timeout(self._slowest):
            while True:
                message = await receive()
                if message["type"] == "http.disconnect":
                    return None
                parts.append(message.get("body", b""))
                length += len(parts[-1])
                if length > most:
                    raise _TooLarge
                if not message.get("more_body"):
                    return b"".join(parts)


class _TooLarge(Exception):  # noqa: N818 - never seen outside
    pass


def comes_from_here(scope: Scope) -> bool:
    """Whether a request that changes something was made by one of our own pages, or by no page."""
    site = _header(scope, b"sec-fetch-site")
    if site:
        return site in {"same-origin", "none"}
    origin = _header(scope, b"origin")
    return not origin or origin.partition("://")[2] == _header(scope, b"host")


def _header(scope: Scope, name: bytes) -> str:
    found: Iterable[bytes] = (value for key, value in scope["headers"] if key == name)
    return next(iter(found), b"").decode("latin-1")


def _again(body: bytes, receive: Receive) -> Receive:
    """A way to receive what was received already, then whatever comes."""
    waiting: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def next_message() -> Message:
        return waiting.pop() if waiting else await receive()

    return next_message


def _with_headers(send: Send, *, secure: bool) -> Send:
    wanted = {**HEADERS, **(dict([SECURE]) if secure else {})}

    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            there = {key for key, _ in message["headers"]}
            more = [(k.encode(), v.encode()) for k, v in wanted.items() if k.encode() not in there]
            message = {**message, "headers": [*message["headers"], *more]}
        await send(message)

    return with_headers


async def _nothing() -> Message:
    return {"type": "http.disconnect"}
