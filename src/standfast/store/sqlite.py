"""What is SQLite's own: how a file is opened, guarded and checked, and what its errors mean.

`postgres` is its counterpart; `database` says what both answer.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache, partial
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, StaticPool, create_engine, event, insert, text
from sqlalchemy.exc import DBAPIError

from standfast.problems import RecordBookError
from standfast.store import migrations
from standfast.store.queue import WritersQueue
from standfast.store.tables import DERIVED, first_rows, meta, metadata

PATIENCE_SECONDS = 10.0
"""How long a writer waits for others."""

WRITING = "standfast_writing"
"""Execution option of a connection that will write: it takes its turn before it reads."""

_SETTINGS = (
    f"PRAGMA busy_timeout = {PATIENCE_SECONDS * 1000:.0f}",
    "PRAGMA foreign_keys = ON",
    "PRAGMA recursive_triggers = ON",  # else INSERT OR REPLACE goes around BEFORE DELETE
    # An acknowledged entry survives a loss of power: FULL, and in a file that came back without WAL
    # (VACUUM INTO leaves it so) its folder as well; on macOS not only in the disk's own memory.
    "PRAGMA synchronous = EXTRA",
    "PRAGMA fullfsync = ON",
    "PRAGMA secure_delete = ON",  # an erased name leaves the file, not only the table
    "PRAGMA temp_store = MEMORY",
)

CACHE_MIB = 64
"""Of each connection; with the default 2 MiB an import is three times slower."""

_GUARDS = (
    """CREATE TRIGGER journal_grows_in_order BEFORE INSERT ON journal
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM journal)
  OR EXISTS (SELECT 1 FROM journal WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'an entry takes the next number and a new id'); END""",
    """CREATE TRIGGER journal_is_never_changed BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'an entry is never changed: a correction is a new entry'); END""",
    """CREATE TRIGGER journal_is_never_deleted BEFORE DELETE ON journal
BEGIN SELECT RAISE(ABORT, 'an entry is never deleted'); END""",
    """CREATE TRIGGER records_are_new BEFORE INSERT ON records
WHEN EXISTS (SELECT 1 FROM records WHERE id = NEW.id OR (sheet = NEW.sheet AND n = NEW.n))
BEGIN SELECT RAISE(ABORT, 'a record has a new id and number'); END""",
    """CREATE TRIGGER records_are_never_changed BEFORE UPDATE ON records
BEGIN SELECT RAISE(ABORT, 'a record is never changed: taking back is a new record'); END""",
    """CREATE TRIGGER records_are_never_deleted BEFORE DELETE ON records
BEGIN SELECT RAISE(ABORT, 'a record is never deleted'); END""",
    """CREATE TRIGGER heads_are_new BEFORE INSERT ON heads
WHEN EXISTS (SELECT 1 FROM heads WHERE size = NEW.size)
BEGIN SELECT RAISE(ABORT, 'a tree of one size has one head'); END""",
    """CREATE TRIGGER heads_are_never_changed BEFORE UPDATE ON heads
BEGIN SELECT RAISE(ABORT, 'a head that was given out is never changed'); END""",
    """CREATE TRIGGER heads_are_never_deleted BEFORE DELETE ON heads
BEGIN SELECT RAISE(ABORT, 'a head that was given out is never deleted'); END""",
)


class SqliteDatabase:
    """A record book in a file of its own.

    `cache_mib` is what each connection may keep of the file in memory.
    """

    def __init__(
        self, file: Path, cache_mib: int = CACHE_MIB, engine: Engine | None = None
    ) -> None:
        self.where: str | Path = file
        self._file = file
        self._engine = engine_for(file, cache_mib) if engine is None else engine
        self._queue = WritersQueue(file.parent / f"{file.name}-queue", PATIENCE_SECONDS)

    def ready(self, *, create: bool) -> None:
        """Makes the file with `create`, else looks whether it is there and a record book.

        Raises:
            RecordBookError: there is none, or it is none.
        """
        with errors_told(self.where):
            _check_there(self._file, create=create)
            if create:
                _make(self._engine)
            with self._engine.connect() as conn, conn.begin():
                if meta.name not in schema(conn):
                    raise RecordBookError(f"{self.where}: this file is no record book")

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one state of the file."""
        with errors_told(self.where), self._engine.connect() as conn:
            conn.begin()  # never committed: SQLite may refuse that after it met a broken page
            yield conn

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction with the turn to write."""
        with errors_told(self.where, "; nothing of this was kept"), self._queue.turn():
            connection = self._engine.connect().execution_options(**{WRITING: True})
            with connection as conn, conn.begin():
                yield conn

    def bring_up(self, conn: Connection, found: int) -> None:
        """Brings the tables of that format to today's; derived ones are empty afterwards."""
        bring_up(conn, found)

    def schema(self, conn: Connection) -> dict[str, str]:
        """Name to SQL of every table, index and guard that somebody wrote."""
        return schema(conn)

    def schema_as_written(self) -> dict[str, str]:
        """What `schema` gives for a new book."""
        return schema_as_written()

    def faults(self, conn: Connection) -> Iterator[str]:
        """What SQLite's own checks find: broken pages, rows that point nowhere."""
        for (found,) in conn.exec_driver_sql("PRAGMA integrity_check"):
            if found != "ok":
                yield f"SQLite's integrity check: {found}"
        for table, row, points_at, _ in conn.exec_driver_sql("PRAGMA foreign_key_check"):
            yield f"row {row} of {table} points at a row of {points_at} that is not there"

    def cautions(self, conn: Connection) -> Iterator[str]:  # noqa: ARG002 - the same for each kind
        """None: each connection sets for itself how sure the file is kept."""
        yield from ()

    def may_ask(self, conn: Connection) -> tuple[str, ...]:  # noqa: ARG002 - the same for each kind
        """Nobody: one school's book is alone in a file."""
        return ()

    def means_damage(self, error: DBAPIError) -> bool:
        """Whether it says that the content of the file is broken, not that it cannot be reached."""
        return _code(error.orig) in {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}

    def forget_deleted(self) -> None:
        """Takes what was deleted out of the log beside the file as well."""
        with errors_told(self.where):
            connection = self._engine.raw_connection()
            try:
                connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
            finally:
                connection.close()

    def close(self) -> None:
        """Closes the file."""
        self._engine.dispose()
        self._queue.close()


def in_memory(where: str | Path) -> tuple[SqliteDatabase, Engine]:
    """A book in memory, still without tables, whose errors name that place; and its engine."""
    # One connection, since each new one would see an empty memory of its own.
    engine = create_engine("sqlite://", poolclass=StaticPool)
    database = SqliteDatabase(Path(), engine=engine)
    database.where = where
    return database, engine


def _check_there(file: Path, *, create: bool) -> None:
    if not file.parent.is_dir():
        raise RecordBookError(f"{file}: there is no folder {file.parent}; make it first")
    if create:
        return
    if not file.exists():
        raise RecordBookError(f"{file}: there is no record book; 'standfast new' makes one")
    if not file.stat().st_size:
        raise RecordBookError(
            f"{file}: the file is empty; put the last good copy of the record book there, or delete"
            " it if the book never had an entry"
        )


def _make(engine: Engine) -> None:
    use_wal(engine)
    with engine.connect().execution_options(**{WRITING: True}) as conn, conn.begin():
        if schema(conn):
            return
        make_tables(conn)
        conn.execute(insert(meta), first_rows())


def engine_for(file: Path, cache_mib: int = CACHE_MIB) -> Engine:
    """An engine on that file, with our settings on each of its connections."""
    # What stands in a row is nobody's to read in an error's words.
    engine = create_engine(URL.create("sqlite", database=str(file)), hide_parameters=True)
    event.listen(engine, "connect", partial(_set_up, cache_mib=cache_mib))
    event.listen(engine, "begin", _begin)
    return engine


def _set_up(connection: sqlite3.Connection, _record: object, *, cache_mib: int) -> None:
    connection.isolation_level = None  # transactions begin where we say, not where Python guesses
    for setting in _SETTINGS:
        connection.execute(setting)
    connection.execute(f"PRAGMA cache_size = {-1024 * cache_mib}")  # below zero it is KiB


def _begin(conn: Connection) -> None:
    writes = conn.get_execution_options().get(WRITING)
    conn.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def use_wal(engine: Engine) -> None:
    """Writes go to a log beside the file, and readers go on meanwhile; holds for good."""
    connection = engine.raw_connection()
    try:
        connection.cursor().execute("PRAGMA journal_mode = WAL")
    finally:
        connection.close()


@contextmanager
def nobody_else(file: Path) -> Iterator[None]:
    """Makes sure that no other program has the file open, for as long as its log is away.

    Raises:
        RecordBookError: another program has it open.
    """
    _keep_log(file, "DELETE")
    try:
        yield
    except BaseException:
        _keep_log(file, "WAL")
        raise


def _keep_log(file: Path, how: str) -> None:
    connection = sqlite3.connect(file, timeout=1)
    try:
        # SQLite lets nobody change this while another connection is open.
        connection.execute(f"PRAGMA journal_mode = {how}")
    except sqlite3.OperationalError:
        raise RecordBookError(
            f"{file}: another program has the record book open; end it (standfast serve?) and try"
            " again"
        ) from None
    finally:
        connection.close()


def make_tables(conn: Connection) -> None:
    """All tables, indexes and guards, in the transaction of the connection."""
    metadata.create_all(conn)
    _make_guards(conn)


def bring_up(conn: Connection, found: int) -> None:
    """Brings the tables of that format to today's; what is derived and guards are made anew."""
    metadata.drop_all(conn, tables=DERIVED)
    migrations.bring_up(conn, found)
    metadata.create_all(conn, tables=DERIVED)
    _make_guards(conn)


def _make_guards(conn: Connection) -> None:
    """As they are today, also where there were others."""
    for guard in _GUARDS:
        conn.execute(text(f"DROP TRIGGER IF EXISTS {guard.split()[2]}"))
        conn.execute(text(guard))


def schema(conn: Connection) -> dict[str, str]:
    """Name to SQL of every table, index and guard that somebody wrote.

    Blanks are one blank each: how many there are another version of SQLAlchemy does otherwise.
    """
    rows = conn.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    return {name: " ".join(sql.split()) for name, sql in rows if not name.startswith("sqlite_")}


@cache
def schema_as_written() -> dict[str, str]:
    """What `schema` gives for a new book."""
    engine = create_engine("sqlite://")
    try:
        with engine.begin() as conn:
            make_tables(conn)
            return schema(conn)
    finally:
        engine.dispose()


@contextmanager
def errors_told(where: str | Path, kept: str = "") -> Iterator[None]:
    """Tells what stops the record book, and what was kept, in words for whoever keeps it.

    Raises:
        RecordBookError: in place of any error of the database.
    """
    try:
        yield
    except DBAPIError as error:
        raise _told(where, kept, error.orig) from error
    except sqlite3.Error as error:
        raise _told(where, kept, error) from error


def _code(error: object) -> int | None:
    """SQLite's error, without what its extended code adds."""
    code: Any = getattr(error, "sqlite_errorcode", None)
    return code & 0xFF if isinstance(code, int) else None


def _told(where: str | Path, kept: str, error: object) -> RecordBookError:
    words = _WORDS.get(_code(error))
    return RecordBookError(
        f"{where}: {words or error}{kept}", f"{words or 'the record book gave an error'}{kept}"
    )


_WORDS: dict[int | None, str] = {
    sqlite3.SQLITE_FULL: "the disk is full: make room and try again",
    sqlite3.SQLITE_READONLY: "the record book cannot be written: check who may write this file"
    " and its folder",
    sqlite3.SQLITE_CANTOPEN: "the record book cannot be opened for writing: check who may write"
    " this file and its folder",
    sqlite3.SQLITE_PERM: "the record book may not be opened: check who may read and write it",
    sqlite3.SQLITE_BUSY: "another program has locked the record book: end it and try again",
    sqlite3.SQLITE_LOCKED: "another program has locked the record book: end it and try again",
    sqlite3.SQLITE_NOTADB: "this file is no record book",
    sqlite3.SQLITE_CORRUPT: "the file is damaged: take the last good copy of it",
    sqlite3.SQLITE_IOERR: "the disk gave an error: check it, and that it is not full",
}
