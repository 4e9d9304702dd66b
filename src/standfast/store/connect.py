"""Opening a record book, and making a new one."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, select, update

from standfast.problems import RecordBookError
from standfast.store import sqlite
from standfast.store.audit import rebuild
from standfast.store.book import Book
from standfast.store.database import Database
from standfast.store.names import NOBODY, Random
from standfast.store.tables import FORMAT, meta
from standfast.store.transactions import Transactions
from standfast.store.writing import Writing, next_seq

BOOK_FILE = "standfast.db"
_SQLITE = "sqlite:///"


def open_book(
    where: str | Path,
    *,
    create: bool = False,
    random: Random | None = None,
    cache_mib: int = sqlite.CACHE_MIB,
) -> Book:
    """The record book in that file, in that folder, or at that address.

    An address begins with `sqlite:///` or `postgresql://`; the school that is meant in a database
    of several stands at its end, as `?school=sandhof`.

    `create` makes a file when there is none yet.  `random` gives so many random bytes, for the
    opaque ids and salts of new people; without it no new person can be entered.  `cache_mib` is
    what each connection may keep of the file in memory.

    Raises:
        RecordBookError: there is none, the file is none, it cannot be opened, or a later version
            of this program wrote it.
    """
    database = _database(where, cache_mib)
    try:
        database.ready(create=create)
        with database.reading() as conn:
            found = _format(database, conn)
        if found < FORMAT:
            _bring_up_to_date(database)
    except BaseException:
        database.close()
        raise
    return Book(Transactions(database, random))


def _database(where: str | Path, cache_mib: int) -> Database:
    text = str(where)
    if text.startswith(("postgresql://", "postgresql+")):
        from standfast.store.postgres import PostgresDatabase

        return PostgresDatabase(text)
    return sqlite.SqliteDatabase(_file(text), cache_mib)


def _file(text: str) -> Path:
    if text.startswith(_SQLITE):
        text = text.removeprefix(_SQLITE)
    elif "://" in text:
        raise RecordBookError(
            f"{text.partition(':')[0]}: a record book is kept in an SQLite file or at a"
            " postgresql:// address; name one of these"
        )
    file = Path(text)
    return file / BOOK_FILE if file.is_dir() else file


def _format(database: Database, conn: Connection) -> int:
    """The format that the book is kept in, if this program knows it."""
    found = conn.scalar(_FORMAT_NOW) or "0"
    if not found.isdecimal() or int(found) < 1:
        raise RecordBookError(f"{database.where}: this file is no record book")
    if int(found) > FORMAT:
        raise RecordBookError(
            f"{database.where}: a later version of standfast wrote this record book (its format is"
            f" {found}, this program knows {FORMAT}); update standfast"
        )
    return int(found)


_FORMAT_NOW = select(meta.c.value).where(meta.c.key == "format")


def _bring_up_to_date(database: Database) -> None:
    """Takes the steps to today's format, and fills the derived tables from the journal."""
    with database.writing() as conn:
        found = _format(database, conn)
        if found == FORMAT:
            return  # another program was faster
        database.bring_up(conn, found)
        rebuild(Writing(conn, NOBODY, next_seq(conn), None))
        conn.execute(update(meta).where(meta.c.key == "format").values(value=str(FORMAT)))
