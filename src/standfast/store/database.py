"""What a record book asks of the database in which it is kept; each kind has a class of its own.

`sqlite.SqliteDatabase` and `postgres.PostgresDatabase` answer.  Whatever else is in this package
is written for both alike and asks here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Protocol

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError


class Database(Protocol):
    """One record book's place in a database.

    Errors of the database come out of `reading`, `writing`, `ready` and `forget_deleted` as
    `RecordBookError`, with words for whoever keeps the book.
    """

    @property
    def where(self) -> str | Path:
        """What opens it again: the file, or the address without a password."""
        ...

    def ready(self, *, create: bool) -> None:
        """Looks whether tables are there; makes them with `create`, where that is possible.

        Raises:
            RecordBookError: there are none, or they cannot be reached.
        """
        ...

    def reading(self) -> AbstractContextManager[Connection]:
        """A transaction that sees one state of the book and writes nothing."""
        ...

    def writing(self) -> AbstractContextManager[Connection]:
        """A transaction with the turn to write; durable when the block has ended well."""
        ...

    def bring_up(self, conn: Connection, found: int) -> None:
        """Brings the tables of that format to today's; derived ones are empty afterwards."""
        ...

    def schema(self, conn: Connection) -> Mapping[str, str]:
        """Name to `CREATE ...` of every table, index and guard that somebody made."""
        ...

    def schema_as_written(self) -> Mapping[str, str]:
        """What `schema` gives for a new book."""
        ...

    def faults(self, conn: Connection) -> Iterator[str]:
        """What the database's own checks find: broken pages, rows that point nowhere."""
        ...

    def cautions(self, conn: Connection) -> Iterator[str]:
        """What may lose acknowledged entries, and how to mend it; no fault of the book."""
        ...

    def may_ask(self, conn: Connection) -> tuple[str, ...]:
        """The roles of a federation, which may ask for sums over schools that agreed."""
        ...

    def means_damage(self, error: DBAPIError) -> bool:
        """Whether it says that the content is broken, not that it cannot be reached."""
        ...

    def forget_deleted(self) -> None:
        """Takes what was deleted out of wherever it still lies, as far as that can be done."""
        ...

    def close(self) -> None:
        """Lets go of every connection."""
        ...
