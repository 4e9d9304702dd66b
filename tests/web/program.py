"""The server as `standfast serve` starts it, a program of its own on a port of this machine."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import httpx
from tests.web.load import DAY, PATIENCE


@dataclass
class Program:
    """The server as a program of its own, always on the same port."""

    folder: Path
    port: int = 0
    process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        if not self.port:
            with closing(socket.create_server(("127.0.0.1", 0))) as free:
                self.port = free.getsockname()[1]
        command = [sys.executable, "-m", "standfast.web", str(self.folder), "127.0.0.1"]
        self.process = subprocess.Popen(
            [*command, str(self.port), "--on", DAY, "--json"], stdout=subprocess.DEVNULL
        )

    def kill(self) -> None:
        assert self.process
        self.process.send_signal(signal.SIGKILL)
        ended = self.process.wait(PATIENCE)
        assert ended == -signal.SIGKILL, f"the server ended by itself, with {ended}"

    def answers(self) -> None:
        """Waits until the server answers."""
        given_up = time.monotonic() + PATIENCE
        while True:
            try:
                assert httpx.get(f"{self.address}/health").status_code == 200
            except httpx.TransportError:
                assert time.monotonic() < given_up, "the server does not come back"
                time.sleep(0.05)
            else:
                return
