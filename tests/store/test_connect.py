"""Opening a book: what is none, what is damaged, what may not be written."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from textwrap import dedent

import pytest
from tests.engine import made
from tests.store.raw import dump, raw, rows
from tests.store.school import BEGAN, School, open_school, people

from standfast.model.school import School as Settings
from standfast.problems import RecordBookError
from standfast.store import sqlite
from standfast.store.connect import open_book
from standfast.store.tables import FORMAT

pytestmark = pytest.mark.of_the_file


def test_a_book_is_opened_by_file_folder_or_address(school: School) -> None:
    school.book.put_people(people(), school.stamp)
    file = school.book.file
    for where in (file, str(file), file.parent, f"sqlite:///{file}"):
        with open_book(where) as book:
            assert book.size() == 4


def test_making_a_book_that_is_there_opens_it(filled: School) -> None:
    with open_book(filled.book.file, create=True) as book:
        assert book.size() == 11


def test_a_book_of_an_earlier_format_gets_its_tables_anew_and_loses_nothing(filled: School) -> None:
    before, file = dump(filled), filled.book.file
    head = filled.book.head(BEGAN)
    filled.book.close()
    connection = sqlite3.connect(file)
    with connection:
        connection.execute("UPDATE meta SET value = '1' WHERE key = 'format'")
        connection.execute("DROP TABLE rulings")
        connection.execute("ALTER TABLE awards DROP COLUMN grace_until")
    connection.close()

    with open_book(file) as book:
        assert book.head(BEGAN) == head
        assert book.audit().faults == []
    assert dump(filled) == before
    assert rows(filled, "SELECT value FROM meta WHERE key = 'format'") == [(str(FORMAT),)]


def test_an_empty_file_can_become_a_book(tmp_path: Path) -> None:
    (tmp_path / "standfast.db").touch()
    with open_book(tmp_path, create=True) as book:
        assert book.size() == 0


def test_the_file_is_kept_as_the_design_says(school: School) -> None:
    with school.book._reading() as reading:
        said = {
            name: reading.conn.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in (
                *("journal_mode", "synchronous", "fullfsync"),
                *("foreign_keys", "recursive_triggers"),
            )
        }
        tables = reading.conn.exec_driver_sql("PRAGMA table_list").all()

    assert said == {
        "journal_mode": "wal",
        "synchronous": 3,  # EXTRA: FULL, and the folder of a log that is taken away
        "fullfsync": 1,
        "foreign_keys": 1,
        "recursive_triggers": 1,
    }
    assert {row.strict for row in tables if not row.name.startswith("sqlite_")} == {1}


def garbage(file: Path) -> None:
    file.write_bytes(b"this is no database at all, only text" * 400)


def another_database(file: Path) -> None:
    connection = sqlite3.connect(file)
    connection.execute("CREATE TABLE recipes (name)")
    connection.close()


def a_later_version(file: Path) -> None:
    with open_book(file, create=True):
        pass
    connection = sqlite3.connect(file)
    with connection:
        connection.execute("UPDATE meta SET value = '99' WHERE key = 'format'")
    connection.close()


def a_folder(file: Path) -> None:
    (file / "standfast.db").mkdir(parents=True)


@pytest.mark.parametrize(
    ("make", "what"),
    [
        pytest.param(Path.exists, "there is no record book", id="none"),
        pytest.param(Path.touch, "the file is empty", id="empty"),
        pytest.param(garbage, "this file is no record book", id="garbage"),
        pytest.param(another_database, "this file is no record book", id="another database"),
        pytest.param(a_later_version, "its format is 99, this program knows", id="later version"),
        pytest.param(a_folder, "standfast.db", id="a folder of that name"),
    ],
)
def test_what_is_no_book_is_told_in_one_sentence_and_left_alone(
    tmp_path: Path, make: object, what: str
) -> None:
    file = tmp_path / "standfast.db"
    make(file)  # type: ignore[operator]
    before = file.read_bytes() if file.is_file() else None

    with pytest.raises(RecordBookError) as refused:
        open_book(file)

    assert what in str(refused.value)
    assert "\n" not in str(refused.value)
    assert (file.read_bytes() if file.is_file() else None) == before


def test_a_later_version_is_refused_also_when_it_may_be_made(tmp_path: Path) -> None:
    a_later_version(tmp_path / "standfast.db")

    with pytest.raises(RecordBookError, match="update standfast"):
        open_book(tmp_path, create=True)


def test_another_program_s_database_is_never_made_a_book(tmp_path: Path) -> None:
    file = tmp_path / "standfast.db"
    another_database(file)
    with pytest.raises(RecordBookError, match="no record book"):
        open_book(file, create=True)

    connection = sqlite3.connect(file)
    tables = connection.execute("SELECT name FROM sqlite_master").fetchall()
    connection.close()
    assert tables == [("recipes",)]


def test_a_book_in_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RecordBookError, match="there is no folder"):
        open_book(tmp_path / "none" / "standfast.db", create=True)


def test_another_kind_of_server_is_refused() -> None:
    with pytest.raises(RecordBookError, match="mysql: a record book is kept in an SQLite file or"):
        open_book("mysql://localhost/school")


def test_a_full_disk_is_told_and_keeps_nothing_of_what_did_not_fit(filled: School) -> None:
    with filled.book._reading() as reading:
        pages = reading.conn.exec_driver_sql("PRAGMA page_count").scalar()
        reading.conn.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    big = made.sheet(9, notes=[{"text": "x" * 4000}] * 20)

    with pytest.raises(RecordBookError, match=r"the disk is full.*nothing of this was kept"):
        filled.take(big)

    with filled.book._reading() as reading:
        reading.conn.exec_driver_sql("PRAGMA max_page_count = 1000000")
    assert filled.book.audit().clean
    assert filled.book.size() == 11
    filled.take(big)
    assert filled.book.audit().clean


def test_a_book_locked_by_another_program_is_told(
    filled: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sqlite, "_SETTINGS", (*sqlite._SETTINGS, "PRAGMA busy_timeout = 50"))
    with open_book(filled.book.file) as book, raw(filled) as other:
        other("BEGIN IMMEDIATE")
        with pytest.raises(RecordBookError, match="another program has locked"):
            book.put_school(Settings(id="barn", name="The Barn"), filled.stamp())

        assert book.school() is None


def test_whoever_keeps_the_turn_too_long_is_told_of(
    filled: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sqlite, "PATIENCE_SECONDS", 0.05)
    with open_book(filled.book.file) as impatient:
        with (
            filled.book.together(),
            pytest.raises(RecordBookError, match=r"writing to this record book for 0\.05 seconds"),
        ):
            impatient.put_school(Settings(id="barn", name="The Barn"), filled.stamp())

        impatient.put_school(Settings(id="barn", name="The Barn"), filled.stamp())
        filled.take(made.sheet(9))
        assert impatient.audit().clean


READ_ONLY = dedent("""
    import os, sys
    from sqlalchemy import create_engine
    from standfast.model.school import School
    from standfast.store.connect import open_book
    from standfast.store.journal import Stamp
    from standfast.problems import RecordBookError
    from datetime import datetime, timezone

    create_engine("sqlite://").connect().close()  # loads what is loaded late
    if os.getuid() == 0:
        os.setgroups([]), os.setgid(65534), os.setuid(65534)
    try:
        with open_book(sys.argv[1]) as book:
            stamp = Stamp("0" * 8 + "-0000-7000-8000-" + "0" * 12, datetime.now(timezone.utc), "x")
            book.put_school(School(id="x", name="x"), stamp)
    except RecordBookError as error:
        sys.exit(f"told: {error}")
""")


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that another user can reach, which pytest's own are not."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder


@pytest.mark.parametrize("file_too", [True, False], ids=["file and folder", "folder"])
def test_a_read_only_folder_is_told_in_one_sentence(open_folder: Path, *, file_too: bool) -> None:
    school = open_school(open_folder)
    school.fill()
    school.book.close()
    before = school.book.file.read_bytes()
    (open_folder / "standfast.db-queue").unlink()
    school.book.file.chmod(0o444 if file_too else 0o666)
    open_folder.chmod(0o555)

    command = [sys.executable, "-c", READ_ONLY, str(school.book.file)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    open_folder.chmod(0o755)

    assert done.returncode == 1
    assert done.stderr.startswith(f"told: {school.book.file}")
    assert "check who may write" in done.stderr
    assert done.stderr.count("\n") == 1
    assert school.book.file.read_bytes() == before


def damage(file: Path, first: int, last: int | None = None) -> None:
    """Overwrites pages of the file, numbered from 1 as SQLite does; to the end when not said."""
    content = bytearray(file.read_bytes())
    begin, end = (first - 1) * 4096, len(content) if last is None else last * 4096
    content[begin:end] = b"\xff" * (end - begin)
    file.write_bytes(content)


def test_a_file_damaged_all_through_is_told_when_it_is_opened(filled: School) -> None:
    filled.book.close()
    damage(filled.book.file, 2)

    with pytest.raises(RecordBookError, match="damaged: take the last good copy"):
        open_book(filled.book.file)


def test_a_damaged_journal_is_told_and_audited(filled: School) -> None:
    (page,) = rows(filled, "SELECT rootpage FROM sqlite_master WHERE name = 'journal'")[0]
    filled.book.close()
    damage(filled.book.file, page, page)

    with open_book(filled.book.file) as book:
        with pytest.raises(RecordBookError, match="damaged: take the last good copy"):
            book.history()
        audit = book.audit()
        assert "the file is damaged, nothing more was checked" in str(audit.faults[-1])
