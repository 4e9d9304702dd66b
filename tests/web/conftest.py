"""The invented school behind a server of its own, and visitors to it."""

from __future__ import annotations

import json
import re
import secrets
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, timezone
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn
from sqlalchemy import select
from tests.schools import copied
from tests.store.cluster import KEEPER, OWNER, Cluster

from standfast.cli.app import run
from standfast.desk.access import add_account
from standfast.desk.opening import BOOK_FILE, Moment, open_desk, where_the_book_is
from standfast.model.account import Role
from standfast.store.connect import open_book
from standfast.store.tables import records
from standfast.web.app import create_app
from standfast.web.visitor import COOKIE

NOW = datetime(2026, 11, 24, 9, tzinfo=timezone.utc)
TODAY = date(2026, 11, 24)
PASSWORD = "four plain words here"  # noqa: S105 - of invented accounts
PEOPLE: dict[str, tuple[str | None, tuple[Role, ...]]] = {
    "hana": ("hana-dvorakova", ("assessor",)),
    "leilani": ("leilani-kahananui", ("assessor",)),
    "marit": ("marit-solheim-aune", ("certifier",)),
    "lead": (None, ("lead",)),
    "office": (None, ("office",)),
    "reader": (None, ("reader",)),
    "all": ("tendai-mukwashi", ("assessor", "certifier", "lead", "office", "reader")),
}
"""Login to person and roles; each has the same password."""

NO_PAGE = re.compile(r"\.(?:pdf|csv|xlsx|ics|css|svg|js|webmanifest)\b")
MOST_OF_A_KIND = 12
"""Pages of one kind, such as people; others are made from the same template."""


@dataclass
class Clock:
    """The server's clock, which a test can turn."""

    now: datetime = NOW

    def __call__(self) -> datetime:
        return self.now

    def later(self, **by: float) -> None:
        """Goes on by so much."""
        self.now += timedelta(**by)


@dataclass
class Served:
    """A school that is served."""

    folder: Path
    address: str
    clock: Clock = field(default_factory=Clock)
    visitors: list[httpx.Client] = field(default_factory=list)

    def visitor(self, login: str | None = None) -> httpx.Client:
        """A browser of sorts; signed in when a login is named."""
        client = httpx.Client(base_url=self.address, timeout=30)
        self.visitors.append(client)
        if login is not None:
            form = {"login": login, "password": PASSWORD}
            answer = client.post("/sign-in", data=form)
            assert answer.status_code == 303, answer.text
            client.headers["cookie"] = answer.headers["set-cookie"].partition(";")[0]
        return client


def hidden(page: str, action: str) -> dict[str, str]:
    """The fields that the form of that action carries unseen, as the page has them."""
    (form,) = re.findall(rf'<form[^>]* action="{re.escape(action)}".*?</form>', page, re.DOTALL)
    fields = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form)
    return {name: unescape(value) for name, value in fields}


def filled_in(
    visitor: httpx.Client,
    page: str,
    action: str = "",
    *,
    files: Any = None,  # noqa: ANN401 - as httpx has it
    **fields: str,
) -> httpx.Response:
    """The answer to the form of that action (of the page's own address, when not named)."""
    form = hidden(visitor.get(page).text, action or page)
    return visitor.post(action or page, data={**form, **fields}, files=files)


def reached(got: Callable[[str], str]) -> Iterator[tuple[str, str]]:
    """Address and text of the pages that are reached from the first one, as they are `got`.

    Of a kind of pages the longest addresses come first: a long name is in them, and is wide.
    """
    waiting, seen, kinds = ["/"], {"/"}, dict[str, int]()
    while waiting:
        address = waiting.pop(0)
        kind = re.sub(r"(?<=.)/[^/?]+$|\?.*", "", address)
        kinds[kind] = kinds.get(kind, 0) + 1
        if kinds[kind] > MOST_OF_A_KIND:
            continue
        page = got(address)
        yield address, page
        links = {unescape(link) for link in re.findall(r'href="(/[^"#]*)', page)} - seen
        seen |= links
        there = [link for link in links if not NO_PAGE.search(link)]
        waiting += sorted(there, key=lambda link: (-len(link), link))


def token_of(client: httpx.Client) -> str:
    """The session's token, as the cookie has it."""
    return client.headers["cookie"].removeprefix(f"{COOKIE}=")


@pytest.fixture(scope="session")
def accounts_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small invented school, lived through, with an account of each kind."""
    out = tmp_path_factory.mktemp("web") / "out"
    assert run(["demo", "--small", "--out", str(out)]) == 0
    with open_desk(out / "school", Moment(NOW, "test", secrets.token_bytes)) as desk:
        for login, (person, roles) in PEOPLE.items():
            add_account(desk, login, roles, PASSWORD, person=person)
    return out / "school"


@contextmanager
def served(folder: Path, clock: Clock, port: int = 0) -> Iterator[Served]:
    """The school of that folder behind a server in a thread, on a port of this machine."""
    listening = socket.create_server(("127.0.0.1", port))
    app = create_app(folder, clock, secrets.token_bytes)
    config = uvicorn.Config(app, log_level="warning", access_log=False, lifespan="on")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive(), "the server did not start"
        time.sleep(0.01)
    house = Served(folder, f"http://127.0.0.1:{listening.getsockname()[1]}", clock)
    try:
        yield house
    finally:
        for visitor in house.visitors:
            visitor.close()
        server.should_exit = True
        thread.join(10)


@pytest.fixture
def school(tmp_path: Path, accounts_made: Path) -> Path:
    """A copy of the school's folder for one test."""
    return copied(accounts_made, tmp_path / "school")


def move_to(cluster: Cluster, folder: Path) -> None:
    """Moves the school's book into a database of its own, unless it is in one already."""
    if not (folder / BOOK_FILE).exists():
        return
    owner = cluster.address(OWNER, cluster.new_database())
    assert run(["book", "move", owner, "--role", KEEPER, "--school", str(folder)]) == 0


@pytest.fixture
def house(school: Path) -> Iterator[Served]:
    """The school, served, for one test that changes something."""
    with served(school, Clock()) as found:
        yield found


@pytest.fixture(scope="session")
def reading_house(
    tmp_path_factory: pytest.TempPathFactory, accounts_made: Path
) -> Iterator[Served]:
    """The school, served, for tests that only read."""
    folder = copied(accounts_made, tmp_path_factory.mktemp("read") / "school")
    with served(folder, Clock()) as found:
        yield found


@dataclass
class Sent:
    """What the server keeps of what was sent, read beside it."""

    folder: Path

    @property
    def records(self) -> dict[str, dict[str, Any]]:
        """Every record by its id."""
        columns = (records.c.id, records.c.sheet, records.c.n, records.c.body)
        with open_book(where_the_book_is(self.folder)) as book, book._reading() as reading:
            rows = reading.conn.execute(select(*columns)).all()
        return {
            key: {"id": key, "sheet": sheet, "n": n, "body": json.loads(body)}
            for key, sheet, n, body in rows
        }


@pytest.fixture
def server(school: Path) -> Sent:
    """What the server of this test keeps."""
    return Sent(school)


Visit = Callable[[str], httpx.Client]


@pytest.fixture(scope="session")
def visit(reading_house: Served) -> Visit:
    """A visitor of the school that is only read, by login, signed in once."""
    known: dict[str, httpx.Client] = {}

    def visiting(login: str) -> httpx.Client:
        if login not in known:
            known[login] = reading_house.visitor(login or None)
        return known[login]

    return visiting
