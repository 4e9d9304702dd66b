"""Whether a PostgreSQL database is guarded as it was made: what its catalogue says, in words.

PostgreSQL keeps no text of what somebody wrote, so both sides are said in words of our own: what
stands in the catalogue, and what `postgres_tables` makes.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Connection,
    Constraint,
    ForeignKeyConstraint,
    Integer,
    LargeBinary,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
)

from standfast.store.postgres_federation import ASKED
from standfast.store.postgres_tables import (
    FUNCTIONS,
    GUARDS,
    MAY,
    MINE,
    SET,
    made,
    policy,
)

_KINDS = {Text: "text", BigInteger: "bigint", Integer: "integer", LargeBinary: "bytea"}


# --- what should be there -------------------------------------------------------------------


def schema_as_written() -> dict[str, str]:
    """Name to words for every table, index, guard and policy of a database just made."""
    return dict(_written())


def _written() -> Iterator[tuple[str, str]]:
    who = "role name NOT NULL", "school text C NOT NULL", "keepers_pkey PRIMARYKEYrole,school"
    yield "keepers", _table(who, secured=True, forced=False)
    yield "keepers_see_themselves", _policy("keepers", "role = CURRENT_USER", None)
    for table in made().sorted_tables:
        parts = (*_columns_of(table), *sorted(_constraints_of(table)))
        yield table.name, _table(parts, secured=True, forced=True)
        yield policy(table), _policy(table.name, MINE, MINE)
        for index in table.indexes:
            where = index.dialect_options["postgresql"]["where"]
            columns = [column.name for column in index.columns]
            condition = None if where is None else str(where)
            said = _index(table.name, columns, condition, unique=bool(index.unique))
            yield str(index.name), said
    for guard in GUARDS:
        words = _guard(guard.when, guard.table, guard.does, guard.says, rows=guard.rows)
        yield guard.name, f"{words} A {FUNCTIONS[guard.does]}"
    for one in ASKED:
        yield one.name, _function(one.takes, one.gives, one.language, one.body)


def _columns_of(table: Table) -> Iterator[str]:
    for column in table.columns:
        kind = next(name for of, name in _KINDS.items() if isinstance(column.type, of))
        filled = SET if column.server_default is not None else None
        sort = "C" if kind == "text" else None
        yield _column(column.name, kind, sort, filled, must=not column.nullable)


def _constraints_of(table: Table) -> Iterator[str]:
    for one in table.constraints:
        yield f"{one.name or f'{table.name}_pkey'} {_bare(_constraint(one))}"


def _constraint(one: Constraint) -> str:
    if isinstance(one, ForeignKeyConstraint):
        to = ",".join(key.column.name for key in one.elements)
        return f"FOREIGN KEY {','.join(one.column_keys)} REFERENCES {one.referred_table.name}{to}"
    if isinstance(one, CheckConstraint):
        return f"CHECK {one.sqltext}"
    if isinstance(one, PrimaryKeyConstraint | UniqueConstraint):
        kind = "PRIMARY KEY" if isinstance(one, PrimaryKeyConstraint) else "UNIQUE"
        return f"{kind} {','.join(column.name for column in one.columns)}"
    raise TypeError(one)


# --- the words ------------------------------------------------------------------------------


def _bare(sql: str | None) -> str:
    """Without what PostgreSQL puts in and takes out: brackets and blanks."""
    return re.sub(r"[\s()]", "", sql or "")


def _table(parts: tuple[str, ...], *, secured: bool, forced: bool) -> str:
    rows = "rows of the role's school" if secured else "all rows"
    return f"CREATE TABLE {', '.join(parts)}; {rows}{', also for the owner' if forced else ''}"


def _column(name: str, kind: str, sort: str | None, filled: str | None, *, must: bool) -> str:
    said = (name, kind, sort, "NOT NULL" if must else None, filled and f"= {_bare(filled)}")
    return " ".join(filter(None, said))


def _policy(table: str, using: str | None, check: str | None) -> str:
    return f"CREATE POLICY ON {table} {_bare(using)} CHECK {_bare(check)}"


def _index(table: str, columns: list[str], where: str | None, *, unique: bool) -> str:
    kind = "CREATE UNIQUE INDEX" if unique else "CREATE INDEX"
    return f"{kind} ON {table} {', '.join(columns)} WHERE {_bare(where)}"


def _guard(when: str, table: str, does: str, says: str, *, rows: bool) -> str:
    each = "ROW" if rows else "STATEMENT"
    return f"CREATE TRIGGER {when} ON {table} FOR EACH {each} {does}({says})"


# --- what is there --------------------------------------------------------------------------

_IN_OURS = "relnamespace = current_schema()::regnamespace"

_TABLES = f"""SELECT oid, relname, relrowsecurity, relforcerowsecurity, relpersistence = 'p'
FROM pg_class WHERE relkind IN ('r', 'p') AND {_IN_OURS}"""

_COLUMNS = f"""SELECT a.attrelid, a.attname, format_type(a.atttypid, a.atttypmod),
  CASE WHEN a.attcollation <> 0 AND a.atttypid <> 'name'::regtype THEN l.collname END,
  pg_get_expr(d.adbin, d.adrelid), a.attnotnull
FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
  LEFT JOIN pg_attrdef d ON d.adrelid = a.attrelid AND d.adnum = a.attnum
  LEFT JOIN pg_collation l ON l.oid = a.attcollation
WHERE a.attnum > 0 AND NOT a.attisdropped AND c.relkind IN ('r', 'p') AND c.{_IN_OURS}
ORDER BY a.attrelid, a.attnum"""

_CONSTRAINTS = f"""SELECT o.conrelid, o.conname, pg_get_constraintdef(o.oid)
FROM pg_constraint o JOIN pg_class c ON c.oid = o.conrelid
WHERE o.contype IN ('p', 'u', 'f', 'c') AND c.{_IN_OURS}
ORDER BY o.conname COLLATE "C" """

_INDEXES = f"""SELECT i.relname, c.relname, x.indisunique,
  ARRAY(SELECT pg_get_indexdef(i.oid, n, true) FROM generate_series(1, x.indnatts) n),
  pg_get_expr(x.indpred, x.indrelid), x.indisvalid
FROM pg_index x JOIN pg_class i ON i.oid = x.indexrelid JOIN pg_class c ON c.oid = x.indrelid
WHERE NOT EXISTS (SELECT FROM pg_constraint o WHERE o.conindid = i.oid AND o.contype IN ('p', 'u'))
  AND c.{_IN_OURS}"""

_POLICIES = """SELECT policyname, tablename, qual, with_check,
  permissive = 'PERMISSIVE' AND cmd = 'ALL' AND roles = '{public}'
FROM pg_policies WHERE schemaname = current_schema()"""

_TRIGGERS = f"""SELECT t.tgname, c.relname, t.tgtype, t.tgenabled, p.proname,
  encode(t.tgargs, 'escape'), p.prosrc, array_to_string(p.proconfig, ';')
FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid
WHERE NOT t.tgisinternal AND c.{_IN_OURS}"""

_FUNCTIONS = """SELECT p.proname, pg_get_function_arguments(p.oid), pg_get_function_result(p.oid),
  l.lanname, p.prosecdef, array_to_string(p.proconfig, ';'), p.prosrc
FROM pg_proc p JOIN pg_language l ON l.oid = p.prolang
WHERE p.pronamespace = current_schema()::regnamespace
  AND p.prorettype <> 'trigger'::regtype AND p.proname ~ '^(standfast|federation)_'"""

_RULES = "SELECT rulename, tablename FROM pg_rules WHERE schemaname = current_schema()"

_PATH = "SELECT 'search_path=' || quote_ident(current_schema()) || ', pg_temp'"


def schema(conn: Connection) -> dict[str, str]:
    """Name to words for every table, index, guard, policy and rule that is there."""
    return {
        **dict(_tables_there(conn)),
        **dict(_indexes_there(conn)),
        **dict(_guards_there(conn)),
        **dict(_policies_there(conn)),
        **dict(_functions_there(conn)),
        **{name: f"CREATE RULE ON {on}" for name, on in conn.exec_driver_sql(_RULES)},
    }


def _tables_there(conn: Connection) -> Iterator[tuple[str, str]]:
    parts: defaultdict[int, list[str]] = defaultdict(list)
    for of, name, kind, sort, filled, must in conn.exec_driver_sql(_COLUMNS):
        parts[of].append(_column(name, kind, sort, filled, must=must))
    for of, name, definition in conn.exec_driver_sql(_CONSTRAINTS):
        parts[of].append(f"{name} {_bare(definition)}")
    for of, name, secured, forced, lasts in conn.exec_driver_sql(_TABLES):
        said = _table(tuple(parts[of]), secured=secured, forced=forced)
        yield name, said if lasts else f"{said} (emptied by a crash)"


def _indexes_there(conn: Connection) -> Iterator[tuple[str, str]]:
    for name, table, unique, columns, where, valid in conn.exec_driver_sql(_INDEXES):
        said = _index(table, columns, where, unique=unique)
        yield name, said if valid else f"{said} (not finished)"


def _policies_there(conn: Connection) -> Iterator[tuple[str, str]]:
    for name, table, using, check, plain in conn.exec_driver_sql(_POLICIES):
        said = _policy(table, using, check)
        yield name, said if plain else f"{said} (of another kind)"


def _guards_there(conn: Connection) -> Iterator[tuple[str, str]]:
    path = conn.exec_driver_sql(_PATH).scalar_one()
    for name, table, kind, on, does, says, body, settings in conn.exec_driver_sql(_TRIGGERS):
        told = says.removesuffix("\\000")
        words = _guard(_when(kind), table, does, told, rows=bool(kind & _ROW))
        yield name, f"{words} {on} {body}{'' if settings == path else f' under {settings}'}"


def _functions_there(conn: Connection) -> Iterator[tuple[str, str]]:
    path = conn.exec_driver_sql(_PATH).scalar_one()
    for name, takes, gives, language, owner, settings, body in conn.exec_driver_sql(_FUNCTIONS):
        said = _function(takes, gives, language, body)
        rest = "" if owner and settings == path else f" of the caller, or under {settings}"
        yield name, said + rest


def _function(takes: str, gives: str, language: str, body: str) -> str:
    return f"CREATE FUNCTION ({takes}) {gives} {language} {body}"


_ROW, _BEFORE = 1, 2  # bits of pg_trigger.tgtype (PostgreSQL source, catalog/pg_trigger.h)
_EVENTS = {4: "INSERT", 8: "DELETE", 16: "UPDATE", 32: "TRUNCATE"}


def _when(kind: int) -> str:
    events = " OR ".join(word for bit, word in _EVENTS.items() if kind & bit)
    return f"{'BEFORE' if kind & _BEFORE else 'AFTER'} {events}"


# --- what its own checks find ---------------------------------------------------------------

_GRANTED = f"""SELECT c.relname, r.rolname, a.privilege_type
FROM pg_class c CROSS JOIN aclexplode(c.relacl) a LEFT JOIN pg_roles r ON r.oid = a.grantee
WHERE c.relkind IN ('r', 'p') AND a.grantee <> c.relowner AND c.{_IN_OURS}
ORDER BY 1, 2, 3"""

_MAY_ASK = """SELECT p.proname, r.rolname
FROM pg_proc p CROSS JOIN aclexplode(coalesce(p.proacl, acldefault('f', p.proowner))) a
  LEFT JOIN pg_roles r ON r.oid = a.grantee
WHERE a.grantee <> p.proowner AND p.pronamespace = current_schema()::regnamespace
ORDER BY 1, 2"""


def faults(conn: Connection) -> Iterator[str]:
    """What some role may do and should not, and rows that point nowhere.

    Every row of the school is read whole: where pages have checksums the server says itself, as an
    error, that one is broken.
    """
    for table, role, what in conn.exec_driver_sql(_GRANTED):
        if table in MAY and (role is None or what not in MAY[table]):
            yield f"{role or 'everybody'} may {what} in {table}; take it back with REVOKE"
    asked = {one.name: one.open for one in ASKED}
    for name, role in conn.exec_driver_sql(_MAY_ASK):
        if name in asked and not (asked[name] and role):
            yield f"{role or 'everybody'} may call {name}; take it back with REVOKE"
    there = schema(conn)
    for table in made().sorted_tables:
        if table.name in there:
            conn.exec_driver_sql(f"SELECT count(t::text) FROM {table.name} t")
        for one in table.foreign_key_constraints:
            if table.name in there and one.referred_table.name in there:
                yield from _pointing_nowhere(conn, table, one)


_CAUTIONS = {
    "fsync": "a power cut can lose entries that were acknowledged, and break others; whoever runs"
    " the server sets it to on in postgresql.conf, reloads the server, and types 'sync' there",
    "full_page_writes": "a page that a power cut leaves half written stays broken; whoever runs the"
    " server sets it to on in postgresql.conf and reloads the server, unless its file system never"
    " leaves a page half written",
}


def cautions(conn: Connection) -> Iterator[str]:
    """What the whole server is set to, for which no transaction can set itself otherwise."""
    for setting, what in _CAUTIONS.items():
        if conn.exec_driver_sql(f"SHOW {setting}").scalar() == "off":
            yield f"the server runs with {setting} = off: {what}"


def may_ask(conn: Connection) -> tuple[str, ...]:
    """The roles that may ask for sums, beside the owner."""
    asked = {one.name for one in ASKED if one.open}
    return tuple(
        sorted(
            {role or "everybody" for name, role in conn.exec_driver_sql(_MAY_ASK) if name in asked}
        )
    )


def _pointing_nowhere(conn: Connection, table: Table, one: ForeignKeyConstraint) -> Iterator[str]:
    key, to = table.columns[0].name, one.elements[1].column
    column = one.column_keys[1]
    query = (
        f"SELECT f.{key} FROM {table.name} f LEFT JOIN {to.table.name} t"
        f" ON t.school = f.school AND t.{to.name} = f.{column}"
        f" WHERE f.{column} IS NOT NULL AND t.{to.name} IS NULL ORDER BY 1"
    )
    for (row,) in conn.exec_driver_sql(query):
        yield f"row {row} of {table.name} points at a row of {to.table.name} that is not there"
