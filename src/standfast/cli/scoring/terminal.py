"""Keyboard and screen, with nothing a plain terminal lacks; also a pipe."""

from __future__ import annotations

import os
import select
import sys
import time
from typing import TextIO

from standfast.terminal import harmless

LONGEST = 65_536
"""Bytes of one line that are kept; the rest of a longer one is dropped."""


class Terminal:
    """Asks on one stream and shows on another."""

    def __init__(self, keys: TextIO = sys.stdin, screen: TextIO = sys.stdout) -> None:
        self._handle, self._screen = keys.fileno(), screen
        self._person = keys.isatty()
        self._waiting = b""

    def say(self, text: str) -> None:
        """Shows text, without what a terminal would obey."""
        self._screen.write(f"{harmless(text)}\n")
        self._screen.flush()

    def ask(self, prompt: str, seconds: float | None = None, /) -> str | None:
        """The line typed, without its end; None when so many seconds went by first.

        Raises:
            EOFError: there is no more; a last line without its end may be cut and is not used.
            KeyboardInterrupt: Ctrl-C.
        """
        self._screen.write(harmless(prompt))
        self._screen.flush()
        line = self._line(seconds)
        if line is not None and not self._person:
            self.say(line)
        return line

    def _line(self, seconds: float | None) -> str | None:
        until = None if seconds is None else time.monotonic() + seconds
        while b"\n" not in self._waiting:
            left = None if until is None else max(until - time.monotonic(), 0)
            if not select.select([self._handle], [], [], left)[0]:
                return None
            read = os.read(self._handle, 4096)
            if not read:
                raise EOFError
            self._waiting = self._waiting[:LONGEST] + read
        line, _, self._waiting = self._waiting.partition(b"\n")
        return line.decode("utf-8", errors="surrogateescape")
