"""Connections that say their request too slowly are closed, so that they do not pile up.

The server by itself waits for the head of a request for ever; for the content `Guard` waits, and
between requests the server's own keep-alive.
"""

from __future__ import annotations

import asyncio
from typing import ClassVar

from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_SECONDS = 20.0
"""From the first byte of a request, or from connecting, to the end of its head: ours, no source."""
TOO_SLOW = b"HTTP/1.1 408 Request Timeout\r\nconnection: close\r\ncontent-length: 0\r\n\r\n"
"""RFC 9110, 15.5.9."""


class Patient(H11Protocol):
    """One connection, patient up to a point."""

    seconds: ClassVar[float] = HEAD_SECONDS
    _until: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begins to wait."""
        super().connection_made(transport)
        self._wait_or_not()

    def data_received(self, data: bytes) -> None:
        """Goes on waiting from the first byte, until the head is there."""
        super().data_received(data)
        self._wait_or_not()

    def connection_lost(self, exc: Exception | None) -> None:
        """There is nothing to wait for."""
        self._stop()
        super().connection_lost(exc)

    def _wait_or_not(self) -> None:
        if self.cycle is not None and not self.cycle.response_complete:
            self._stop()
        elif self._until is None:
            self._until = self.loop.call_later(self.seconds, self._too_slow)

    def _stop(self) -> None:
        if self._until is not None:
            self._until.cancel()
            self._until = None

    def _too_slow(self) -> None:
        if not self.transport.is_closing():
            self.transport.write(TOO_SLOW)
            self.transport.close()
