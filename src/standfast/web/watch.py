"""What whoever keeps the server sees of it: a line for each request, and counts of them.

Neither tells what was asked about or by whom: the pattern of an address stands in place of the
address, and no content, cookie, query or name is ever looked at.  Each answer carries the id of its
line (X-Request-Id), so that somebody who reports a fault can name it.

Source: the counts are in the Prometheus text format, version 0.0.4.
"""

from __future__ import annotations

import json
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import datetime
from http import HTTPStatus
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from standfast.web.guard import Guard, Message, Receive, Scope, Send

COUNTS = "/metrics"
"""Where the counts are, for programs on this machine alone."""
NO_ROUTE = "(none)"
STEPS = (0.005, 0.02, 0.1, 0.5, 2.0, 10.0)
"""Seconds by which an answer was there."""
HERE = {"127.0.0.1", "::1"}
KIND = b"text/plain; version=0.0.4; charset=utf-8"


class Watch:
    """The guarded application, watched.

    `tell` takes a line of JSON for each request, or is None; `ticks` are seconds that only grow.
    """

    def __init__(
        self,
        app: Guard,
        now: Callable[[], datetime],
        ticks: Callable[[], float],
        random: Callable[[int], bytes],
        tell: Callable[[str], object] | None = None,
    ) -> None:
        self.app = app
        self._now, self._ticks, self._random, self._tell = now, ticks, random, tell
        self._counts = Counts()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        if scope["path"] == COUNTS and _from_this_machine(scope):
            await _answer(send, self._counts.text())
            return
        seen = _Seen(self._random(8).hex())
        began, at = self._ticks(), self._now()
        fault = ""
        try:
            await self.app(scope, receive, seen.sending(send))
        except Exception as error:
            fault = type(error).__name__
            raise
        finally:
            took, route = self._ticks() - began, _pattern(scope)
            self._counts.add(str(scope["method"]), route, seen.status, took)
            if self._tell is not None:
                line = {
                    "at": at.isoformat(timespec="milliseconds"),
                    "request": seen.id,
                    "method": scope["method"],
                    "route": route,
                    "status": seen.status,
                    "bytes": seen.length,
                    "ms": round(took * 1000, 1),
                    **({"fault": fault} if fault else {}),
                }
                self._tell(json.dumps(line) + "\n")


class _Seen:
    """What was seen of an answer on its way out."""

    def __init__(self, number: str) -> None:
        self.id = number
        self.status, self.length = 0, 0

    def sending(self, send: Send) -> Send:
        async def onward(message: Message) -> None:
            if message["type"] == "http.response.start":
                self.status = message["status"]
                headers = [*message["headers"], (b"x-request-id", self.id.encode())]
                message = {**message, "headers": headers}
            elif message["type"] == "http.response.body":
                self.length += len(message.get("body", b""))
            await send(message)

        return onward


class Counts:
    """How many requests there were, by pattern, and by when they were answered."""

    def __init__(self) -> None:
        self._requests: Counter[tuple[str, str, int]] = Counter()
        self._by: Counter[tuple[str, int]] = Counter()
        self._seconds: dict[str, float] = {}

    def add(self, method: str, route: str, status: int, seconds: float) -> None:
        """One more.  A status of 0 is an answer that never began."""
        known = method if method in KNOWN else "OTHER"  # else a stranger could fill the memory
        self._requests[known, route, status] += 1
        self._by[route, bisect_left(STEPS, seconds)] += 1
        self._seconds[route] = self._seconds.get(route, 0.0) + seconds

    def text(self) -> str:
        """All of them."""
        return "\n".join([*self._lines(), ""])

    def _lines(self) -> Iterator[str]:
        yield "# HELP standfast_requests_total Requests, by the pattern of their address."
        yield "# TYPE standfast_requests_total counter"
        for (method, route, status), count in sorted(self._requests.items()):
            labels = f'method="{method}",route="{route}",status="{status}"'
            yield f"standfast_requests_total{{{labels}}} {count}"
        yield "# HELP standfast_request_seconds How long answers took."
        yield "# TYPE standfast_request_seconds histogram"
        for route in sorted(self._seconds):
            total = 0
            for step, bound in enumerate((*STEPS, "+Inf")):
                total += self._by[route, step]
                labels = f'route="{route}",le="{bound}"'
                yield f"standfast_request_seconds_bucket{{{labels}}} {total}"
            yield f'standfast_request_seconds_sum{{route="{route}"}} {self._seconds[route]:.6f}'
            yield f'standfast_request_seconds_count{{route="{route}"}} {total}'


KNOWN = {"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"}


def _pattern(scope: Scope) -> str:
    """The pattern of the address, such as /people/{slug}; what is at none of ours has none."""
    route: Any = scope.get("route")
    path = getattr(route, "path", None)
    return str(path) if path else NO_ROUTE


def _from_this_machine(scope: Scope) -> bool:
    """Whether no proxy handed it on for somebody else."""
    host, _ = scope.get("client") or ("", 0)
    names = {name for name, _ in scope["headers"]}
    return host in HERE and not names & {b"x-forwarded-for", b"forwarded"}


async def _answer(send: Send, text: str) -> None:
    content = text.encode()
    headers = [(b"content-type", KIND), (b"content-length", str(len(content)).encode())]
    start = {"type": "http.response.start", "status": HTTPStatus.OK, "headers": headers}
    await send(start)
    await send({"type": "http.response.body", "body": content})
