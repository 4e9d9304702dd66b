"""The file of a record book in the hands of somebody who goes around the program."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from tests.store.school import School

from standfast.store.tables import DERIVED


@contextmanager
def raw(school: School) -> Iterator[sqlite3.Connection]:
    """A plain connection to the file, without our settings; commits at the end."""
    connection = sqlite3.connect(school.book.file)
    try:
        with connection:
            yield connection
    finally:
        connection.close()


@contextmanager
def unguarded(school: School) -> Iterator[sqlite3.Connection]:
    """The same, with every trigger taken away and put back afterwards."""
    with raw(school) as connection:
        query = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        guards = connection.execute(query).fetchall()
        for name, _ in guards:
            connection.execute(f"DROP TRIGGER {name}")
        yield connection
        for _, sql in guards:
            connection.execute(sql)


def rows(school: School, query: str, *values: object) -> list[tuple[Any, ...]]:
    """What a query on the file gives."""
    with raw(school) as connection:
        return connection.execute(query, values).fetchall()


def dump(school: School) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every derived table, in the order of its key."""
    names = [table.name for table in DERIVED]
    return {name: rows(school, f"SELECT * FROM {name} ORDER BY 1") for name in names}  # noqa: S608
