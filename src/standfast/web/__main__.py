"""`python -m standfast.web FOLDER HOST PORT`: serves until Ctrl-C; `standfast serve` starts it."""

from __future__ import annotations

import argparse
import asyncio
import gc
import json
import logging
import secrets
import socket
import sys
import time
from datetime import date, datetime, timezone
from pathlib import Path

import uvicorn
from uvicorn.logging import DefaultFormatter

from standfast.terminal import harmless
from standfast.web.patience import Patient

COULD_NOT = 2


def main() -> int:
    """Serves; 2 when it cannot."""
    parser = argparse.ArgumentParser(prog="python -m standfast.web")
    parser.add_argument("folder", type=Path)
    parser.add_argument("host")
    parser.add_argument("port", type=int)
    parser.add_argument("--on", type=date.fromisoformat)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--log", action="store_true")
    asked = parser.parse_args()
    gc.disable()  # until it serves: of what is loaded nothing goes, and looking takes an eighth
    try:
        listening = socket.create_server((asked.host, asked.port), backlog=2048)
    except OSError as error:
        _say(
            f"cannot listen on {asked.host}, port {asked.port} ({error.strerror}); choose another"
            " with --port\n"
        )
        return COULD_NOT
    address = f"http://{asked.host}:{listening.getsockname()[1]}"
    if asked.json:
        sys.stdout.write(json.dumps({"address": address}) + "\n")
        sys.stdout.flush()
    else:
        _say(f"serving {address}  (Ctrl-C ends it)\n")
    try:
        asyncio.run(server(asked.folder, asked.on, log=asked.log).serve(sockets=[listening]))
    except SystemExit:  # the book could not be opened, and the library under it said why
        return COULD_NOT
    except KeyboardInterrupt:
        _say("stopped\n")
    return 0


class _Server(uvicorn.Server):
    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        gc.freeze()
        gc.enable()


def server(folder: Path, on: date | None, *, log: bool = False) -> uvicorn.Server:
    """The server for the school in that folder: one process, since one writes.

    With `log` a line for each request goes to standard error.
    """
    from standfast.web.app import create_app
    from standfast.web.watch import Watch

    guarded = create_app(folder, _now, secrets.token_bytes, on)
    tell = _say if log else None
    made = _Server(
        uvicorn.Config(
            Watch(guarded, _now, time.perf_counter, secrets.token_bytes, tell),
            http=Patient,
            lifespan="on",
            log_level="warning",
            access_log=False,
            server_header=False,
            proxy_headers=True,  # of a proxy on this machine, which tells who really asked
            forwarded_allow_ips="127.0.0.1",
            timeout_keep_alive=15,
            timeout_graceful_shutdown=5,
            h11_max_incomplete_event_size=32_768,
        )
    )
    for handler in logging.getLogger("uvicorn").handlers:
        handler.setFormatter(_Harmless("%(levelprefix)s %(message)s", use_colors=False))
    return made


class _Harmless(DefaultFormatter):
    """What the library says, as all else that is written to a terminal."""

    def format(self, record: logging.LogRecord) -> str:
        return harmless(super().format(record))


def _say(text: str) -> None:
    sys.stderr.write(harmless(text))
    sys.stderr.flush()


def _now() -> datetime:
    return datetime.now(timezone.utc)


if __name__ == "__main__":
    sys.exit(main())
