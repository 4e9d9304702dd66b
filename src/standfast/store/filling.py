"""A record book from the lines of another: checked first, then filled, whole or not at all."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, update

from standfast.problems import BadInput, Refused
from standfast.store.book import Book
from standfast.store.connect import open_book
from standfast.store.derived import Batch, derive
from standfast.store.incoming import Incoming, Limit
from standfast.store.journal import Entry
from standfast.store.names import NOBODY, Random
from standfast.store.tables import add_rows, journal, meta
from standfast.store.writing import next_seq

Parts = Callable[[], Iterable[tuple[str, str, Iterable[bytes]]]]
"""Gives, each time anew, the parts in their order: name, what a person calls the file, lines."""


def check(parts: Parts, until: int | str | None = None) -> Incoming:
    """Reads everything and keeps nothing; gives what was counted, with every fault."""
    return _read(parts, Incoming(Limit(until)))


def fill(where: str | Path, parts: Parts, random: Random, until: int | str | None = None) -> Book:
    """The new record book at that place, with what the parts say.

    Raises:
        BadInput: the parts have faults; nothing was kept.
        Refused: there is a record book that holds something.
        RecordBookError: it cannot be written.
    """
    book = open_book(where, create=True, random=random)
    try:
        fill_book(book, parts, until)
    except BaseException:
        book.close()
        raise
    return book


def fill_book(book: Book, parts: Parts, until: int | str | None = None) -> None:
    """Puts what the parts say into a book that is open and holds nothing; raises as `fill`."""
    with book.filling() as writing:
        if next_seq(writing.conn) > 1 or writing.names.handles:
            raise Refused(
                f"{book.where}: a record book is there, and holds something; name another, or, if a"
                " restoring into it was stopped, type that one again as it was"
            )
        read = _read(parts, Incoming(Limit(until), put=_into(writing.conn)))
        if read.problems:
            raise BadInput(read.problems)
        writing.names = NOBODY  # so that they are read anew


def _read(parts: Parts, incoming: Incoming) -> Incoming:
    for part, file, lines in parts():
        incoming.take(part, file, lines)
    return incoming


def _set(conn: Connection, rows: Sequence[tuple[str, str]]) -> None:
    """What a new book says of itself takes what the old one said; its format stays its own."""
    for key, value in rows:
        if not conn.execute(update(meta).where(meta.c.key == key).values(value=value)).rowcount:
            add_rows(conn, meta, [(key, value)])


def _into(conn: Connection) -> Callable[[Table, Sequence[tuple[Any, ...]]], None]:
    def put(table: Table, rows: Sequence[tuple[Any, ...]]) -> None:
        if table is meta:
            _set(conn, rows)
            return
        add_rows(conn, table, rows)
        if table is journal:
            batch = Batch()
            for entry in map(Entry._make, rows):
                derive(batch, entry.seq, entry.id, entry.kind, json.loads(entry.body))
            batch.flush(conn)

    return put
