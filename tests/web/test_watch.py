"""What whoever keeps the server sees: a line and a count for each request, nobody in them."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest
from tests.web.conftest import PASSWORD

SLUG, NUMBER = "ines-carvalho-teles", "LT1-2026-0001"
SECRETS = (PASSWORD, SLUG, NUMBER, "wrong-password-of-somebody", "nobody-of-that-login", "next=")


@dataclass
class Kept:
    """A server that is kept, its visitor, and what it wrote when it has ended."""

    visitor: httpx.Client
    said: str = ""

    @property
    def lines(self) -> list[dict[str, object]]:
        return [json.loads(line) for line in self.said.splitlines() if line.startswith("{")]


@contextmanager
def kept(school: Path, *more: str) -> Iterator[Kept]:
    command = [sys.executable, "-m", "standfast", "serve", "--port", "0", "--json", *more]
    with subprocess.Popen(
        command, cwd=school, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as server:
        assert server.stdout
        assert server.stderr
        address = json.loads(server.stdout.readline())["address"]
        transport = httpx.HTTPTransport(retries=5)
        with httpx.Client(base_url=address, transport=transport, timeout=30) as visitor:
            found = Kept(visitor)
            try:
                yield found
            finally:
                server.terminate()
                found.said = server.communicate(timeout=20)[1]


def test_a_line_for_each_request_tells_the_pattern_and_nothing_of_anybody(school: Path) -> None:
    with kept(school, "--log") as found:
        visitor = found.visitor
        wrong = {"login": "nobody-of-that-login", "password": "wrong-password-of-somebody"}
        visitor.post("/sign-in", data=wrong)
        door = visitor.post("/sign-in", data={"login": "office", "password": PASSWORD})
        cookie = door.headers["set-cookie"].partition(";")[0]
        visitor.headers["cookie"] = cookie
        person = visitor.get(f"/people/{SLUG}")
        paper = visitor.get(f"/certificates/{NUMBER}.pdf")
        visitor.get(f"/no/such/{SLUG}?next=/people/{SLUG}")
        visitor.get("/due", params={"span": "90d", "name": SLUG})

    shown = [(one["method"], one["route"], one["status"]) for one in found.lines]
    assert shown[0][:2] == ("POST", "/sign-in")
    assert ("GET", "/people/{slug}", 200) in shown
    assert ("GET", "/certificates/{number}.pdf", 200) in shown
    assert ("GET", "(none)", 404) in shown
    assert len(shown) == 6
    for secret in (*SECRETS, cookie.partition("=")[2]):
        assert secret not in found.said
    by_id = {one["request"]: one for one in found.lines}
    assert len(by_id) == 6
    line = by_id[person.headers["x-request-id"]]
    assert line["bytes"] == len(person.content) or person.headers.get("content-encoding")
    assert by_id[paper.headers["x-request-id"]]["bytes"] == len(paper.content)
    assert all(isinstance(one["ms"], float) and one["ms"] > 0 for one in found.lines)


def test_without_the_option_nothing_is_written(school: Path) -> None:
    with kept(school) as found:
        assert found.visitor.get("/health").headers["x-request-id"]

    assert found.said == ""


def test_counts_are_for_this_machine_alone(school: Path) -> None:
    with kept(school) as found:
        visitor = found.visitor
        for _ in range(3):
            visitor.get("/health")
        visitor.get(f"/people/{SLUG}")
        visitor.request("BREW", "/health")
        counts = visitor.get("/metrics")
        handed_on = visitor.get("/metrics", headers={"x-forwarded-for": "127.0.0.1"})
        forwarded = visitor.get("/metrics", headers={"forwarded": "for=127.0.0.1"})

    lines = dict(line.rsplit(" ", 1) for line in counts.text.splitlines() if line[0] != "#")
    assert counts.headers["content-type"].startswith("text/plain; version=0.0.4")
    assert lines['standfast_requests_total{method="GET",route="/health",status="200"}'] == "3"
    assert (
        lines['standfast_requests_total{method="GET",route="/people/{slug}",status="303"}'] == "1"
    )
    assert lines['standfast_requests_total{method="OTHER",route="/health",status="405"}'] == "1"
    assert lines['standfast_request_seconds_bucket{route="/health",le="+Inf"}'] == "4"
    assert float(lines['standfast_request_seconds_sum{route="/health"}']) > 0
    assert SLUG not in counts.text
    assert (handed_on.status_code, forwarded.status_code) == (404, 404)


def test_buckets_add_up() -> None:
    from standfast.web.watch import STEPS, Counts

    counts = Counts()
    for seconds in (0.001, 0.005, 0.006, 3.0, 99.0):
        counts.add("GET", "/", 200, seconds)
    told = [line for line in counts.text().splitlines() if "_bucket" in line]

    assert [line.rsplit(" ", 1)[1] for line in told] == ["2", "3", "3", "3", "3", "4", "5"]
    assert len(told) == len(STEPS) + 1


@pytest.mark.of_the_file(why="of PostgreSQL's errors tests/store/test_turns.py tells")
@pytest.mark.parametrize("column", ["name", "contact"])
def test_an_error_of_the_database_shows_nothing_of_a_row(school: Path, column: str) -> None:
    import sqlalchemy.exc
    from sqlalchemy import insert

    from standfast.store.sqlite import engine_for
    from standfast.store.tables import identity

    row = {"ref": "r", "handle": "h", "name": "n", "site": None, "salt": b"short"}
    engine = engine_for(school / "standfast.db")
    with engine.connect() as conn, pytest.raises(sqlalchemy.exc.IntegrityError) as told:
        conn.execute(insert(identity), row | {column: "Somebody Secret"})
    engine.dispose()

    assert "Somebody Secret" not in str(told.value)
