"""A new record book in a PostgreSQL database, made by the owner in one transaction."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from standfast.problems import RecordBookError
from standfast.store import founding, postgres
from standfast.store.book import Book
from standfast.store.names import Random
from standfast.store.transactions import Transactions


@contextmanager
def founded(owner: str, school: str, role: str, random: Random) -> Iterator[Book]:
    """That school's book at the owner's address, for the role to keep from now on.

    Tables are made when there are none.  All that is done inside the block is kept when it ends
    well, and nothing of it otherwise; nobody else sees any of it before.

    Raises:
        RecordBookError: the database or the role will not do.
    """
    with founding.owning(owner) as conn:
        founding.make_tables(conn)
        founding.admit(conn, school, role)
        where = postgres.kept_by(owner, school, role)
        yield Book(Transactions(_OwnersDatabase(conn, where), random))


class _OwnersDatabase(postgres.InPostgres):
    """A book in a transaction of the owner, which whoever began it ends."""

    def __init__(self, conn: Connection, where: str) -> None:
        self._conn = conn
        self.where = where

    def ready(self, *, create: bool) -> None:
        """Nothing: the tables are there."""

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """The one transaction."""
        yield self._conn

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """The one transaction: nobody else writes into a school's book that is just begun."""
        yield self._conn

    def bring_up(self, conn: Connection, found: int) -> None:  # noqa: ARG002 - the same for each kind
        """Refused: the tables are those of all schools.

        Raises:
            RecordBookError: always.
        """
        raise RecordBookError(f"{self.where}: the tables are those of all schools")

    def means_damage(self, error: DBAPIError) -> bool:
        """No: any error ends the transaction, and is told by whoever began it."""
        del error
        return False

    def close(self) -> None:
        """Nothing: whoever began the transaction ends it."""
