"""Moving a record book from its file into a PostgreSQL database."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Table, select, update

from standfast.problems import RecordBookError
from standfast.store import founding, postgres, sqlite
from standfast.store.audit import rebuild
from standfast.store.connect import open_book
from standfast.store.heads import tree_now
from standfast.store.names import NOBODY
from standfast.store.tables import DERIVED, add_rows, journal, meta, metadata
from standfast.store.writing import Writing, next_seq

_AT_ONCE = 5_000  # rows in memory


@dataclass(frozen=True)
class Moved:
    """Where a book is now."""

    address: str
    """That of the role that keeps it; without a password."""
    entries: int
    root: bytes
    """Of the tree over them: the same as before."""
    file: Path
    """The book as it was, under another name."""


def move_book(file: Path, owner: str, school: str, role: str) -> Moved:
    """Copies the whole book of that file to the owner's address, and puts the file aside.

    The school's book there is begun, tables are made when there are none, and the role is let in.
    Nothing changes anywhere unless everything went well.  What was killed meanwhile is ended by the
    same again: a book that is there already is then the same as the file, or the one put aside.

    Raises:
        RecordBookError: another program has the file open, the database or the role will not do,
            or that school has another book there.
    """
    aside = file.with_name(f"{file.name}-moved")
    is_aside = aside.exists() and not file.exists()
    if aside.exists() and not is_aside:
        raise RecordBookError(
            f"{aside}: a book was moved from here before; put that file elsewhere"
        )
    now = aside if is_aside else file
    with open_book(now):
        pass  # brings it up to date, so that both sides have the same tables
    database = sqlite.SqliteDatabase(now)
    try:
        # The turn is kept until the file is aside: nothing is written that would stay behind.
        turn = database.reading() if is_aside else database.writing()
        with sqlite.nobody_else(now), turn as source:
            with founding.owning(owner) as conn:
                founding.make_tables(conn)
                founding.admit(conn, school, role)
                root = _copy_book(source, conn)
                entries = next_seq(conn) - 1
            if not is_aside:
                file.rename(aside)
    finally:
        database.close()
    return Moved(postgres.kept_by(owner, school, role), entries, root, aside)


def _copy_book(source: Connection, conn: Connection) -> bytes:
    """Copies everything into the school that the connection is; gives the root of the tree."""
    if next_seq(conn) > 1:
        return _same_book(source, conn)
    for table in _in_order():
        _copy(source, conn, table)
    for key, value in source.execute(select(meta)).all():
        conn.execute(update(meta).where(meta.c.key == key).values(value=value))
    rebuild(Writing(conn, NOBODY, next_seq(conn), None))
    root = tree_now(conn).root()
    if root != tree_now(source).root():
        raise RecordBookError("the entries did not arrive as they were; nothing was moved")
    return root


def _same_book(source: Connection, conn: Connection) -> bytes:
    """The root of the tree, when everything came with a move that was stopped after it.

    Raises:
        RecordBookError: something is there that is not here, or is missing.
    """
    root = tree_now(conn).root()
    others = [table for table in _in_order() if table is not journal]
    if root == tree_now(source).root() and all(
        _rows(conn, one) == _rows(source, one) for one in others
    ):
        return root
    raise RecordBookError(
        "that school has a book there already, with entries in it, and it is not this one; whoever"
        " owns the database looks which of the two goes on"
    )


def _rows(conn: Connection, table: Table) -> set[tuple[object, ...]]:
    return {tuple(row) for row in conn.execute(select(table))}


def _in_order() -> Iterator[Table]:
    """Every table that is not made from the journal, after those that it points at."""
    yield from (one for one in metadata.sorted_tables if one not in {*DERIVED, meta})


def _copy(source: Connection, conn: Connection, table: Table) -> None:
    query = select(table).order_by(table.columns[0]).execution_options(yield_per=_AT_ONCE)
    for some in source.execute(query).partitions():
        add_rows(conn, table, [tuple(row) for row in some])
