"""A record book in the hands of somebody who goes around the program.

Whoever has the file, or is the server's superuser: neither foreign keys nor roles stop them.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Protocol

import psycopg
from tests.store.school import School

from standfast.store.tables import DERIVED


class Cursor(Protocol):
    """What both drivers have."""

    @property
    def description(self) -> Any: ...  # noqa: ANN401 - of either driver

    def fetchone(self) -> Any: ...  # noqa: ANN401

    def fetchall(self) -> list[Any]: ...


Raw = Callable[..., Cursor]
"""Does a statement; its values stand for question marks."""


@contextmanager
def raw(school: School) -> Iterator[Raw]:
    """Without our settings; commits at the end."""
    if school.server is None:
        connection = sqlite3.connect(school.book.file)
        try:
            with connection:
                yield connection.execute
        finally:
            connection.close()
        return
    with school.server() as server, server.transaction():
        server.execute("SET session_replication_role = replica")
        yield lambda statement, values=(): _on_server(server, statement, values)


def _on_server(
    server: psycopg.Connection, statement: str, values: tuple[object, ...]
) -> psycopg.Cursor:
    return server.execute(statement.replace("?", "%s").encode(), values or None)


@contextmanager
def unguarded(school: School) -> Iterator[Raw]:
    """The same, with every trigger taken away and put back afterwards."""
    with raw(school) as do:
        guards = _triggers(school, do)
        for off, _ in guards:
            do(off)
        yield do
        for _, on in guards:
            do(on)


def _triggers(school: School, do: Raw) -> list[tuple[str, str]]:
    if school.server is None:
        query = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        return [(f"DROP TRIGGER {name}", sql) for name, sql in do(query).fetchall()]
    query = """SELECT tgrelid::regclass, tgname FROM pg_trigger WHERE NOT tgisinternal"""
    return [
        (
            f"ALTER TABLE {of} DISABLE TRIGGER {name}",
            f"ALTER TABLE {of} ENABLE ALWAYS TRIGGER {name}",
        )
        for of, name in do(query).fetchall()
    ]


def rows(school: School, query: str, *values: object) -> list[tuple[Any, ...]]:
    """What a query gives, without the column that says whose book it is."""
    with raw(school) as do:
        found = do(query, values)
        kept = [at for at, column in enumerate(found.description) if column[0] != "school"]
        return [tuple(row[at] for at in kept) for row in found.fetchall()]


def dump(school: School) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every derived table, sorted."""
    names = [table.name for table in DERIVED]
    return {name: sorted(rows(school, f"SELECT * FROM {name}"), key=repr) for name in names}  # noqa: S608
