"""Opening a record book, and making a new one."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Engine, insert, select, update

from standfast.problems import RecordBookError
from standfast.store import sqlite
from standfast.store.audit import rebuild
from standfast.store.book import Book
from standfast.store.names import NOBODY, Random, first_version
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
    """The record book in that file, in that folder, or at that `sqlite:///` address.

    `create` makes it when there is none yet.  `random` gives so many random bytes, for the
    opaque ids and salts of new people; without it no new person can be entered.  `cache_mib` is
    what each connection may keep of the file in memory.

    Raises:
        RecordBookError: there is none, the file is none, it cannot be opened, or a later version
            of this program wrote it.
    """
    file = _file(where)
    with sqlite.errors_told(file):
        _check_there(file, create=create)
        engine = sqlite.engine_for(file, cache_mib)
        try:
            if create:
                _make(engine)
            if _format(file, engine) < FORMAT:
                _bring_up_to_date(engine)
        except BaseException:
            engine.dispose()
            raise
    return Book(file, Transactions(file, engine, random))


def _file(where: str | Path) -> Path:
    text = str(where)
    if text.startswith(_SQLITE):
        text = text.removeprefix(_SQLITE)
    elif "://" in text:
        raise RecordBookError(
            f"{text.partition(':')[0]}: record books are kept in SQLite files so far; name a file"
        )
    file = Path(text)
    return file / BOOK_FILE if file.is_dir() else file


def _check_there(file: Path, *, create: bool) -> None:
    if not file.parent.is_dir():
        raise RecordBookError(f"{file}: there is no folder {file.parent}; make it first")
    if create:
        return
    if not file.exists():
        raise RecordBookError(f"{file}: there is no record book; 'standfast new' makes one")
    if not file.stat().st_size:
        raise RecordBookError(
            f"{file}: the file is empty; put the last good copy of the record book there, or delete"
            " it if the book never had an entry"
        )


def _make(engine: Engine) -> None:
    sqlite.use_wal(engine)
    with engine.connect().execution_options(**{sqlite.WRITING: True}) as conn, conn.begin():
        if sqlite.schema(conn):
            return
        sqlite.make_tables(conn)
        conn.execute(insert(meta), [{"key": "format", "value": str(FORMAT)}, first_version()])


def _format(file: Path, engine: Engine) -> int:
    """The format that the book is kept in, if this program knows it."""
    with engine.connect() as conn, conn.begin():
        if meta.name not in sqlite.schema(conn):
            raise RecordBookError(f"{file}: this file is no record book")
        found = conn.scalar(_FORMAT_NOW) or "0"
    if not found.isdecimal() or int(found) < 1:
        raise RecordBookError(f"{file}: this file is no record book")
    if int(found) > FORMAT:
        raise RecordBookError(
            f"{file}: a later version of standfast wrote this record book (its format is {found},"
            f" this program knows {FORMAT}); update standfast"
        )
    return int(found)


_FORMAT_NOW = select(meta.c.value).where(meta.c.key == "format")


def _bring_up_to_date(engine: Engine) -> None:
    """Makes the derived tables as they are today from the journal, which stays as it is."""
    with engine.connect().execution_options(**{sqlite.WRITING: True}) as conn, conn.begin():
        if int(conn.scalar(_FORMAT_NOW) or 0) == FORMAT:
            return  # another program was faster
        sqlite.make_derived_anew(conn)
        rebuild(Writing(conn, NOBODY, next_seq(conn), None))
        conn.execute(update(meta).where(meta.c.key == "format").values(value=str(FORMAT)))
