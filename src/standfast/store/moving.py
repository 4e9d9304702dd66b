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
from standfast.store.tables import DERIVED, add_rows, meta, metadata
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
    Nothing changes anywhere unless everything went well.

    Raises:
        RecordBookError: another program has the file open, the database or the role will not do,
            or that school has a book there already.
    """
    aside = file.with_name(f"{file.name}-moved")
    if aside.exists():
        raise RecordBookError(
            f"{aside}: a book was moved from here before; put that file elsewhere"
        )
    with open_book(file):
        pass  # brings it up to date, so that both sides have the same tables
    database = sqlite.SqliteDatabase(file)
    try:
        # The turn is kept until the file is aside: nothing is written that would stay behind.
        with sqlite.nobody_else(file), database.writing() as source:
            with founding.owning(owner) as conn:
                founding.make_tables(conn)
                founding.admit(conn, school, role)
                root = _copy_book(source, conn)
                entries = next_seq(conn) - 1
            file.rename(aside)
    finally:
        database.close()
    return Moved(postgres.kept_by(owner, school, role), entries, root, aside)


def _copy_book(source: Connection, conn: Connection) -> bytes:
    """Copies everything into the school that the connection is; gives the root of the tree."""
    if next_seq(conn) > 1:
        raise RecordBookError("that school has a book there already, with entries in it")
    for table in _in_order():
        _copy(source, conn, table)
    for key, value in source.execute(select(meta)).all():
        conn.execute(update(meta).where(meta.c.key == key).values(value=value))
    rebuild(Writing(conn, NOBODY, next_seq(conn), None))
    root = tree_now(conn).root()
    if root != tree_now(source).root():
        raise RecordBookError("the entries did not arrive as they were; nothing was moved")
    return root


def _in_order() -> Iterator[Table]:
    """Every table that is not made from the journal, after those that it points at."""
    yield from (one for one in metadata.sorted_tables if one not in {*DERIVED, meta})


def _copy(source: Connection, conn: Connection, table: Table) -> None:
    query = select(table).order_by(table.columns[0]).execution_options(yield_per=_AT_ONCE)
    for some in source.execute(query).partitions():
        add_rows(conn, table, [tuple(row) for row in some])
