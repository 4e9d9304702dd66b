"""What steps do to tables, alike in a file and in PostgreSQL; inside a step only.

A step has tables of its own, as they were on its day: those of `tables` go on changing.  In
PostgreSQL each is made as a table of several schools (`postgres_tables`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

from alembic import op
from sqlalchemy import Column, MetaData, Table, Text, inspect

from standfast.store import postgres_tables

_BEFORE = "standfast_before"


def in_postgres() -> bool:
    """Whether the book is there, not in a file."""
    return op.get_context().dialect.name == "postgresql"


def is_there(table: str) -> bool:
    """Whether there is such a table."""
    return inspect(op.get_bind()).has_table(table)


def columns(table: str) -> frozenset[str]:
    """The names of its columns."""
    return frozenset(one["name"] for one in inspect(op.get_bind()).get_columns(table))


def make_missing(tables: Iterable[Table]) -> None:
    """Makes those that are not there, each after those that it points at."""
    if in_postgres():
        _of_schools()
    for table in tables:
        if not is_there(table.name):
            _make(table)


def _of_schools() -> None:
    """What only PostgreSQL has: who keeps which school's book, and whose turn it is."""
    conn = op.get_bind()
    if not is_there("keepers"):
        postgres_tables.make_keepers(conn)
    if not is_there("turns"):
        turns = Table("turns", MetaData(), Column("school", Text(collation="C"), primary_key=True))
        postgres_tables.make_table(conn, turns)


def make_anew(table: Table, values: Mapping[str, str]) -> None:
    """Makes a table anew with all that is in it; `values` says what fills a column, in SQL.

    Columns that are not named keep what they have.  For a table that no other points at; guards
    are put back after the last step.
    """
    _free_names(table.name)
    op.rename_table(table.name, _BEFORE)
    _make(table)
    names = [column.name for column in table.columns]
    sources = [values.get(name, name) for name in names]
    if in_postgres():
        names, sources = [*names, "school"], [*sources, "school"]
        for one in (_BEFORE, table.name):  # else only the rows of one school are seen
            op.execute(f"ALTER TABLE {one} NO FORCE ROW LEVEL SECURITY")
    op.execute(
        f"INSERT INTO {table.name} ({', '.join(names)}) SELECT {', '.join(sources)} FROM {_BEFORE}"
    )
    op.drop_table(_BEFORE)
    if in_postgres():
        op.execute(f"ALTER TABLE {table.name} FORCE ROW LEVEL SECURITY")


def _free_names(table: str) -> None:
    """Takes indexes and keys away, whose names the new table needs."""
    there = inspect(op.get_bind())
    keys = [one["name"] for one in there.get_unique_constraints(table)]
    for index in there.get_indexes(table):
        if index["name"] not in keys:
            op.drop_index(str(index["name"]), table)
    if in_postgres():
        for key in (there.get_pk_constraint(table)["name"], *keys):
            op.drop_constraint(str(key), table)


def _make(table: Table) -> None:
    if in_postgres():
        postgres_tables.make_table(op.get_bind(), _as_of_schools(table))
    else:
        table.create(op.get_bind())


def _as_of_schools(table: Table) -> Table:
    return _all_of_schools(table.metadata).tables[table.name]


@cache
def _all_of_schools(metadata: MetaData) -> MetaData:
    here = MetaData()
    for table in metadata.sorted_tables:
        postgres_tables.of_schools(here, table)
    return here
