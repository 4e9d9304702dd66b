"""Time and memory of what is asked, against the size of the book; and of many schools at once.

Every day small books, in some minutes.  `./dev bench --only load --whole` is meant for 1,000
schools of 1,000 awards and 30,000 tries each, in PostgreSQL, and takes an hour or more, with some
20 GB of disk.  Ten schools are entered through the journal like any other; further ones are their
copies under other names, made by the server.  Everything is audited where it is measured.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import psycopg
from sqlalchemy import create_engine
from tests.bench.books import ATTEMPTS, SETTINGS, founded, grow
from tests.bench.measured import Row, seconds
from tests.bench.questions import QUESTIONS, Cost, cost, slope
from tests.store.cluster import KEEPER, Cluster, NoPostgres, running

from standfast.desk.grouped import agreement_of
from standfast.store.grouped import grouped_marks
from standfast.store.postgres_tables import made
from standfast.store.sqlite import CACHE_MIB

MOST_TIME = {
    "due list": 1.25,
    "one record": 0.6,
    "compare, one school": 1.25,
    "agreement by counts": 0.6,
    "audit": 1.25,
    "backup": 1.25,
}
"""Slopes.  What a due list has grows with the book; a person's record must not, but names are read
once by each program that opens a book."""

MOST_MEMORY = {**dict.fromkeys(QUESTIONS, 1.25), "audit": 0.75, "backup": 0.5}

OF_ONE = ("due list", "one record", "compare, one school", "audit", "backup")
"""Questions about one school, which must not grow with the number of others."""

ASSEMBLED = 10
"""Schools that are entered; the others are copies of these."""

FAST = "-c shared_buffers=512MB -c max_wal_size=8GB -c max_connections=40"


@dataclass(frozen=True)
class Size:
    """How large books are made."""

    attempts: tuple[int, ...]
    """Tries in one school's book."""
    schools: tuple[int, ...]
    awards: int
    """Of each of the schools."""


EVERY_DAY = Size((1_000, 10_000, 100_000), (2, 8, 32), 40)
WHOLE = Size((1_000, 10_000, 100_000, 1_000_000), (10, 100, 1_000), 1_000)


def rows() -> Iterator[Row]:
    """Slopes on small books."""
    yield from of_size(EVERY_DAY)


def whole_rows() -> Iterator[Row]:
    """Slopes on books as large as they are meant for."""
    yield from of_size(WHOLE)


def of_size(size: Size) -> Iterator[Row]:
    """Slopes of one school's book as it grows, then of schools as they become more."""
    with tempfile.TemporaryDirectory(dir=sys.prefix, prefix="bench-") as name:
        folder = Path(name)
        folder.chmod(0o755)  # the server is somebody else
        small = school_folder(folder / "small")
        fill(small, 8)
        yield from one_school(folder, small, size)
        try:
            with running(parent=folder, more=FAST) as cluster:
                yield from many_schools(cluster, folder, small, size)
        except NoPostgres as why:
            yield Row("many schools: left out", 0, None, str(why).splitlines()[0])


def school_folder(folder: Path, address: str = "") -> Path:
    """A new folder of a school, whose book is at the address or will be in a file."""
    folder.mkdir()
    name = address.partition("school=")[2] or "barn"
    (folder / "school.yaml").write_text(SETTINGS.format(name), "utf-8")
    if address:
        (folder / "standfast.url").write_text(f"{address}\n", "utf-8")
    return folder


def fill(where: str | Path, awards: int, seed: int = 7) -> None:
    """A book with so many awards."""
    school = founded(where, seed)
    grow(school, awards, seed)
    school.book.close()


# --- one school that grows --------------------------------------------------------------------


def one_school(folder: Path, small: Path, size: Size) -> Iterator[Row]:
    """For each question the slope of its time and of its memory over the tries in the book."""
    costs: dict[str, list[Cost]] = {question: [] for question in QUESTIONS}
    for attempts in size.attempts:
        here = school_folder(folder / f"of-{attempts}")
        fill(here, attempts // ATTEMPTS)
        for question, found in costs.items():
            found.append(cost(small, here, question, 3 if attempts < 100_000 else 1))
        shutil.rmtree(here)
    for question, found in costs.items():
        yield from grown(f"{question}: one book", size.attempts, question, found)


def grown(
    what: str, sizes: Sequence[int], question: str, found: list[Cost], most: float | None = None
) -> Iterator[Row]:
    """Slope of time, and of memory where it is known, with what was measured at each size."""
    told = "; ".join(f"{size:,}: {one}" for size, one in zip(sizes, found, strict=True))
    times = slope(sizes, [one.seconds for one in found])
    yield Row(f"{what}, slope of time", times, most or MOST_TIME[question], told)
    memory = [one.mib for one in found if one.mib is not None]
    if memory and len(memory) == len(found):
        at_least = [max(one, CACHE_MIB) for one in memory]  # up to that SQLite may keep pages
        held = slope(sizes, at_least)
        yield Row(f"{what}, slope of memory", held, MOST_MEMORY[question], "")


# --- more and more schools --------------------------------------------------------------------


def many_schools(cluster: Cluster, folder: Path, small: Path, size: Size) -> Iterator[Row]:
    """The same of one school among more and more, and of all of them by counts."""
    database = cluster.new_database("founded")
    one = school_folder(folder / "one", cluster.address(KEEPER, database, "s0"))
    costs: dict[str, list[Cost]] = {question: [] for question in (*OF_ONE, ALL)}
    there = 0
    for schools in size.schools:
        for number in range(there, schools):
            add_school(cluster, database, number, size.awards)
        there = schools
        cluster.do("VACUUM ANALYZE", database)
        for question in OF_ONE:
            costs[question].append(cost(small, one, question, 5))
        costs[ALL].append(of_all(cluster, database))
    for question in OF_ONE:
        told = "; ".join(f"{n:,}: {c}" for n, c in zip(size.schools, costs[question], strict=True))
        times = slope(size.schools, [one.seconds for one in costs[question]])
        yield Row(f"{question}: one of many schools, slope of time", times, 0.25, told)
    yield from grown("agreement by counts: all schools", size.schools, ALL, costs[ALL], 1.1)


ALL = "agreement by counts"


def of_all(cluster: Cluster, database: str) -> Cost:
    """What agreement over the counts of all schools costs, as one who sees all of them."""
    engine = create_engine(cluster.address("super", database))
    try:
        with engine.connect() as conn:
            took = [seconds(lambda: agreement_of(grouped_marks(conn))) for _ in range(3)]
    finally:
        engine.dispose()
    return Cost(min(took), None)


def add_school(cluster: Cluster, database: str, number: int, awards: int) -> None:
    """One school more: entered, or the copy of one that was."""
    name = f"s{number}"
    with cluster.connect("super", database) as server:
        server.execute("INSERT INTO keepers VALUES (%s, %s)", (KEEPER, name))
        server.execute("INSERT INTO turns VALUES (%s)", (name,))
        if number >= ASSEMBLED:
            copy(server, f"s{number % ASSEMBLED}", name)
            return
        begin = "INSERT INTO meta SELECT key, CASE key WHEN 'identities' THEN '0' ELSE value END,"
        server.execute(f"{begin} %s FROM meta WHERE school = 'barn'".encode(), (name,))
    fill(cluster.address(KEEPER, database, name), awards, seed=number + 1)


def copy(server: psycopg.Connection, before: str, name: str) -> None:
    """Every row of one school as rows of another, in the order of the journal."""
    with server.transaction():
        server.execute("SET LOCAL session_replication_role = replica")  # what is there fits
        for table in made().sorted_tables:
            columns = [column.name for column in table.columns if column.name != "school"]
            if columns:
                names = ", ".join(f'"{column}"' for column in columns)
                order = "ORDER BY seq" if table.name == "journal" else ""
                server.execute(
                    f"INSERT INTO {table.name} ({names}, school) SELECT {names}, %s"  # noqa: S608 - names of our own tables
                    f" FROM {table.name} WHERE school = %s {order}".encode(),
                    (name, before),
                )
