"""Books of earlier formats: brought to today's tables to the letter, with all that was in them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from textwrap import dedent

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, MetaData, create_engine
from tests.store.cluster import KEEPER, NEIGHBOUR, OWNER, Cluster
from tests.store.full import NOW, SHEET, fill_everything, rows
from tests.store.school import School, open_school

from standfast.engine.decide import decide
from standfast.model.account import Account
from standfast.problems import RecordBookError
from standfast.store import (
    founding,
    migrations,
    postgres_catalog,
    postgres_federation,
    postgres_tables,
    sqlite,
)
from standfast.store.access import Secrets
from standfast.store.connect import open_book
from standfast.store.tables import DERIVED, FORMAT, metadata


def table_as_made(name: str, *parts: str) -> str:
    """A table of a file, in the words in which it was made, which an audit looks at."""
    return f"CREATE TABLE {name} ( {', '.join(parts)} ) STRICT;"


FORMAT_1 = "\n".join(
    (
        table_as_made("meta", '"key" TEXT NOT NULL', "value TEXT NOT NULL", 'PRIMARY KEY ("key")'),
        table_as_made(
            "journal",
            *("seq INTEGER NOT NULL", "id TEXT NOT NULL", "at TEXT NOT NULL", "who TEXT NOT NULL"),
            *("kind TEXT NOT NULL", "about TEXT", "supersedes TEXT", "body TEXT NOT NULL"),
            *("leaf BLOB NOT NULL", "PRIMARY KEY (seq)"),
            "CONSTRAINT leaf_is_sha256 CHECK (length(leaf) = 32)",
            "CONSTRAINT id_is_uuid CHECK (length(id) = 36)",
            *("UNIQUE (id)", "FOREIGN KEY(supersedes) REFERENCES journal (id)"),
        ),
        "CREATE INDEX journal_about ON journal (about, seq);",
        table_as_made(
            "identity",
            *("ref TEXT NOT NULL", "handle TEXT NOT NULL", "name TEXT NOT NULL", "contact TEXT"),
            *("site TEXT", "salt BLOB NOT NULL", "PRIMARY KEY (ref)"),
            "CONSTRAINT salt_is_long_enough CHECK (length(salt) = 32)",
            "UNIQUE (handle)",
        ),
        table_as_made(
            "heads",
            *("size INTEGER NOT NULL", "root BLOB NOT NULL", "at TEXT NOT NULL"),
            "PRIMARY KEY (size)",
            "CONSTRAINT root_is_sha256 CHECK (length(root) = 32)",
        ),
        "CREATE TABLE people (ref TEXT PRIMARY KEY, seq INTEGER REFERENCES journal (seq)) STRICT;",
        "CREATE TABLE awards (id TEXT PRIMARY KEY, seq INTEGER) STRICT;",
        "CREATE INDEX awards_end ON awards (seq);",
        "CREATE TRIGGER journal_is_never_deleted BEFORE DELETE ON journal BEGIN",
        "SELECT RAISE(ABORT, 'words of an earlier version'); END;",
    )
)
"""What a book of the first format had, with fewer derived tables than it had, and other guards."""

FORMAT_5 = dedent("""
    DROP TABLE confirmations;
    CREATE TABLE confirmations (
      sheet TEXT NOT NULL, device TEXT NOT NULL, got TEXT NOT NULL, confirmed TEXT,
      PRIMARY KEY (sheet), FOREIGN KEY(device) REFERENCES devices (id)
    ) STRICT;
""")
"""In what a book of that format differs, beside derived tables, from one of today."""


@pytest.fixture
def full(tmp_path: Path) -> Iterator[School]:
    """A book in a file with something in every table."""
    school = open_school(tmp_path)
    fill_everything(school)
    yield school
    school.book.close()


def copy_into(old: Path, new: Path, tables: tuple[str, ...]) -> None:
    """The rows of these tables, by SQLite's own library."""
    with sqlite3.connect(new) as to:
        to.execute("ATTACH ? AS old", [str(old)])
        for table in tables:
            columns = ", ".join(f'"{row[1]}"' for row in to.execute(f"PRAGMA table_info({table})"))
            to.execute(f"INSERT INTO main.{table} SELECT {columns} FROM old.{table}")  # noqa: S608 - our own names
    to.close()


def test_the_steps_are_one_row_and_none_leads_beyond_the_format_of_today() -> None:
    steps = ScriptDirectory(str(migrations.STEPS))
    found = [int(step.revision) for step in steps.walk_revisions()]

    assert len(steps.get_heads()) == len(steps.get_bases()) == 1
    assert found == sorted(found, reverse=True)
    assert found[0] <= FORMAT


def differing(conn: Connection, wanted: MetaData) -> list[object]:
    """What Alembic finds to be different, apart from who keeps which book."""
    settings = {"include_object": lambda _, name, *__: name != "keepers"}
    return list(compare_metadata(MigrationContext.configure(conn, opts=settings), wanted))


def test_the_steps_from_nothing_make_the_tables_of_a_new_file() -> None:
    engine = create_engine("sqlite://")
    with engine.begin() as conn:
        sqlite.bring_up(conn, 0)

        assert sqlite.schema(conn) == sqlite.schema_as_written()
        assert differing(conn, metadata) == []
    engine.dispose()


def test_the_steps_from_nothing_make_the_tables_of_a_new_database(cluster: Cluster) -> None:
    with founding.owning(cluster.address(OWNER, cluster.new_database())) as conn:
        postgres_tables.bring_up(conn, 0)
        postgres_federation.make_functions(conn)

        assert postgres_catalog.schema(conn) == postgres_catalog.schema_as_written()
        assert differing(conn, postgres_tables.made()) == []


def test_a_book_of_the_first_format_opens_with_the_same_head(full: School, tmp_path: Path) -> None:
    head = full.book.head(NOW)
    before = rows(full.book)
    full.book.close()
    old = tmp_path / "old" / "standfast.db"
    old.parent.mkdir()
    with sqlite3.connect(old) as made:
        made.executescript(FORMAT_1)
    made.close()
    copy_into(full.book.file, old, ("meta", "journal", "identity", "heads"))
    with sqlite3.connect(old) as made:
        made.execute("UPDATE meta SET value = '1' WHERE key = 'format'")
    made.close()

    with open_book(old, random=full.random.randbytes) as book:
        assert book.head(NOW) == head
        audit = book.audit(decide)
        after = rows(book)
        book.access.add(
            Account(id=full.key(), login="new", roles=("office",)), Secrets("x", None), NOW
        )
    assert audit.faults == []
    for name in ("journal", "identity", "heads", *(table.name for table in DERIVED)):
        assert after[name] == before[name], name


def test_a_book_of_the_fifth_format_keeps_whose_signature_waits(full: School) -> None:
    head, before, file = full.book.head(NOW), rows(full.book), full.book.file
    full.book.close()
    with sqlite3.connect(file) as old:
        kept = old.execute("SELECT * FROM confirmations").fetchall()
        old.executescript(FORMAT_5)
        old.executemany("INSERT INTO confirmations VALUES (?, ?, ?, ?)", kept)
        old.execute("UPDATE meta SET value = '5' WHERE key = 'format'")
        old.execute("DROP TABLE rulings")
    old.close()

    with open_book(file) as book:
        assert book.head(NOW) == head
        assert book.audit(decide).faults == []
        assert rows(book) == before
        assert book.records.waits_for_confirmation(SHEET)


def test_a_database_of_an_earlier_format_is_brought_up_by_its_owner_for_every_school(
    cluster: Cluster,
) -> None:
    database = cluster.new_database("founded")
    schools = [open_school(cluster.address(role, database)) for role in (KEEPER, NEIGHBOUR)]
    for school in schools:
        fill_everything(school)
    before = [(school.book.head(NOW), rows(school.book)) for school in schools]
    for school in schools:
        school.book.close()
    with cluster.connect("super", database) as server:
        server.execute("ALTER TABLE confirmations RENAME COLUMN sender TO device")
        server.execute("DROP TABLE rulings")
        server.execute("UPDATE meta SET value = '6' WHERE key = 'format'")
    with pytest.raises(RecordBookError, match="standfast book tables"):
        open_book(cluster.address(KEEPER, database))
    with founding.owning(cluster.address(OWNER, database)) as conn:
        founding.make_tables(conn)

    for role, (head, there) in zip((KEEPER, NEIGHBOUR), before, strict=True):
        with open_book(cluster.address(role, database)) as book:
            assert book.head(NOW) == head
            assert book.audit(decide).faults == []
            assert rows(book) == there


def test_tables_of_another_version_that_no_school_is_in_are_told(cluster: Cluster) -> None:
    address = cluster.address(OWNER, cluster.new_database())
    with founding.owning(address) as conn:
        founding.make_tables(conn)
        founding.make_tables(conn)  # once more does no harm
        conn.exec_driver_sql("ALTER TABLE confirmations RENAME COLUMN sender TO device")
    with (
        pytest.raises(RecordBookError, match="no school's book is in them: drop them"),
        founding.owning(address) as conn,
    ):
        founding.make_tables(conn)
