"""The tables of a PostgreSQL database that keeps the record books of several schools.

Made from `tables.metadata`.  Every table has one more column, the school, which no query names: it
is filled from the setting `standfast.school` of the connection, and row-level security shows a
connection the rows of that school alone, if its role keeps that school (`keepers`).  Keys,
references and indexes begin with the school, so that each has a journal, a tree and numbers of its
own.  Text sorts by its bytes (collation C), as in SQLite.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any, NamedTuple

from sqlalchemy import (
    CheckConstraint,
    Column,
    Connection,
    Constraint,
    ForeignKeyConstraint,
    Index,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
    text,
)
from sqlalchemy.schema import CreateIndex, CreateTable, DropTable
from sqlalchemy.types import TypeEngine

from standfast.store import migrations
from standfast.store.tables import DERIVED, metadata

SCHOOL = "standfast.school"
"""The setting of a connection that says whose book it is about."""

SET = f"current_setting('{SCHOOL}'::text)"
MINE = (
    "school = (SELECT k.school FROM keepers k"
    f" WHERE k.role = CURRENT_USER AND k.school = current_setting('{SCHOOL}'::text, true))"
)
"""Of a row: that it is of the school that the connection says, and that its role keeps."""

_EVERYTHING = ("SELECT", "INSERT", "UPDATE", "DELETE")
_GROWS = ("SELECT", "INSERT")
MAY: dict[str, tuple[str, ...]] = {
    **{table.name: _EVERYTHING for table in DERIVED},
    **dict.fromkeys(("journal", "records", "heads"), _GROWS),
    **dict.fromkeys(("identity", "accounts", "sessions", "failures"), _EVERYTHING),
    **dict.fromkeys(("devices", "confirmations"), ("SELECT", "INSERT", "UPDATE")),
    **dict.fromkeys(("held", "settled"), ("SELECT", "INSERT", "DELETE")),
    "meta": ("SELECT", "UPDATE"),
    "turns": ("SELECT", "UPDATE"),
    "keepers": ("SELECT",),
}
"""What the role that keeps a school's book may do with each table."""


class Guard(NamedTuple):
    """A trigger; `when` as PostgreSQL writes it."""

    name: str
    when: str
    table: str
    rows: bool
    does: str
    """The function."""
    says: str


_NEVER = "BEFORE DELETE OR UPDATE OR TRUNCATE"
GUARDS = (
    Guard(
        *("journal_grows_in_order", "BEFORE INSERT", "journal", True, "standfast_next"),
        "an entry takes the next number",
    ),
    Guard(
        *("journal_is_never_changed", _NEVER, "journal", False, "standfast_never"),
        "an entry is never changed or deleted: a correction is a new entry",
    ),
    Guard(
        *("records_are_never_changed", _NEVER, "records", False, "standfast_never"),
        "a record is never changed or deleted: taking back is a new record",
    ),
    Guard(
        *("heads_are_never_changed", _NEVER, "heads", False, "standfast_never"),
        "a head that was given out is never changed or deleted",
    ),
)

_RAISE = "RAISE EXCEPTION USING MESSAGE = TG_ARGV[0], ERRCODE = 'integrity_constraint_violation';"
FUNCTIONS = {
    "standfast_never": f"BEGIN {_RAISE} END",
    "standfast_next": (
        "DECLARE last integer; BEGIN"
        " SELECT max(seq) INTO last FROM journal WHERE school = NEW.school;"
        f" IF NEW.seq IS DISTINCT FROM coalesce(last, 0) + 1 THEN {_RAISE} END IF;"
        " RETURN NEW; END"
    ),
}


# --- the same tables, of several schools ----------------------------------------------------


@cache
def made() -> MetaData:
    """The tables as they stand in PostgreSQL."""
    here = MetaData()
    for table in metadata.sorted_tables:
        of_schools(here, table)
    Table("turns", here, Column("school", _text(), primary_key=True))
    return here


def _text() -> Text:
    return Text(collation="C")


def of_schools(here: MetaData, table: Table) -> Table:
    """The table as it stands in PostgreSQL, in that metadata, where those it points at are."""
    columns = [Column(c.name, _type(c), nullable=c.nullable) for c in table.columns]
    school = Column("school", _text(), nullable=False, server_default=text(f"({SET})"))
    indexes = sorted(table.indexes, key=lambda one: str(one.name))
    parts = (*columns, school, *_constraints(table), *map(_index, indexes))
    return Table(table.name, here, *parts)


def _type(column: Column[Any]) -> TypeEngine[Any]:
    return _text() if isinstance(column.type, Text) else column.type


def _constraints(table: Table) -> Iterator[Constraint]:
    keys = [column.name for column in table.primary_key.columns]
    yield PrimaryKeyConstraint("school", *keys, name=f"{table.name}_pkey")
    for column in table.columns:
        if column.unique:
            yield UniqueConstraint("school", column.name, name=f"{table.name}_{column.name}_key")
        for key in column.foreign_keys:
            to = key.column
            yield ForeignKeyConstraint(
                ["school", column.name],
                [f"{to.table.name}.school", f"{to.table.name}.{to.name}"],
                name=f"{table.name}_{column.name}_fkey",
            )
    for one in table.constraints:
        if isinstance(one, CheckConstraint):
            yield CheckConstraint(text(str(one.sqltext)), name=one.name)


def _index(index: Index) -> Index:
    columns = [column.name for column in index.columns]
    where = index.dialect_options["sqlite"]["where"]
    return Index(index.name, "school", *columns, unique=index.unique, postgresql_where=where)


# --- making them ----------------------------------------------------------------------------


def make_tables(conn: Connection) -> None:
    """All tables, guards and policies beside `keepers`; the connection's role owns them."""
    for table in made().sorted_tables:
        make_table(conn, table)
    _make_guards(conn)


def make_keepers(conn: Connection) -> None:
    """The table that says which role keeps which school's book."""
    conn.exec_driver_sql(
        'CREATE TABLE keepers (role name NOT NULL, school text COLLATE "C" NOT NULL,'
        " CONSTRAINT keepers_pkey PRIMARY KEY (role, school))"
    )
    conn.exec_driver_sql("ALTER TABLE keepers ENABLE ROW LEVEL SECURITY")
    conn.exec_driver_sql(
        "CREATE POLICY keepers_see_themselves ON keepers USING (role = CURRENT_USER)"
    )


def make_table(conn: Connection, table: Table) -> None:
    """A table as `of_schools` gives it, with its indexes, of which each sees her school's rows."""
    conn.execute(CreateTable(table))
    for index in sorted(table.indexes, key=lambda one: str(one.name)):
        conn.execute(CreateIndex(index))
    conn.exec_driver_sql(f"ALTER TABLE {table.name} ENABLE ROW LEVEL SECURITY")
    conn.exec_driver_sql(f"ALTER TABLE {table.name} FORCE ROW LEVEL SECURITY")
    conn.exec_driver_sql(
        f"CREATE POLICY {policy(table)} ON {table.name} USING ({MINE}) WITH CHECK ({MINE})"
    )


def _make_guards(conn: Connection) -> None:
    """As they are today, also where there were others."""
    for name, body in FUNCTIONS.items():
        make_function(conn, f"{name}() RETURNS trigger LANGUAGE plpgsql", body)
    for guard in GUARDS:
        each = "ROW" if guard.rows else "STATEMENT"
        conn.exec_driver_sql(
            f"CREATE OR REPLACE TRIGGER {guard.name} {guard.when} ON {guard.table}"
            f" FOR EACH {each} EXECUTE FUNCTION {guard.does}('{guard.says}')"
        )
        # Else a superuser who plays a replica goes around it.
        conn.exec_driver_sql(f"ALTER TABLE {guard.table} ENABLE ALWAYS TRIGGER {guard.name}")


def make_function(conn: Connection, head: str, body: str) -> None:
    """Makes a function of that name, arguments and properties as it is today."""
    # Its own search path: a table of the same name that somebody made aside is not looked at.
    conn.exec_driver_sql(
        f"CREATE OR REPLACE FUNCTION {head} SET search_path = {_schema(conn)}, pg_temp"
        f" AS $${body}$$"
    )


def _schema(conn: Connection) -> str:
    """The schema in which everything is, as it is written in SQL."""
    return str(conn.exec_driver_sql("SELECT quote_ident(current_schema())").scalar_one())


def policy(table: Table) -> str:
    """The name of the policy that shows the rows of one school."""
    return f"{table.name}_of_one_school"


def bring_up(conn: Connection, found: int) -> None:
    """Brings the tables of that format to today's; what is derived and guards are made anew."""
    for table in reversed(DERIVED):
        conn.execute(DropTable(made().tables[table.name], if_exists=True))
    migrations.bring_up(conn, found)
    for table in DERIVED:
        make_table(conn, made().tables[table.name])
    _make_guards(conn)


def grant(conn: Connection, role: str) -> None:
    """Lets that role do with the tables what keeping a book takes, and no more."""
    quoted = let_in(conn, role)
    for table, may in MAY.items():
        conn.exec_driver_sql(f"REVOKE ALL ON {table} FROM {quoted}")
        conn.exec_driver_sql(f"GRANT {', '.join(may)} ON {table} TO {quoted}")


def let_in(conn: Connection, role: str) -> str:
    """Lets that role see what there is; gives the role as it is written in SQL."""
    quoted = conn.dialect.identifier_preparer.quote(role)
    usable = text("SELECT has_schema_privilege(:role, current_schema(), 'USAGE')")
    if not conn.scalar(usable, {"role": role}):
        conn.exec_driver_sql(f"GRANT USAGE ON SCHEMA {_schema(conn)} TO {quoted}")
    return quoted
