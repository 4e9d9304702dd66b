"""When a transaction begins, who has the turn to write, and which of them belong together."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine

from standfast.store import names, sqlite
from standfast.store.queue import WritersQueue
from standfast.store.writing import Reading, Writing, next_seq


class Transactions:
    """The transactions on one record book; those of a thread may be joined."""

    def __init__(self, file: Path, engine: Engine, random: names.Random | None) -> None:
        self._file = file
        self._engine = engine
        self._random = random
        self._queue = WritersQueue(file.with_name(f"{file.name}-queue"), sqlite.PATIENCE_SECONDS)
        self._names = names.NOBODY
        self._mine = threading.local()

    @property
    def _joined(self) -> Writing | None:
        return getattr(self._mine, "writing", None)

    def close(self) -> None:
        """Closes the file."""
        self._engine.dispose()
        self._queue.close()

    @contextmanager
    def reading(self) -> Iterator[Reading]:
        """A transaction that sees one state of the book."""
        if self._joined is not None:
            yield self._joined
            return
        with sqlite.errors_told(self._file), self._engine.connect() as conn:
            conn.begin()  # never committed: SQLite may refuse that after it met a broken page
            known = self._names = names.current(conn, self._names)
            yield Reading(conn, known)

    @contextmanager
    def writing(self) -> Iterator[Writing]:
        """A transaction with the turn to write; durable when the block has ended well."""
        if self._joined is not None:
            with _undone_alone(self._joined):
                yield self._joined
            return
        with sqlite.errors_told(self._file, "; nothing of this was kept"), self._queue.turn():
            connection = self._engine.connect().execution_options(**{sqlite.WRITING: True})
            with connection as conn, conn.begin():
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
        """Takes deleted content out of SQLite's log, unless a transaction is still open."""
        if self._joined is None:
            with sqlite.errors_told(self._file):
                sqlite.forget_deleted(self._engine)


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
