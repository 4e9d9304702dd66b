"""What is PostgreSQL's own: how an address is reached, whose turn it is, what its errors mean.

The counterpart of `sqlite`.  Imported only when a book at such an address is opened.  Several
schools share a database (`postgres_tables`) and do not wait for each other: the turn to write is a
lock on the row of one's own school, taken before anything is read.  A transaction that has it
meets no other writer, so there is nothing that could fail to serialize, and nothing that has to be
done again; only getting the turn is tried again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager

import psycopg
from psycopg.abc import Buffer
from psycopg.types.string import StrDumperUnknown
from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from standfast.problems import MaybeKept, RecordBookError
from standfast.store import postgres_catalog as catalog
from standfast.store.postgres_tables import SCHOOL

PATIENCE_SECONDS = 10.0
"""How long a writer waits for others of its school."""

SILENCE_SECONDS = 300.0
"""How long a transaction with the turn may say nothing: a program that hangs must not keep it."""

_TRIES = 4
"""How often a transaction is begun before its error is told."""

_DRIVER = "postgresql+psycopg"

KEPT_FOR_SURE = (
    "set_config('synchronous_commit', replace(current_setting('synchronous_commit'), 'off', 'on'),"
    " true)"
)
"""Has the transaction on disk before it is told to be kept, whatever the server, role or address
says; what asks for more stays."""

_BEGIN = text(
    f"SELECT set_config('{SCHOOL}', :school, true), set_config('lock_timeout', :patience, true),"
    f" set_config('idle_in_transaction_session_timeout', :silence, true), {KEPT_FOR_SURE}"
)
_TAKE_TURN = text("SELECT school FROM turns FOR UPDATE")


class InPostgres:
    """What a book there is asked, whoever is connected."""

    def schema(self, conn: Connection) -> Mapping[str, str]:
        """Name to words for every table, index, guard and policy that is there."""
        return catalog.schema(conn)

    def schema_as_written(self) -> Mapping[str, str]:
        """What `schema` gives for a new database."""
        return catalog.schema_as_written()

    def faults(self, conn: Connection) -> Iterator[str]:
        """What some role may do and should not, and rows that point nowhere."""
        return catalog.faults(conn)

    def cautions(self, conn: Connection) -> Iterator[str]:
        """What the server is set to and nobody else can mend."""
        return catalog.cautions(conn)

    def may_ask(self, conn: Connection) -> tuple[str, ...]:
        """The roles that were let in."""
        return catalog.may_ask(conn)

    def forget_deleted(self) -> None:
        """Nothing: the server takes deleted rows out when it cleans up (autovacuum)."""


class PostgresDatabase(InPostgres):
    """The record book of one school at a PostgreSQL address."""

    def __init__(self, address: str) -> None:
        url = read_address(address)
        self._school = _school_named(url)
        self._url = url.difference_update_query(["school"])
        self._engine = engine_for(self._url)

    @property
    def where(self) -> str:
        """The address, without a password."""
        return shown(
            self._url.update_query_dict({"school": self._school}) if self._school else self._url
        )

    def ready(self, *, create: bool) -> None:  # noqa: ARG002 - tables are made by their owner
        """Looks whether the tables are there and whose book the role keeps.

        Raises:
            RecordBookError: no tables, no such school, or a role that sees every school.
        """
        with self._told(), self._engine.connect() as conn:
            if not tables_there(conn):
                raise RecordBookError(
                    f"{self.where}: no record book is kept there; the owner of the database makes"
                    " its tables with 'standfast book move'"
                )
            if not conn.exec_driver_sql("SELECT row_security_active('journal')").scalar():
                raise RecordBookError(
                    f"{self.where}: this role sees the books of all schools at once; take one that"
                    " is no superuser and has no BYPASSRLS"
                )
            self._school = self._kept(conn)

    def _kept(self, conn: Connection) -> str:
        """The school whose book the role keeps: the one named, or the only one."""
        found = conn.exec_driver_sql("SELECT school FROM keepers ORDER BY school").scalars().all()
        known = ", ".join(found) or "none"
        if self._school is None and len(found) == 1:
            return str(found[0])
        if self._school is None:
            raise RecordBookError(
                f"{self.where}: say at the end of the address whose book, such as ?school=sandhof;"
                f" this role keeps: {known}"
            )
        if self._school not in found:
            raise RecordBookError(
                f"{self.where}: this role does not keep the book of a school '{self._school}';"
                f" it keeps: {known}"
            )
        return self._school

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction that sees one state of the school's book and can write nothing."""
        with self._told(), self._begun(writes=False) as conn:
            yield conn

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction with the school's turn to write."""
        with self._told("; nothing of this was kept"), self._begun(writes=True) as conn:
            yield conn
            commit(conn, self.where)

    @contextmanager
    def _begun(self, *, writes: bool) -> Iterator[Connection]:
        """A transaction that has begun; not committed here, so undone unless somebody does."""
        for tried in range(1, _TRIES + 1):
            conn = self._engine.connect().execution_options(
                isolation_level="READ COMMITTED" if writes else "REPEATABLE READ",
                postgresql_readonly=not writes,
            )
            try:
                self._begin(conn, writes=writes)
                break
            except DBAPIError as error:
                conn.close()
                if tried == _TRIES or not _passes(error):
                    raise
            except BaseException:
                conn.close()
                raise
        with conn:
            yield conn

    def _begin(self, conn: Connection, *, writes: bool) -> None:
        limits = {
            "patience": f"{PATIENCE_SECONDS * 1000:.0f}",
            "silence": f"{SILENCE_SECONDS * 1000:.0f}",
        }
        conn.execute(_BEGIN, {"school": self._school or "", **limits})
        if writes and conn.execute(_TAKE_TURN).one_or_none() is None:
            raise RecordBookError(f"{self.where}: this role may not write this school's book")

    def bring_up(self, conn: Connection, found: int) -> None:  # noqa: ARG002 - the same for each kind
        """Refused: the tables are those of all schools, and their owner's.

        Raises:
            RecordBookError: always.
        """
        raise RecordBookError(
            f"{self.where}: an earlier version of standfast made these tables; their owner brings"
            " them up to date with 'standfast book tables'"
        )

    def means_damage(self, error: DBAPIError) -> bool:
        """Whether the server says that a page or an index is broken."""
        return (_state(error) or "").startswith("XX")

    def close(self) -> None:
        """Closes every connection."""
        self._engine.dispose()

    def _told(self, kept: str = "") -> AbstractContextManager[None]:
        return errors_told(self.where, kept)


# --- the address ----------------------------------------------------------------------------


def read_address(address: str) -> URL:
    """The address, for the one driver that is used.

    Raises:
        RecordBookError: it cannot be read, or names another driver.
    """
    try:
        url = make_url(address)
    except ArgumentError:
        raise RecordBookError(
            "this is no address of a database; write postgresql://role@host/database"
        ) from None
    if url.drivername not in {"postgresql", _DRIVER}:
        raise RecordBookError(f"{url.drivername}: no driver known here; write postgresql://")
    return url.set(drivername=_DRIVER)


def without_password(url: URL) -> URL:
    """The address as it may be kept in a file."""
    return url._replace(password=None).difference_update_query(["password"])


def kept_by(owner: str, school: str, role: str) -> str:
    """The address of that school's book for the role that keeps it, in the owner's database."""
    url = without_password(read_address(owner)).set(username=role)
    return shown(url.update_query_dict({"school": school}))


def shown(url: URL) -> str:
    """The address as it may be shown and kept."""
    return without_password(url).render_as_string()


def _school_named(url: URL) -> str | None:
    named = url.query.get("school")
    return named if isinstance(named, str) else None


def engine_for(url: URL) -> Engine:
    """An engine at that address, whose errors show nothing of what was written."""
    engine = create_engine(url, connect_args=_connecting(url), hide_parameters=True)
    event.listen(engine, "connect", _set_up)
    return engine


class _WithoutNul(StrDumperUnknown):
    """Text as it goes to the server, which has no NUL: the letter for what cannot be shown instead.

    Nothing is found by it then, as in a file.  What is hashed is JSON, where NUL is written as six
    other letters, so only words about what somebody sent are ever changed.
    """

    def dump(self, obj: str) -> Buffer | None:
        return super().dump(obj.replace("\0", "\ufffd"))


def _set_up(connection: psycopg.Connection, _record: object) -> None:
    connection.adapters.register_dumper(str, _WithoutNul)


def _connecting(url: URL) -> dict[str, str]:
    """What libpq is told unless the address says otherwise."""
    usual = {
        "connect_timeout": "10",
        "application_name": "standfast",
        "client_encoding": "utf8",
        # A line that is dead is noticed in half a minute, not when the system gives up: hours.
        "keepalives_idle": "10",
        "keepalives_interval": "5",
        "keepalives_count": "3",
        "tcp_user_timeout": "25000",  # milliseconds
    }
    return {name: value for name, value in usual.items() if name not in url.query}


@contextmanager
def reached(address: str, kept: str = "") -> Iterator[tuple[Engine, str]]:
    """An engine for what is not one school's, and where that is; errors come out in words."""
    url = read_address(address).difference_update_query(["school"])
    engine = engine_for(url)
    try:
        with errors_told(shown(url), kept):
            yield engine, shown(url)
    finally:
        engine.dispose()


def tables_there(conn: Connection) -> bool:
    """Whether the tables of a record book are there, for this role to see or not."""
    named = "SELECT count(to_regclass(n)) FROM unnest(ARRAY['keepers', 'meta', 'journal']) n"
    return conn.exec_driver_sql(named).scalar() == 3  # noqa: PLR2004 - as many as are named


# --- errors ---------------------------------------------------------------------------------


@contextmanager
def errors_told(where: str, kept: str = "") -> Iterator[None]:
    """Tells what stops the record book, and what was kept, in words for whoever keeps it.

    Raises:
        RecordBookError: in place of any error of the database.
    """
    try:
        yield
    except DBAPIError as error:
        # Of a row that will not do, the server's words show what stands in it.
        shows_a_row = (_state(error) or "").startswith(("22", "23"))
        cause = None if shows_a_row else error
        said, told = _words(error)
        raise RecordBookError(f"{where}: {said}{kept}", f"{told}{kept}") from cause
    except PoolTimeoutError as error:
        told = f"too many at once here; try again{kept}"
        raise RecordBookError(f"{where}: {told}", told) from error


def commit(conn: Connection, where: str) -> None:
    """Keeps what was written.

    Raises:
        MaybeKept: the line was gone before the answer.
        DBAPIError: the database keeps nothing of it.
    """
    try:
        conn.commit()
    except DBAPIError as error:
        if not error.connection_invalidated:
            raise
        again = "it may be there or not: do the same again, what is there is not entered twice"
        raise MaybeKept(
            f"{where}: the server went away while this was being kept ({_first(error)}); {again}",
            f"the database went away while this was being kept; {again}",
        ) from error


def _state(error: DBAPIError) -> str | None:
    """The five characters by which PostgreSQL names an error; None when no server said it."""
    return error.orig.sqlstate if isinstance(error.orig, psycopg.Error) else None


def _passes(error: DBAPIError) -> bool:
    """Whether beginning once more may go well: it was a lost connection, or others in the way."""
    return error.connection_invalidated or _state(error) in {"40001", "40P01"}


def _first(error: DBAPIError) -> str:
    return (str(error.orig).strip().splitlines() or ["no reason given"])[0]


def _words(error: DBAPIError) -> tuple[str, str]:
    """What it means, and the same without the server's own words."""
    state = _state(error)
    if state is None or error.connection_invalidated:
        told = "the database server does not answer"
        return f"{told}: {_first(error)}", f"{told}; try again in a moment"
    if state not in _WORDS:
        return _first(error), "the record book gave an error"
    told = _WORDS[state].format(patience=PATIENCE_SECONDS)
    return told, told


_WORDS = {
    "55P03": "another program has been writing to this school's record book for {patience:g}"
    " seconds; wait until it is done, or end it, and try again",
    "40001": "another program wrote at the same time; try again",
    "40P01": "another program wrote at the same time; try again",
    "53100": "the server's disk is full: make room and try again",
    "53300": "the server has no connection left: end some of the others and try again",
    "42501": "this role may not do that; connect as the one that keeps the book",
    "25006": "the server takes no writing now (a stand-by?); connect to the one that does",
    "42P01": "a table of the record book is missing; run 'standfast book audit'",
}
