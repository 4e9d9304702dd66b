"""Damage to what lies on the disk: an audit finds it, or nothing that can be read has changed."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest
from tests.conftest import or_left_out
from tests.counting import say
from tests.store.cluster import KEEPER, Cluster, running
from tests.store.full import fill_everything, rows
from tests.store.school import School, open_school

from standfast.engine.decide import decide
from standfast.problems import RecordBookError
from standfast.store.book import Book
from standfast.store.connect import open_book
from standfast.store.tables import DERIVED

SEED = 20260303
FLIPS = 100
PAGE = {"sqlite": 4096, "postgresql": 8192}
CHECKED = ("journal", "identity", *(table.name for table in DERIVED))
"""Of each row in these an audit knows what it should be; what was typed beside the journal (logins,
records that nobody has signed yet) it can only read."""


@pytest.fixture
def whole(tmp_path: Path) -> tuple[Path, dict[str, list[tuple[object, ...]]]]:
    """The file of a book with something in every table, and what can be read in it."""
    (tmp_path / "whole").mkdir()
    school = open_school(tmp_path / "whole")
    fill_everything(school)
    there = rows(school.book)
    school.book.close()
    return tmp_path / "whole" / "standfast.db", there


def told(file: Path, content: bytes) -> tuple[str, Book | None]:
    """What is said of a book with that content; the book when nothing is."""
    file.write_bytes(content)
    for log in file.parent.glob(f"{file.name}-*"):
        log.unlink()
    try:
        book = open_book(file)
    except RecordBookError:
        return "refused when opened", None
    try:
        faults = book.audit(decide).faults
    except RecordBookError:
        book.close()
        return "refused when audited", None
    if not faults:
        return "", book
    book.close()
    return "found by the audit", None


@pytest.mark.parametrize("byte", [0x00, 0xFF], ids=["zeros", "ones"])
def test_a_page_that_was_overwritten_is_found(
    whole: tuple[Path, dict[str, list[tuple[object, ...]]]], tmp_path: Path, byte: int
) -> None:
    content, counted = whole[0].read_bytes(), Counter[str]()
    for begin in range(0, len(content), PAGE["sqlite"]):
        page = bytes([byte]) * PAGE["sqlite"]
        damaged = content[:begin] + page + content[begin + PAGE["sqlite"] :]
        said, _ = told(tmp_path / "standfast.db", damaged)
        assert said, f"page {begin // PAGE['sqlite'] + 1}"
        counted[said] += 1
    say(f"a page of the file overwritten: {dict(counted)}, 0 unseen")

    assert sum(counted.values()) == len(content) // PAGE["sqlite"]


def test_a_flipped_bit_is_found_or_changes_nothing_that_the_journal_knows(
    whole: tuple[Path, dict[str, list[tuple[object, ...]]]], tmp_path: Path
) -> None:
    content, chance, counted = whole[0].read_bytes(), Random(SEED), Counter[str]()
    for _ in range(FLIPS):
        damaged = bytearray(content)
        damaged[chance.randrange(len(content))] ^= 1 << chance.randrange(8)
        said, book = told(tmp_path / "standfast.db", bytes(damaged))
        if book is not None:
            there = rows(book)
            book.close()
            assert {name: there[name] for name in CHECKED} == {
                name: whole[1][name] for name in CHECKED
            }
        counted[said or "nothing changed"] += 1
    say(f"a bit of the file flipped: {dict(counted)}")

    assert counted["found by the audit"] > 0


# --- in PostgreSQL --------------------------------------------------------------------------


@pytest.fixture(scope="module")
def server() -> Iterator[Cluster]:
    """Its own, since it is stopped, and with checksums of its pages."""
    with or_left_out(), running(durable=True) as found:
        yield found


def file_of(server: Cluster, database: str, table: str) -> Path:
    with server.connect("super", database) as asking:
        (name,) = asking.execute("SELECT pg_relation_filepath(%s)", [table]).fetchone() or ("",)
    return server.folder / "data" / str(name)


def damage(file: Path) -> None:
    """Turns one bit near the end of the first page."""
    content = bytearray(file.read_bytes())
    content[PAGE["postgresql"] - 100] ^= 1
    file.write_bytes(content)


def test_a_page_of_any_table_of_the_server_that_was_changed_is_found(server: Cluster) -> None:
    database = server.new_database("founded")
    school: School = open_school(server.address(KEEPER, database))
    fill_everything(school)
    assert school.book.audit(decide).faults == []
    tables = ("journal", "identity", "ratings", "records", "accounts")
    files: dict[str, Path] = {table: file_of(server, database, table) for table in tables}
    for table, file in files.items():
        server.stop("fast")
        shutil.copy2(file, sound := file.with_name("sound"))
        damage(file)
        server.start()
        found = ["", *map(str, school.book.audit(decide).faults)]
        assert "nothing more was checked: invalid page in block 0" in found[-1], table
        server.stop("fast")
        file.write_bytes(sound.read_bytes())
        server.start()
    assert school.book.audit(decide).faults == []
    school.book.close()
