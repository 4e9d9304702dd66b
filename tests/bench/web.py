"""What the web server stands: batches from beside the mat, how soon it is there, what it keeps.

The client is raw sockets in one loop, since it shares the processors with the server.  Each wall
time has the processor's time beside it, which says as much when others use the machine.
"""

from __future__ import annotations

import asyncio
import json
import os
import secrets
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timezone
from http.client import HTTPConnection
from pathlib import Path

from tests.bench.measured import Row

from standfast.desk.access import add_account, begin_sign_in, sign_in
from standfast.desk.opening import Moment, open_desk
from standfast.web.visitor import COOKIE, cookie_text

CONNECTIONS, EACH, RECORDS, STARTS = 16, 75, 40, 7
ASSESSOR = "hana-dvorakova"
HOST = "127.0.0.1"
HEAVY = ("pandas", "scipy", "numpy", "weasyprint", "openpyxl")
KILOBYTES = 1024


def rows() -> Iterator[Row]:
    """Everything, on the small invented school."""
    with tempfile.TemporaryDirectory(dir=sys.prefix, prefix="bench-") as name:
        school, cookie = opened(Path(name))
        yield from started(school)
        with served(school) as server:
            yield from loaded(server, cookie)


@dataclass(frozen=True)
class Server:
    """A server of its own process."""

    process: int
    port: int


def opened(folder: Path) -> tuple[Path, str]:
    """The invented school in that folder, and the cookie of an assessor who is signed in."""
    command = [sys.executable, "-m", "standfast", "demo", "--small", "--out", str(folder)]
    subprocess.run(command, check=True, capture_output=True)
    now = datetime.now(timezone.utc)
    with open_desk(folder / "school", Moment(now, "bench", secrets.token_bytes)) as desk:
        add_account(desk, "hana", ["assessor"], "four plain words here", person=ASSESSOR)
        token = sign_in(desk, begin_sign_in(desk, "hana", HOST), matched=True)
    return folder / "school", f"{COOKIE}={cookie_text(token or b'')}"


@contextmanager
def served(school: Path) -> Iterator[Server]:
    """The school behind `python -m standfast.web`; ended with the block."""
    command = [sys.executable, "-m", "standfast.web", str(school), HOST, "0", "--json"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            line = process.stdout.readline() if process.stdout else ""
            yield Server(process.pid, int(json.loads(line)["address"].rpartition(":")[2]))
        finally:
            process.terminate()


# --- how soon it is there -----------------------------------------------------------------------


def started(school: Path) -> Iterator[Row]:
    """From the start of the process to the first answer; the first start, which compiles, apart."""
    both = [start_to_answer(school) for _ in range(STARTS + 1)][1:]
    took, used = ([one[part] for one in both] for part in (0, 1))
    detail = f"median of {STARTS}; {min(took):.2f} to {max(took):.2f}; {busy()}"
    yield Row("web: seconds from start to the first answer", statistics.median(took), 0.6, detail)
    detail = f"median of {STARTS}; {min(used):.2f} to {max(used):.2f}"
    yield Row("web: processor seconds of the same", statistics.median(used), 0.6, detail)


def busy() -> str:
    """How many others want the processors."""
    return f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()}"


def start_to_answer(school: Path) -> tuple[float, float]:
    """Seconds until /health answers 200, and of the processor until then."""
    began = time.perf_counter()
    with served(school) as server:
        # It listens before it is ready, so one request waits in line and nothing is asked twice.
        asked = HTTPConnection(HOST, server.port, timeout=30)
        asked.request("GET", "/health")
        if asked.getresponse().status != 200:
            raise SystemExit("the server started and does not answer")
        return time.perf_counter() - began, used(server.process)


# --- batches ------------------------------------------------------------------------------------


def loaded(server: Server, cookie: str) -> Iterator[Row]:
    """Batches over many connections at once, then what the process holds."""
    bodies = [
        [request(server.port, cookie, line * EACH + place) for place in range(EACH)]
        for line in range(CONNECTIONS)
    ]
    # The first batch builds what every later one uses: all connections would wait for that once.
    asyncio.run(sent(server.port, [[request(server.port, cookie, CONNECTIONS * EACH)]]))
    before, began = used(server.process), time.perf_counter()
    told = asyncio.run(sent(server.port, bodies))
    seconds = time.perf_counter() - began
    each = (used(server.process) - before) / len(told) * 1000
    waits = sorted(wait for wait, _ in told)
    wrong = sum(not ok for _, ok in told)
    of = f"{len(told)} batches of {RECORDS} records, {CONNECTIONS} connections"
    yield Row("web: batches in a second", len(told) / seconds, None, f"{of}; {busy()}", least=150)
    yield Row("web: ms of processor for a batch", each, 1000 / 150, "of the server")
    slow = waits[int(len(waits) * 0.99)] * 1000
    detail = f"half within {statistics.median(waits) * 1000:.0f} ms"
    yield Row("web: ms within which 99 in 100 are answered", slow, 250, detail)
    yield Row("web: batches not stored whole", wrong, 0, f"of {len(told)}")
    yield Row("web: MB of the server after it", memory(server.process), 80, "resident")
    found = heavy(server.process)
    detail = ", ".join(found) or f"none of {', '.join(HEAVY)}"
    yield Row("web: heavy packages loaded", len(found), 0, detail)


def request(port: int, cookie: str, number: int) -> bytes:
    """One sheet's first records, as a device sends them."""
    sheet, at = key(number, 0), "2026-11-24T10:00:00.000+01:00"
    begin = {
        "kind": "begin",
        "practical": f"bench-{number}",
        "rubric": "low-trapeze-1",
        "rubric_version": 1,
        "candidate": "ines-carvalho-teles",
        "assessor": ASSESSOR,
        "began": at,
        "students": [{"student": "S1", "log": {"long-hang": 5}}],
        "site": None,
        "covers": [],
    }
    tried = {"kind": "mark", "student": "S1", "skill": "long-hang", "criterion": "in-place"}
    bodies = [begin, *({**tried, "try": n, "t": n, "answer": "yes"} for n in range(1, RECORDS))]
    records = [
        {"id": key(number, n), "sheet": sheet, "n": n, "at": at, "body": body}
        for n, body in enumerate(bodies, 1)
    ]
    content = json.dumps({"records": records}).encode()
    head = (
        f"POST /api/records HTTP/1.1\r\nHost: {HOST}:{port}\r\nCookie: {cookie}\r\n"
        f"Content-Type: application/json\r\nContent-Length: {len(content)}\r\n\r\n"
    )
    return head.encode() + content


def key(number: int, n: int) -> str:
    """An id of its own."""
    return f"01a1471c-3e00-7a11-8b42-{number * 100 + n:012x}"


async def sent(port: int, bodies: list[list[bytes]]) -> list[tuple[float, bool]]:
    """Seconds that each waited and whether all of it was stored; each list on its connection."""
    told = await asyncio.gather(*(one_connection(port, each) for each in bodies))
    return [one for each in told for one in each]


async def one_connection(port: int, requests: list[bytes]) -> list[tuple[float, bool]]:
    """One after the other, each after the answer to the one before."""
    reader, writer = await asyncio.open_connection(HOST, port)
    found = []
    for one in requests:
        began = time.perf_counter()
        writer.write(one)
        head = await reader.readuntil(b"\r\n\r\n")
        size = int(head.lower().partition(b"content-length: ")[2].split(b"\r\n", 1)[0])
        content = await reader.readexactly(size)
        whole = head.startswith(b"HTTP/1.1 200 ") and content.count(b'"stored"') == RECORDS
        found.append((time.perf_counter() - began, whole))
    writer.close()
    return found


# --- the process --------------------------------------------------------------------------------


def used(process: int) -> float:
    """Seconds of the processor, to a hundredth."""
    stat = Path(f"/proc/{process}/stat")
    if stat.exists():
        user, system = stat.read_text("ascii").rpartition(")")[2].split()[11:13]
        return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")
    asked = ["ps", "-o", "cputime=", "-p", str(process)]
    said = subprocess.run(asked, capture_output=True, check=True, text=True).stdout
    parts = [float(part) for part in said.split(":")]
    return sum(part * 60.0**n for n, part in enumerate(reversed(parts)))


def memory(process: int) -> float:
    """Megabytes in memory."""
    asked = ["ps", "-o", "rss=", "-p", str(process)]
    return int(subprocess.run(asked, capture_output=True, check=True).stdout) / KILOBYTES


def heavy(process: int) -> list[str]:
    """Which heavy packages it has loaded since; by its open libraries, where the system tells."""
    maps = Path(f"/proc/{process}/maps")
    there = maps.read_text("utf-8") if maps.exists() else ""
    return [name for name in HEAVY if f"/site-packages/{name}" in there]
