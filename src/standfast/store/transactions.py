"""When a transaction begins, who has the turn to write, and which of them belong together."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from standfast.store import names
from standfast.store.database import Database
from standfast.store.writing import Reading, Writing, next_seq


class Transactions:
    """The transactions on one record book; those of a thread may be joined."""

    def __init__(self, database: Database, random: names.Random | None) -> None:
        self.database = database
        self._random = random
        self._names = names.NOBODY
        self._mine = threading.local()

    @property
    def _joined(self) -> Writing | None:
        return getattr(self._mine, "writing", None)

    def close(self) -> None:
        """Lets go of the database."""
        self.database.close()

    @contextmanager
    def reading(self) -> Iterator[Reading]:
        """A transaction that sees one state of the book."""
        if self._joined is not None:
            yield self._joined
            return
        with self.database.reading() as conn:
            known = self._names = names.current(conn, self._names)
            yield Reading(conn, known)

    @contextmanager
    def writing(self) -> Iterator[Writing]:
        """A transaction with the turn to write; durable when the block has ended well."""
        if self._joined is not None:
            with _undone_alone(self._joined):
                yield self._joined
            return
        with self.database.writing() as conn:
            known = names.current(conn, self._names)
            writing = Writing(conn, known, next_seq(conn), self._random)
            yield writing
        self._names = writing.names

    @contextmanager
    def together(self) -> Iterator[None]:
        """Joins what this thread does in the block into one transaction."""
        with self.writing() as writing:
            outer, self._mine.writing = self._joined, writing
            try:
                yield
            finally:
                self._mine.writing = outer

    def forget_deleted(self) -> None:
        """Takes deleted content out of wherever it lies, unless a transaction is still open."""
        if self._joined is None:
            self.database.forget_deleted()


@contextmanager
def _undone_alone(writing: Writing) -> Iterator[None]:
    """Undoes what the block wrote, and only that, when it does not end well."""
    before = (writing.names, writing.next_seq)
    try:
        with writing.conn.begin_nested():
            yield
    except BaseException:
        writing.names, writing.next_seq = before
        raise
