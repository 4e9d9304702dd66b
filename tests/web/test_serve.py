"""`standfast serve` as a person starts it."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from standfast.desk.opening import where_the_book_is
from standfast.store.connect import open_book


@pytest.mark.parametrize("ended_by", [signal.SIGINT, signal.SIGTERM])
def test_it_serves_until_it_is_ended(school: Path, ended_by: signal.Signals) -> None:
    command = [sys.executable, "-m", "standfast", "serve", "--port", "0", "--json"]
    with subprocess.Popen(
        command, cwd=school, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as server:
        assert server.stdout
        address = json.loads(server.stdout.readline())["address"]
        transport = httpx.HTTPTransport(retries=5)
        with httpx.Client(base_url=address, transport=transport, timeout=30) as visitor:
            assert visitor.get("/health").json() == {"standfast": "answers"}
            assert visitor.get("/").headers["location"].startswith("/sign-in")
        server.send_signal(ended_by)
        server.wait(20)

        assert "Traceback" not in (server.stderr.read() if server.stderr else "")
    with open_book(where_the_book_is(school)) as book:
        assert book.audit().faults == []


def test_what_stops_the_server_moves_no_cursor(tmp_path: Path) -> None:
    nowhere = tmp_path / "no\x1b[2J\x9b1A \u202eschool"
    command = [sys.executable, "-m", "standfast.web", str(nowhere), "127.0.0.1", "0"]
    done = subprocess.run(command, capture_output=True, check=False, encoding="utf-8")

    assert (done.returncode, "no school lives in this folder" in done.stderr) == (2, True)
    assert "[2J" in done.stderr
    assert not {"\x1b", "\x9b", "\u202e"} & set(done.stdout + done.stderr)


def test_the_pages_load_neither_pandas_nor_the_printing() -> None:
    probe = (
        "import sys; import standfast.web.__main__, standfast.web.app, standfast.store.connect;"
        "print(*[m for m in ('pandas', 'weasyprint', 'scipy', 'openpyxl') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == ""
