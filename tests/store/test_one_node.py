"""Nothing that we ask of PostgreSQL needs one node: what engines spread over several refuse.

Such an engine speaks PostgreSQL's language, and keeps a table on many machines.  What is refused by
one of two widely used ones, or does nothing there, is not asked for.  What we do need, they must
have: triggers, functions of our own, and row-level security.

Sources: the pages on compatibility with PostgreSQL in the documentation of YugabyteDB (2024) and of
CockroachDB 24.3 (2024).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable
from tests.store.cluster import KEEPER, OWNER, Cluster

from standfast.store import founding, postgres_tables

STORE = Path(postgres_tables.__file__).parent

REFUSED = {
    "a lock on a whole table": r"\bLOCK TABLE\b",
    "an advisory lock": r"\bpg_(try_)?advisory",
    "messages between sessions": r"\b(LISTEN|NOTIFY|pg_notify)\b",
    "a number that counts up in all transactions": r"\b(SERIAL|BIGSERIAL|nextval|IDENTITY)\b",
    "the place of a row in a file, or who wrote it": r"\b(ctid|xmin|xmax)\b",
    "a constraint that waits": r"\bDEFERRABLE\b",
    "a constraint of exclusion": r"\bEXCLUDE USING\b",
    "a table that inherits": r"\bINHERITS\b",
    "a column that is worked out": r"\bGENERATED ALWAYS\b",
    "a temporary table": r"\bTEMP(ORARY)? TABLE\b",
    "a transaction in two phases": r"\bPREPARE TRANSACTION\b",
    "a cursor that outlives its transaction": r"\bWITH HOLD\b",
    "XML": r"\bxml\w*\(",
    "a kind of index of one engine": r"\bUSING (gin|gist|brin|hash|spgist)\b",
}


def asked() -> Iterator[tuple[str, str]]:
    """Where it stands, and what is asked: the definitions of tables, and every text of ours."""
    for table in postgres_tables.made().sorted_tables:
        dialect = postgresql.dialect()  # type: ignore[no-untyped-call]
        yield table.name, str(CreateTable(table).compile(dialect=dialect))
        for index in table.indexes:
            yield str(index.name), str(CreateIndex(index).compile(dialect=dialect))
    for file in sorted(STORE.glob("*.py")):
        if not file.name.startswith("sqlite"):
            yield file.name, file.read_text("utf-8")


@pytest.mark.parametrize("what", REFUSED)
def test_nothing_is_asked_that_only_one_node_can_do(what: str) -> None:
    found = [where for where, text in asked() if re.search(REFUSED[what], text)]

    assert not found, f"{what}: {', '.join(found)}"


def test_every_table_has_a_key_that_begins_with_its_school() -> None:
    """So that such an engine keeps a school's rows together, and schools apart."""
    tables = postgres_tables.made().sorted_tables

    assert len(tables) > 10
    assert {next(iter(table.primary_key.columns)).name for table in tables} == {"school"}


def test_owners_who_make_the_same_tables_at_once_wait_for_each_other(cluster: Cluster) -> None:
    database = cluster.new_database()

    def begin(school: str) -> None:
        with founding.owning(cluster.address(OWNER, database)) as conn:
            founding.make_tables(conn)
            founding.admit(conn, school, KEEPER)

    schools = [f"school-{number:02}" for number in range(18)]
    with ThreadPoolExecutor(6) as pool:
        list(pool.map(begin, schools))

    with cluster.connect(OWNER, database) as conn:
        kept = conn.execute("SELECT school FROM keepers WHERE role = current_user ORDER BY 1")
        assert [school for (school,) in kept] == schools
