"""The web server is killed under load, again and again: what it acknowledged is stored, once.

`python -m standfast.web` as `standfast serve` starts it, real requests over the loopback, SIGKILL
at moments that come from a seed, also while the server starts.  Two assessors send lessons in
batches and sign them; a batch that got no answer is sent again, as the page beside the mat does.
"""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from threading import Event, Thread

import httpx
import pytest
from tests.counting import kills, say
from tests.web.conftest import PASSWORD, PEOPLE, Sent, move_to
from tests.web.records import JSON, key, lesson, sign

from standfast.desk.opening import where_the_book_is
from standfast.engine.decide import decide
from standfast.store.connect import open_book

KILLS = kills(3)
"""Half of them with the book in a file, half in PostgreSQL."""
SEED = 20260304
DAY = "2026-11-24"
_PATIENCE = 30.0


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
        ended = self.process.wait(_PATIENCE)
        assert ended == -signal.SIGKILL, f"the server ended by itself, with {ended}"


@dataclass
class Assessor:
    """Sends lessons, each batch until it is acknowledged; signs each."""

    login: str
    first: int
    """Number of the first record's id."""
    session: str
    lesson: list[JSON]
    acknowledged: Counter[str] = field(default_factory=Counter)
    """How often each record was answered `stored`."""
    seen: set[str] = field(default_factory=set)
    signed: list[str] = field(default_factory=list)
    """Sheets of which the signature was acknowledged."""
    again: int = 0
    fault: BaseException | None = None

    def work(self, address: str, ended: Event, chance: Random) -> None:
        try:
            with httpx.Client(base_url=address, timeout=_PATIENCE) as client:
                client.headers["cookie"] = self.session
                while not ended.is_set():
                    self._lesson(client, chance)
        except BaseException as error:  # noqa: BLE001 - told by whoever waits for the thread
            self.fault = error

    def _lesson(self, client: httpx.Client, chance: Random) -> None:
        taps = self._taps()
        sheet = taps[0]["sheet"]
        while taps:
            batch = taps[: chance.randrange(1, 8)]
            if self._sent(client, batch):
                taps = taps[len(batch) :]
        self.signed.append(sheet)

    def _taps(self) -> list[JSON]:
        """A lesson of its own, under a practical of its own, and its signature."""
        number = self.first + 100 * len(self.signed)
        names = {"practical": f"mill-{DAY}-{self.login}-{len(self.signed)}"}
        head = self.lesson[0] | {"body": self.lesson[0]["body"] | names}
        sheet = {"sheet": key(number)}
        taps = [one | sheet | {"id": key(number + one["n"])} for one in [head, *self.lesson[1:]]]
        return [*taps, sign(taps) | sheet | {"id": key(number + len(taps) + 1)}]

    def _sent(self, client: httpx.Client, batch: list[JSON]) -> bool:
        try:
            answer = client.post("/api/records", json={"records": batch})
        except httpx.TransportError:
            self.again += 1
            time.sleep(0.1)
            return False
        assert answer.status_code == 200, answer.text
        for told in answer.json()["answers"]:
            assert told["answer"] in {"stored", "seen"}, told
            self.acknowledged[told["id"]] += told["answer"] == "stored"
            self.seen.add(told["id"])
        return True


@pytest.fixture(params=["sqlite", "postgresql"])
def folder(school: Path, request: pytest.FixtureRequest) -> Path:
    """The school's folder, its book in a file or in PostgreSQL."""
    if request.param == "postgresql":
        move_to(request.getfixturevalue("cluster"), school)
    return school


@pytest.fixture
def program(folder: Path) -> Iterator[Program]:
    found = Program(folder)
    found.start()
    yield found
    found.kill()


def answers(program: Program) -> None:
    """Waits until the server answers."""
    given_up = time.monotonic() + _PATIENCE
    while True:
        try:
            assert httpx.get(f"{program.address}/health").status_code == 200
        except httpx.TransportError:
            assert time.monotonic() < given_up, "the server does not come back"
            time.sleep(0.05)
        else:
            return


def come_in(program: Program, login: str, first: int) -> Assessor:
    with httpx.Client(base_url=program.address, timeout=_PATIENCE) as client:
        answer = client.post("/sign-in", data={"login": login, "password": PASSWORD})
        session = answer.headers["set-cookie"].partition(";")[0]
        client.headers["cookie"] = session
        kits = client.get("/api/kits").json()
        taps = lesson(client, str(kits["candidates"][0]["id"]))
        taps[0]["body"]["assessor"] = PEOPLE[login][0]
    return Assessor(login, first, session, taps)


def kill_again_and_again(
    program: Program, times: int, chance: Random, threads: list[Thread]
) -> int:
    """Kills the server so often; gives how often while it was starting."""
    starting = 0
    for kill in range(1, times + 1):
        if kill % 5 == 0:
            starting += 1
            time.sleep(chance.uniform(0, 1.0))
        else:
            answers(program)
            time.sleep(chance.uniform(0, 0.4))
        program.kill()
        program.start()
        assert all(one.is_alive() for one in threads)
    answers(program)
    return starting


@pytest.mark.slow
def test_a_server_that_is_killed_has_kept_what_it_acknowledged_once(
    program: Program, folder: Path
) -> None:
    in_a_file = (folder / "standfast.db").exists()
    times = KILLS - KILLS // 2 if in_a_file else KILLS // 2
    answers(program)
    assessors = [
        come_in(program, "hana", 0x100000),
        come_in(program, "leilani", 0x900000),
    ]
    ended, chance = Event(), Random(SEED)
    threads = [
        Thread(target=one.work, args=(program.address, ended, Random(one.first)))
        for one in assessors
    ]
    for one in threads:
        one.start()
    try:
        starting = kill_again_and_again(program, times, chance, threads)
        time.sleep(0.2)
    finally:
        ended.set()
        for one in threads:
            one.join()
    assert [one.fault for one in assessors] == [None, None], f"seed {SEED}"
    told, sheets = check_all_once(folder, assessors)
    say(
        f"server killed {times} times ({starting} while it started), book in"
        f" {'a file' if in_a_file else 'PostgreSQL'}: {told} records and {sheets} signed sheets"
        f" acknowledged, 0 lost, 0 twice; {sum(one.again for one in assessors)} times sent again"
    )


def check_all_once(folder: Path, assessors: list[Assessor]) -> tuple[int, int]:
    """Each acknowledged record is stored, each signed sheet an entry, once; how many of each."""
    told = set[str]().union(*(one.seen for one in assessors))
    signed = {sheet for one in assessors for sheet in one.signed}
    stored = Sent(folder).records
    assert set(stored) == told
    for one in assessors:
        assert max(one.acknowledged.values()) == 1
    with open_book(where_the_book_is(folder)) as book:
        kept = [sheet.sheet.id for sheet in book.sheets() if sheet.sheet.source == "web"]
        assert sorted(kept) == sorted(signed)
        assert book.audit(decide).faults == []
    return len(told), len(signed)
