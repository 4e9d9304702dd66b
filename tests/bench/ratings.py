"""What reading every mark of a book costs, against the least a database does with as many rows."""

from __future__ import annotations

import sqlite3
import statistics
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.bench.measured import Row, seconds
from tests.engine import made
from tests.store.school import School, open_school, people

MARKS, TIMES = 1_000_000, 5


def rows() -> Iterator[Row]:
    """The one ratio: a million marks as arrays against `select sum(score)` over a million rows."""
    with tempfile.TemporaryDirectory(dir=sys.prefix, prefix="bench-") as name:
        folder = Path(name)
        school = open_school(folder)
        sheets = fill(school, folder)
        plain = plain_rows(folder / "plain.db")
        read = statistics.median(seconds(school.book.ratings) for _ in range(TIMES))
        summed = statistics.median(seconds(lambda: total(plain)) for _ in range(TIMES))
        count = len(school.book.ratings().score)
        plain.close()
        school.book.close()
    detail = f"{count:,} marks of {sheets:,} sheets; as many rows of four whole numbers"
    yield Row("marks out of the book as arrays / select sum()", read / summed, 5, detail)


def fill(school: School, folder: Path) -> int:
    """A book whose derived tables have a million marks: as two assessors' sheets give them.

    The rows are copied under other ids and practicals, since writing 20,000 sheets takes minutes;
    only what is read is filled.
    """
    school.book.put_people(people(), school.stamp)
    school.take(made.sheet(1))
    count = len(school.book.ratings().score)
    sheets = MARKS // count + 1
    with sqlite3.connect(folder / "standfast.db") as raw:
        ((packed,),) = raw.execute("SELECT packed FROM ratings").fetchall()
        raw.execute("PRAGMA foreign_keys = OFF")
        columns = [row[1] for row in raw.execute("PRAGMA table_info(sheets)")]
        (first,) = raw.execute("SELECT * FROM sheets").fetchall()
        sheet = dict(zip(columns, first, strict=True))
        marks = raw.execute("SELECT seq, criteria FROM ratings").fetchone()
        marked = ", ".join("?" * len(columns))
        for number in range(sheets - 1):
            key = f"copy-{number}"
            other = {**sheet, "id": key, "practical": f"lesson-{number // 2 + 2}"}
            raw.execute(f"INSERT INTO sheets VALUES ({marked})", list(other.values()))  # noqa: S608 - only question marks
            shifted = moved(packed, number // 2 + 1)
            raw.execute("INSERT INTO ratings VALUES (?, ?, ?, ?)", (key, *marks, shifted))
    return sheets


def moved(packed: bytes, by: int) -> bytes:
    """The same marks of other subjects: the low bytes of each subject are changed."""
    parts = bytearray(packed)
    for at in range(0, len(parts), 18):
        low = int.from_bytes(parts[at : at + 4], "little") ^ by
        parts[at : at + 4] = low.to_bytes(4, "little")
    return bytes(parts)


def plain_rows(file: Path) -> sqlite3.Connection:
    """A million rows of four whole numbers, the plainest table of marks."""
    raw = sqlite3.connect(file)
    raw.execute("CREATE TABLE marks (subject INT, assessor INT, criterion INT, score INT)")
    four = ((n // 24, n % 200, n % 12, n % 5) for n in range(MARKS))
    raw.executemany("INSERT INTO marks VALUES (?, ?, ?, ?)", four)
    raw.commit()
    return raw


def total(raw: sqlite3.Connection) -> int:
    """What the database says of them all."""
    return int(raw.execute("SELECT sum(score) FROM marks").fetchone()[0])
