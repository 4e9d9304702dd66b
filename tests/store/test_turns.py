"""Several who write to one PostgreSQL database: one school's in turn, two schools' at once."""

from __future__ import annotations

import os
import socket
import time
import traceback
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from threading import Thread

import psycopg
import pytest
from psycopg.conninfo import make_conninfo
from sqlalchemy import insert, text
from tests.engine import made as engine_made
from tests.store.cluster import KEEPER, NEIGHBOUR, OWNER, Cluster
from tests.store.recorder import Recorder
from tests.store.school import BEGAN, School, open_school

from standfast.engine.decide import decide
from standfast.model.school import School as Settings
from standfast.problems import RecordBookError
from standfast.store import founding, postgres
from standfast.store.connect import open_book
from standfast.store.tables import identity

WRITERS = 8
BARN = Settings(id="barn", name="The Barn")


@pytest.fixture
def database(cluster: Cluster) -> str:
    return cluster.new_database("founded")


@pytest.fixture
def barn(cluster: Cluster, database: str) -> Iterator[School]:
    school = open_school(cluster.address(KEEPER, database))
    school.fill()
    yield school
    school.book.close()


@pytest.fixture
def loft(cluster: Cluster, database: str) -> Iterator[School]:
    school = open_school(cluster.address(NEIGHBOUR, database), seed=11)
    school.fill()
    yield school
    school.book.close()


def test_a_school_writes_while_another_is_in_the_middle_of_it(barn: School, loft: School) -> None:
    before = barn.book.size(), loft.book.size()
    with barn.book.together():
        barn.book.put_school(BARN, barn.stamp())
        loft.book.put_school(Settings(id="loft", name="The Loft"), loft.stamp())
        done = loft.book.size()

        assert done == before[1] + 1, "what the other school did is there before ours has ended"
        assert loft.book.school() == Settings(id="loft", name="The Loft")
    assert barn.book.size() == before[0] + 1
    assert barn.book.audit(decide).faults == loft.book.audit(decide).faults == []


@pytest.mark.parametrize(
    ("set_to", "is_then"),
    [
        pytest.param("off", "on", id="kept later"),
        pytest.param("local", "local", id="kept here"),
        pytest.param("remote_apply", "remote_apply", id="kept and applied on a stand-by"),
    ],
)
def test_no_transaction_is_kept_later_than_it_is_told(
    cluster: Cluster, database: str, set_to: str, is_then: str
) -> None:
    cluster.do(f"ALTER DATABASE {database} SET synchronous_commit = {set_to}")
    asked = "SHOW synchronous_commit"

    with (
        open_book(cluster.address(KEEPER, database)) as book,
        book._writing() as writing,
        founding.owning(cluster.address(OWNER, database)) as owner,
    ):
        assert writing.conn.exec_driver_sql(asked).scalar() == is_then
        assert owner.exec_driver_sql(asked).scalar() == is_then


def test_schools_number_their_entries_each_from_one(barn: School, loft: School) -> None:
    assert [event.seq for event in barn.book.history()] == list(range(1, 12))
    assert [event.seq for event in loft.book.history()] == list(range(1, 12))


def test_eight_writers_of_one_school_leave_no_gap_and_lose_nothing(
    cluster: Cluster, database: str, barn: School
) -> None:
    """Each has connections of its own, as on another node."""
    before, count = barn.book.size(), 15

    def record(series: int) -> list[tuple[int, str]]:
        with open_book(cluster.address(KEEPER, database), random=barn.random.randbytes) as book:
            recorder = Recorder(book, series)
            return [(entry.seq, entry.id) for entry in map(recorder.record, range(count))]

    with ThreadPoolExecutor(WRITERS) as pool:
        told = [one for done in pool.map(record, range(1, WRITERS + 1)) for one in done]

    kept = [(event.seq, event.id) for event in barn.book.history()][before:]
    assert sorted(told) == kept
    assert [seq for seq, _ in kept] == list(range(before + 1, before + 1 + WRITERS * count))
    assert barn.book.audit(decide).faults == []
    series = [next(s for s in range(1, 9) if is_of(s, key, count)) for _, key in kept]
    assert series != sorted(series), "they wrote one after the other, so that nothing was tried"


def is_of(series: int, key: str, count: int) -> bool:
    return key in {Recorder(None, series).stamp(n).id for n in range(count)}  # type: ignore[arg-type]


def test_whoever_had_to_wait_sees_what_was_written_meanwhile(
    cluster: Cluster, database: str, barn: School
) -> None:
    """The turn comes first and what is read after it, so nothing can fail to serialize."""
    stamp = barn.stamp()
    with open_book(cluster.address(KEEPER, database)) as other, ThreadPoolExecutor(1) as pool:
        with barn.book.together():
            waiting = pool.submit(other.put_school, BARN, barn.stamp())
            wait_until_somebody_waits(cluster, database)
            first = barn.book.put_school(BARN, stamp)
        again = waiting.result()

    assert again == first, "the other found what was entered while it waited, and added nothing"


def wait_until_somebody_waits(cluster: Cluster, database: str) -> None:
    with cluster.connect("super", database) as server:
        for _ in range(1000):
            (count,) = server.execute(
                "SELECT count(*) FROM pg_stat_activity WHERE wait_event_type = 'Lock'"
                " AND datname = current_database()"
            ).fetchone() or (0,)
            if count:
                return
            server.execute("SELECT pg_sleep(0.01)")
    pytest.fail("nobody ever waited")


def test_whoever_keeps_the_turn_too_long_is_told_of(
    cluster: Cluster, database: str, barn: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(postgres, "PATIENCE_SECONDS", 0.05)
    with open_book(cluster.address(KEEPER, database)) as impatient:
        with (
            barn.book.together(),
            pytest.raises(RecordBookError, match=r"record book for 0\.05 seconds.*nothing of this"),
        ):
            impatient.put_school(BARN, barn.stamp())

        impatient.put_school(BARN, barn.stamp())
        assert impatient.school() == BARN


def cut_off(cluster: Cluster, database: str) -> None:
    """Ends every connection of whoever keeps the book, as when the server goes down."""
    with cluster.connect("super", database) as server:
        (ended,) = server.execute(
            "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity WHERE usename = 'keeper'"
            " AND datname = current_database()"
        ).fetchall()[0]
    assert ended > 0


def test_a_connection_lost_in_the_middle_keeps_nothing_and_the_next_one_works(
    cluster: Cluster, database: str, barn: School
) -> None:
    before, head = barn.book.size(), barn.book.head(BEGAN)

    def interrupted() -> None:
        with barn.book.together():
            barn.book.put_school(BARN, barn.stamp())
            cut_off(cluster, database)
            barn.book.put_people([engine_made.person("dot")], barn.stamp)

    with pytest.raises(RecordBookError, match=r"does not answer.*nothing of this was kept"):
        interrupted()
    assert (barn.book.size(), barn.book.head(BEGAN)) == (before, head)
    assert barn.book.find_person("dot") is None
    barn.book.put_people([engine_made.person("dot")], barn.stamp)
    assert barn.book.size() == before + 1
    assert barn.book.audit(decide).faults == []


def test_a_connection_lost_while_it_was_idle_is_replaced_unseen(
    cluster: Cluster, database: str, barn: School
) -> None:
    assert barn.book.size() == 11
    cut_off(cluster, database)
    assert barn.book.size() == 11
    cut_off(cluster, database)
    barn.book.put_school(BARN, barn.stamp())

    assert barn.book.school() == BARN


def test_when_the_end_is_lost_it_is_told_that_it_is_not_known(
    cluster: Cluster, database: str, barn: School
) -> None:
    """A retry with the same stamp is right either way."""
    stamp = barn.stamp()

    def cut_at_the_end() -> None:
        with barn.book.together():
            barn.book.put_school(BARN, stamp)
            cut_off(cluster, database)

    with pytest.raises(RecordBookError, match="it may be there or not: do the same again"):
        cut_at_the_end()
    entry = barn.book.put_school(BARN, stamp)
    assert barn.book.put_school(BARN, stamp) == entry
    assert barn.book.size() == 12


def deaf_server() -> tuple[socket.socket, Thread]:
    """One that lets somebody in over TCP, and says nothing more.

    Source: PostgreSQL's protocol 3.0: `N` refuses TLS, then AuthenticationOk and ReadyForQuery.
    """
    listening = socket.create_server(("127.0.0.1", 0))

    def let_in() -> None:
        with listening, listening.accept()[0] as line:
            if line.recv(8).endswith((80877103).to_bytes(4)):  # SSLRequest
                line.sendall(b"N")
                line.recv(8)
            line.recv(10_000)
            line.sendall(b"R\0\0\0\x08\0\0\0\0" + b"Z\0\0\0\x05I")
            line.recv(1)

    thread = Thread(target=let_in)
    thread.start()
    return listening, thread


@pytest.mark.skipif(not hasattr(socket, "TCP_USER_TIMEOUT"), reason="Linux tells it so")
def test_a_line_to_the_server_that_is_dead_is_noticed_in_half_a_minute() -> None:
    listening, thread = deaf_server()
    host, port = listening.getsockname()
    url = postgres.read_address(f"postgresql://keeper@{host}:{port}/books")
    told = make_conninfo(host=host, port=port, user="keeper", **postgres._connecting(url))
    with psycopg.connect(told) as there:
        line = socket.socket(fileno=os.dup(there.fileno()))
        idle, every, times, unanswered = (
            line.getsockopt(socket.IPPROTO_TCP, option)
            for option in (
                socket.TCP_KEEPIDLE,
                socket.TCP_KEEPINTVL,
                socket.TCP_KEEPCNT,
                socket.TCP_USER_TIMEOUT,
            )
        )
        kept_alive = line.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE)
        line.close()
    thread.join()

    assert kept_alive
    assert idle + every * times <= 30
    assert 0 < unanswered <= 30_000


def test_a_reader_sees_one_state_and_writes_nothing(barn: School, loft: School) -> None:
    with barn.book._reading() as reading:
        barn_before = reading.conn.scalar(text("SELECT count(*) FROM journal"))
        with ThreadPoolExecutor(1) as pool:
            pool.submit(barn.book.put_people, [engine_made.person("eve")], barn.stamp).result()
        assert reading.conn.scalar(text("SELECT count(*) FROM journal")) == barn_before
    with (
        pytest.raises(RecordBookError, match="takes no writing"),
        barn.book._reading() as reading,
    ):
        reading.conn.execute(text("DELETE FROM sheets"))
    assert barn.book.size() == 12


@pytest.mark.parametrize(
    ("state", "kept"),
    [
        pytest.param("40P01", True, id="deadlock"),
        pytest.param("40001", True, id="could not serialize"),
        pytest.param("53100", False, id="a full disk does not pass"),
    ],
)
def test_getting_the_turn_is_tried_again_where_that_can_help(
    cluster: Cluster,
    database: str,
    barn: School,
    monkeypatch: pytest.MonkeyPatch,
    *,
    state: str,
    kept: bool,
) -> None:
    """The server itself ends the transaction, as it does for one of two in each other's way."""
    with cluster.connect("super", database) as server:
        server.execute("CREATE SEQUENCE tries; GRANT ALL ON tries TO keeper")
        server.execute(f"""CREATE FUNCTION fail_twice() RETURNS text LANGUAGE plpgsql AS $$
            BEGIN
              IF nextval('tries') < 3 THEN RAISE EXCEPTION USING ERRCODE = '{state}'; END IF;
              RETURN 'barn';
            END $$""")
    monkeypatch.setattr(postgres, "_TAKE_TURN", text("SELECT fail_twice()"))
    if kept:
        barn.book.put_school(BARN, barn.stamp())
    else:
        with pytest.raises(RecordBookError, match="disk is full"):
            barn.book.put_school(BARN, barn.stamp())

    assert barn.book.school() == (BARN if kept else None)


def test_what_is_left_unfinished_for_long_gives_the_turn_back(
    barn: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A program that hangs, or a machine that is gone, must not keep the others waiting."""
    monkeypatch.setattr(postgres, "SILENCE_SECONDS", 0.1)

    def hang() -> None:
        with barn.book.together():
            barn.book.put_school(BARN, barn.stamp())
            time.sleep(1)
            barn.book.put_people([engine_made.person("dot")], barn.stamp)

    with pytest.raises(RecordBookError, match="nothing of this was kept"):
        hang()
    assert barn.book.school() is None


def test_an_error_of_the_server_shows_nothing_of_a_row(barn: School) -> None:
    row = {"ref": "r", "handle": "h", "name": "Somebody Secret", "salt": b"short"}

    with (
        pytest.raises(RecordBookError, match="salt_is_long_enough") as told,
        barn.book._writing() as writing,
    ):
        writing.conn.execute(insert(identity), row)

    assert "Secret" not in "".join(traceback.format_exception(told.value))


def test_a_nul_in_what_somebody_sends_is_found_nowhere_and_stops_nothing(barn: School) -> None:
    """Text in PostgreSQL has none; found by throwing made-up requests at the server."""
    book = barn.book
    assert book.find_person("ca\0to") is None
    book.access.failed("login:\0", BEGAN)
    book.access.failed("login:\0", BEGAN)
    counted = book.access.failures("login:\0")
    book.records.hold("r", "s", "{}", "nobody is 'a\0b'", "a", BEGAN)

    assert counted
    assert counted.count == 2
    assert [one.why for one in book.records.held()] == ["nobody is 'a\ufffdb'"]
    assert book.find_person("cato") is not None


def test_same_entries_give_the_same_head_as_in_a_file(
    cluster: Cluster, database: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    heads = []
    for where in (tmp_path_factory.mktemp("file"), cluster.address(KEEPER, database)):
        school = open_school(where)
        school.fill()
        school.book.erase("bo", school.stamp())
        heads.append(school.book.head(BEGAN))
        school.book.close()

    assert heads[0] == heads[1]
