"""The record book as it stood at an earlier time: what had been entered by then, and nothing else.

A copy in memory of the entries made until that instant, from which the derived tables are made as
they are for any book; so every question can be asked of it, and none has a second rule.  Names are
those of now: one that was erased stays erased.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path

from sqlalchemy import Connection, select

from standfast.problems import RecordBookError
from standfast.store import audit, sqlite
from standfast.store.names import NOBODY
from standfast.store.tables import add_rows, identity, journal, meta
from standfast.store.transactions import Transactions
from standfast.store.writing import Reading, Writing

_AT_ONCE = 5_000


class PastTransactions(Transactions):
    """Transactions that only read."""

    @contextmanager
    def writing(self) -> Iterator[Writing]:
        """Nothing is ever entered into the past.

        Raises:
            RecordBookError: always.
        """
        raise RecordBookError(
            f"{self.database.where}: as it stood at an earlier time it is only read"
        )
        yield  # a generator, so that it is a context manager like the one it stands for


def as_it_stood(where: str | Path, reading: Reading, until: str) -> PastTransactions:
    """The transactions on a copy of the book with the entries made until that instant, included.

    `until` is an instant as the journal writes it (`journal.instant`).  Each entry counts by its
    own time: one whose clock was wrong is where its clock said.
    """
    database, engine = sqlite.in_memory(where)
    with engine.begin() as conn:
        sqlite.make_tables(conn)
        _copy(reading, conn, until)
        audit.rebuild(Writing(conn, NOBODY, 1, None))
    return PastTransactions(database, None)


def _copy(reading: Reading, conn: Connection, until: str) -> None:
    for table in (meta, identity):
        add = [tuple(row) for row in reading.conn.execute(select(table))]
        if add:
            add_rows(conn, table, add)
    earlier = select(journal).where(journal.c.at <= until).order_by(journal.c.seq)
    rest = iter(reading.conn.execute(earlier.execution_options(yield_per=_AT_ONCE)))
    conn.exec_driver_sql("DROP TRIGGER journal_grows_in_order")  # numbers may be left out here
    while some := [tuple(row) for row in islice(rest, _AT_ONCE)]:
        add_rows(conn, journal, some)
