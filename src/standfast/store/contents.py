"""Everything that a record book holds, as lines of text that need no program of ours to be read.

A part is a table, a line a row.  A line of the journal is the very bytes of which the entry's leaf
is the hash (`journal.canonical_entry`), so that whoever has the file can work out the root with
SHA-256 alone; lines of the other parts are RFC 8785 objects of the row's columns, bytes in
hexadecimal.  Derived tables are no parts: they come from the journal.
"""

from __future__ import annotations

import json
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import select

from standfast.model.canonical import canonical
from standfast.problems import RecordBookError
from standfast.store.audit import entries
from standfast.store.database import Database
from standfast.store.heads import Head, head_now
from standfast.store.journal import canonical_entry
from standfast.store.tables import (
    FORMAT,
    accounts,
    confirmations,
    devices,
    failures,
    heads,
    held,
    identity,
    journal,
    meta,
    records,
    sessions,
    settled,
)
from standfast.store.transactions import Transactions
from standfast.store.writing import Reading, Writing

if TYPE_CHECKING:
    from standfast.store.book import Book

PARTS = (
    *(journal, identity, heads, meta, accounts, devices, records, held, settled, confirmations),
)
"""In the order in which they are written and read: what others point at comes first."""

LEFT_OUT = (sessions, failures)
"""Whoever was signed in does it again, so that a copy lets nobody in who took a session's token;
and nobody is kept waiting for what went wrong before."""

FORMAT_KEY = "format"
"""The row of `meta` that is the new book's own."""

_AT_ONCE = 5_000  # rows in memory


@dataclass(frozen=True)
class Contents:
    """What the book holds in one transaction; good while that lasts."""

    head: Head
    """Over every entry, from the leaves as they are kept."""
    format: int
    """Of the book."""
    reading: Reading

    def lines(self, part: str) -> Generator[bytes, None, None]:
        """The rows of a part, in order, each as one line that ends with a line feed."""
        if part == journal.name:
            yield from (canonical_entry(*entry[:-1]) + b"\n" for entry in entries(self.reading))
            return
        table = next(one for one in PARTS if one.name == part)
        query = select(table).order_by(*table.primary_key.columns)
        with self.reading.conn.execute(query.execution_options(yield_per=_AT_ONCE)) as rows:
            for row in rows:
                if table is not meta or row.key != FORMAT_KEY:
                    cells = (cell.hex() if isinstance(cell, bytes) else cell for cell in row)
                    yield canonical(dict(zip(table.columns.keys(), cells, strict=True))) + b"\n"


@dataclass(frozen=True)
class Still:
    """A book that does not change while it is looked at, and what it holds."""

    book: Book
    """Answers every question from the one transaction."""
    contents: Contents


class StillTransactions(Transactions):
    """Every question in one transaction that only reads; whoever opened that ends it."""

    def __init__(self, database: Database, reading: Reading) -> None:
        super().__init__(database, None)
        self._one = reading

    @contextmanager
    def reading(self) -> Iterator[Reading]:
        """The one transaction."""
        yield self._one

    @contextmanager
    def writing(self) -> Iterator[Writing]:
        """Nothing is entered while the book is held still.

        Raises:
            RecordBookError: always.
        """
        raise RecordBookError(
            f"{self.database.where}: while the book is copied out it is only read"
        )
        yield  # a generator, so that it is a context manager like the one it stands for

    def close(self) -> None:
        """Nothing: the book that was asked for this goes on."""


def contents_of(reading: Reading, at: datetime) -> Contents:
    """What the book holds at that instant, which is now."""
    return Contents(head_now(reading, at), FORMAT, reading)


def erased_in(reading: Reading) -> tuple[str, ...]:
    """The opaque ids of those who were erased, in the order of the journal."""
    query = select(journal.c.body).where(journal.c.kind == "erased").order_by(journal.c.seq)
    return tuple(json.loads(body)["person"] for body in reading.conn.scalars(query))
