"""PostgreSQL itself is killed, again and again, while three record: acknowledged is stored, once.

Three ways, drawn by a seed: SIGKILL of the process that all others come from (the postmaster),
SIGKILL of one that serves a connection (then the server ends all others and recovers by itself),
and an immediate stop.  Afterwards the server is started if it has to be, and recovers from its
log.  The books stay open all the while: whoever was refused does the same again.
"""

from __future__ import annotations

import os
import signal
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from random import Random
from threading import Event, Thread

import pytest
from tests.conftest import or_left_out
from tests.counting import kills, say
from tests.store.cluster import KEEPER, Cluster, running
from tests.store.raw import dump, rows
from tests.store.recorder import Recorder
from tests.store.school import BEGAN, School, open_school

from standfast.engine.decide import decide
from standfast.problems import RecordBookError
from standfast.store.connect import open_book
from standfast.store.heads import Head

KILLS = kills(3)
SEED = 20260302
SERIES = (1, 2, 3)
_PATIENCE = 30.0


@pytest.fixture(scope="module")
def server() -> Iterator[Cluster]:
    """One that may be killed: its own, and durable."""
    with or_left_out(), running(durable=True) as found:
        yield found


@dataclass
class Writer:
    """Records a series, each entry until it is acknowledged."""

    address: str
    series: int
    acknowledged: int = 0
    refused: Counter[str] = field(default_factory=Counter)
    fault: BaseException | None = None

    def write(self, ended: Event) -> None:
        try:
            with open_book(self.address, random=Random(self.series).randbytes) as book:
                recorder = Recorder(book, self.series)
                while not ended.is_set():
                    self._record(recorder)
        except BaseException as error:  # noqa: BLE001 - told by whoever waits for the thread
            self.fault = error

    def _record(self, recorder: Recorder) -> None:
        number = self.acknowledged
        try:
            entry = recorder.record(number)
        except RecordBookError as error:
            self.refused["not known" if "or not" in str(error) else "nothing kept"] += 1
            time.sleep(0.05)
            return
        assert entry.id == recorder.stamp(number).id
        self.acknowledged += 1


def postmaster(server: Cluster, _: int) -> None:
    server.kill()


def connection(server: Cluster, pid: int) -> None:
    os.kill(pid, signal.SIGKILL)


def stopped(server: Cluster, _: int) -> None:
    server.stop("immediate")


WAYS: tuple[Callable[[Cluster, int], None], ...] = (postmaster, connection, stopped)


def one_that_writes(server: Cluster) -> int:
    """The process of somebody's connection."""
    with server.connect("super", "postgres") as asking:
        query = "SELECT pid FROM pg_stat_activity WHERE usename = 'keeper' ORDER BY random()"
        (pid,) = asking.execute(query).fetchone() or (0,)
    return int(pid)


def head_when_back(school: School) -> Head:
    """The head of the book, as soon as the server answers again."""
    given_up = time.monotonic() + _PATIENCE
    while True:
        try:
            return school.book.head(BEGAN)
        except RecordBookError:
            assert time.monotonic() < given_up, "the server does not come back"
            time.sleep(0.02)


def go_on(writers: list[Writer], threads: list[Thread]) -> None:
    """Waits until each has recorded once more."""
    before = [one.acknowledged for one in writers]
    given_up = time.monotonic() + _PATIENCE
    while any(one.acknowledged == was for one, was in zip(writers, before, strict=True)):
        assert all(one.is_alive() for one in threads), [one.fault for one in writers]
        assert time.monotonic() < given_up, "somebody records no more"
        time.sleep(0.002)


@pytest.mark.slow
def test_whatever_kills_the_database_acknowledged_is_stored_once(server: Cluster) -> None:
    address = server.address(KEEPER, server.new_database("founded"))
    school = open_school(address)
    school.fill()
    before, chance, ended = school.book.size(), Random(SEED), Event()
    writers = [Writer(address, series) for series in SERIES]
    threads = [Thread(target=one.write, args=(ended,)) for one in writers]
    for one in threads:
        one.start()
    heads: list[Head] = []
    ways: Counter[str] = Counter()
    try:
        for _ in range(KILLS):
            go_on(writers, threads)
            pid, way = one_that_writes(server), chance.choice(WAYS)
            time.sleep(chance.uniform(0, 0.05))
            way(server, pid)
            ways[way.__name__] += 1
            if way is not connection:
                server.start()
            heads.append(head_when_back(school))
        go_on(writers, threads)
    finally:
        ended.set()
        for one in threads:
            one.join()
    told = {one.series: one.acknowledged for one in writers}
    school.server = lambda: server.connect("super", database_of(address), "barn")
    stored = check_all_once(school, before, told, heads)
    refused = sum((one.refused for one in writers), Counter())
    say(
        f"database killed {KILLS} times ({dict(ways)}): {sum(told.values())} entries acknowledged,"
        f" {stored} stored, 0 lost, 0 twice; refused meanwhile: {dict(refused)}"
    )
    school.book.close()


def test_what_the_server_would_keep_later_is_kept_when_it_is_acknowledged(server: Cluster) -> None:
    database = server.new_database("founded")
    server.do(f"ALTER DATABASE {database} SET synchronous_commit = off")
    # Else the server would be done with it before it is killed.
    server.do("ALTER SYSTEM SET wal_writer_delay = '10s'")
    server.do("SELECT pg_reload_conf()")
    school = open_school(server.address(KEEPER, database))
    school.fill()
    acknowledged = school.book.size()

    server.kill()
    server.start()

    assert head_when_back(school).size == acknowledged
    assert school.book.audit(decide).remarks == [], "this server is set to keep everything"
    school.book.close()


def database_of(address: str) -> str:
    return address.partition("@/")[2].partition("?")[0]


def check_all_once(school: School, before: int, told: dict[int, int], heads: list[Head]) -> int:
    """How many entries are there; each acknowledged one is, once, in the order of its series."""
    kept = [key for (key,) in rows(school, "SELECT id FROM journal ORDER BY seq")][before:]
    assert len(set(kept)) == len(kept), f"seed {SEED}: something is there twice"
    place = {key: at for at, key in enumerate(kept)}
    for series, acknowledged in told.items():
        recorder = Recorder(school.book, series)
        wanted = [recorder.stamp(number).id for number in range(acknowledged)]
        lost = [number for number, key in enumerate(wanted) if key not in place]
        assert lost == [], f"seed {SEED}, series {series}"
        assert [place[key] for key in wanted] == sorted(place[key] for key in wanted)
        # What was being kept when the test ended was acknowledged too: nothing is left over.
    assert len(kept) == sum(told.values())
    assert school.book.audit(decide, heads).faults == [], f"seed {SEED}"
    tables = dump(school)
    school.book.rebuild()
    assert dump(school) == tables, f"seed {SEED}"
    return len(kept)
