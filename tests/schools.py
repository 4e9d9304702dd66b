"""Where the record books of the tests' schools are: in their files, or all of them in PostgreSQL.

With `STANDFAST_TEST_DATABASE=postgresql` whatever copies a school with `copied` finds its book in a
database of its own, on the cluster of the tests, and the folder names it as a school's does
(`standfast.url`).  Tests that are about SQLite's file (`of_the_file`) are left out then.
"""

from __future__ import annotations

import os
import secrets
import shutil
from datetime import datetime, timezone
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from sqlalchemy import make_url, select

from standfast.desk.moving import move
from standfast.desk.opening import ADDRESS_FILE, BOOK_FILE, Moment, where_the_book_is
from standfast.store.connect import open_book
from standfast.store.tables import metadata

if TYPE_CHECKING:
    from tests.store.cluster import Cluster

IN_POSTGRES = os.environ.get("STANDFAST_TEST_DATABASE", "sqlite") == "postgresql"

_NOW = datetime(2026, 11, 24, 9, tzinfo=timezone.utc)


class Databases:
    """Of the schools that were copied, in a worker's run."""

    def __init__(self) -> None:
        self.cluster: Cluster | None = None
        self.moved: dict[tuple[str, int, int], str] = {}
        """The database with the book of a folder's file, by what the file was then."""


DATABASES = Databases()


def copied(source: Path, target: Path) -> Path:
    """A copy of a school's folder, and of its book, at that place."""
    folder = Path(shutil.copytree(source, target))
    keep_on_server(folder, source)
    return folder


def keep_on_server(folder: Path, source: Path | None = None) -> None:
    """Puts the book of that folder, a copy of `source`, into a database of its own; if at all."""
    cluster = DATABASES.cluster
    if cluster is None:
        return
    if (folder / ADDRESS_FILE).exists():
        template = str(make_url(_address(folder)).database)
    elif (folder / BOOK_FILE).exists():
        template = _moved(cluster, source or folder)
        for file in folder.glob(f"{BOOK_FILE}*"):
            file.unlink()
    else:
        return
    cluster.let_go(template)
    _name(folder, cluster, cluster.new_database(template))


def place(folder: Path) -> str | Path:
    """Where to make a new book that needs no school's folder: there, or an address."""
    from tests.store.cluster import KEEPER

    cluster = DATABASES.cluster
    return folder if cluster is None else cluster.address(KEEPER, cluster.new_database("founded"))


def tables(folder: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table of a school's book."""
    with open_book(where_the_book_is(folder)) as book, book._reading() as reading:
        return {
            table.name: sorted((tuple(r) for r in reading.conn.execute(select(table))), key=repr)
            for table in metadata.sorted_tables
        }


def bytes_of_book(folder: Path) -> bytes:
    """All that the book's files are; of one on a server all that its rows hold."""
    if not (folder / ADDRESS_FILE).exists():
        return b"".join(path.read_bytes() for path in folder.glob(f"{BOOK_FILE}*"))
    values = (v for rows in tables(folder).values() for row in rows for v in row)
    return b"\n".join(v if isinstance(v, bytes) else str(v).encode() for v in values)


def _address(folder: Path) -> str:
    return (folder / ADDRESS_FILE).read_text("utf-8").splitlines()[-1]


def _name(folder: Path, cluster: Cluster, database: str) -> None:
    from tests.store.cluster import KEEPER

    (folder / ADDRESS_FILE).write_text(cluster.address(KEEPER, database) + "\n", "utf-8")


def _moved(cluster: Cluster, source: Path) -> str:
    """The name of a database with the book of that file; made once, then copied."""
    from tests.store.cluster import KEEPER, OWNER

    file = (source / BOOK_FILE).resolve()
    now = (str(file), file.stat().st_size, file.stat().st_mtime_ns)
    if now not in DATABASES.moved:
        name = cluster.new_database(lasts=True)
        with TemporaryDirectory() as scratch:
            copy = Path(shutil.copytree(source, Path(scratch) / "school"))
            owner = cluster.address(OWNER, name)
            move(copy, owner, KEEPER, Moment(_NOW, "test", secrets.token_bytes))
        DATABASES.moved[now] = name
    return DATABASES.moved[now]
