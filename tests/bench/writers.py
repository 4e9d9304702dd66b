"""32 programs that write to one record book at once, without a pause: SQLite, and PostgreSQL.

Each takes in score sheets of lessons of its own, one durable transaction each, with everything
that is checked of a sheet.  As a program (`python -m tests.bench.writers WHERE NUMBER SECONDS`) one
writer, which says that it is ready, begins after a line on its standard input, and prints what it
did as JSON.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from random import Random
from uuid import UUID

from tests.bench.measured import Row
from tests.engine import made
from tests.store.cluster import KEEPER, NoPostgres, running
from tests.store.school import BEGAN, School, open_school, people

from standfast.model.base import Reference
from standfast.model.keys import uuid7
from standfast.problems import RecordBookError
from standfast.store.book import Book
from standfast.store.connect import open_book
from standfast.store.journal import Stamp

ROOT = Path(__file__).parents[2]
WRITERS, SECONDS = 32, 10


@dataclass(frozen=True)
class Did:
    """What one writer did."""

    kept: int
    slowest: float
    """Seconds."""
    errors: int


def rows() -> Iterator[Row]:
    """Errors, the slowest, and how evenly turns are given, in both databases."""
    with tempfile.TemporaryDirectory(dir=sys.prefix, prefix="bench-") as name:
        Path(name).chmod(0o755)  # the server is somebody else
        yield from written("SQLite", open_school(Path(name)))
        try:
            with running(durable=True, parent=Path(name)) as cluster:
                where = cluster.address(KEEPER, cluster.new_database("founded"), "barn")
                yield from written("PostgreSQL", open_school(where))
        except NoPostgres as why:
            yield Row(f"{WRITERS} programs, PostgreSQL: left out", 0, None, str(why))


def written(kind: str, school: School) -> Iterator[Row]:
    """The rows of one database."""
    school.book.put_people(people(), school.stamp)
    school.keep_texts()
    before = school.book.size()
    (alone,) = at_once(school.book.where, range(1))
    found = at_once(school.book.where, range(1, WRITERS + 1))
    everything = sum(one.kept + 1 for one in (alone, *found))
    if school.book.size() != before + everything or school.book.audit().faults:
        raise SystemExit(f"{kind}: the book does not hold what the writers were told it holds")
    school.book.close()
    many = sum(one.kept for one in found)
    counts = [one.kept for one in found]
    what = f"{WRITERS} programs write, {kind}"
    detail = f"{many / SECONDS:.0f} sheets a second; one alone {alone.kept / SECONDS:.0f}"
    yield Row(f"{what}: errors", sum(one.errors for one in found), 0, detail)
    yield Row(f"{what}: slowest, in seconds", max(one.slowest for one in found), 0.5, "")
    detail = f"{min(counts)} to {max(counts)} sheets each in {SECONDS} s"
    yield Row(f"{what}: busiest / quietest", max(counts) / max(min(counts), 1), 2, detail)


def at_once(where: str | Path, writers: range) -> list[Did]:
    """What the writers of these numbers did, who began together."""
    command = [sys.executable, "-m", "tests.bench.writers", str(where)]
    pipe = subprocess.PIPE
    programs = [
        subprocess.Popen(
            [*command, str(number), str(SECONDS)], stdin=pipe, stdout=pipe, text=True, cwd=ROOT
        )
        for number in writers
    ]
    try:
        for one in programs:
            if one.stdout is None or one.stdout.readline() != "ready\n":
                raise SystemExit("a writer could not begin")
        for one in programs:
            if one.stdin is not None:
                one.stdin.write("now\n")
                one.stdin.flush()
        # All are waited for before one may end: to end takes the processor from those who write.
        said = [one.stdout.readline() for one in programs if one.stdout is not None]
        for one in programs:
            one.communicate(timeout=60)
        return [Did(**json.loads(line)) for line in said]
    finally:
        for one in programs:
            one.kill()


@dataclass
class Writer:
    """Who takes in one sheet after the other."""

    book: Book
    texts: tuple[Reference, Reference]
    random: Random
    seconds: int = 0

    def write(self) -> None:
        """One more."""
        self.seconds += 1
        at = BEGAN + timedelta(seconds=self.seconds)
        key = UUID(int=self.random.getrandbits(128))
        own = {"id": str(key), "practical": f"lesson-{key.hex}"}
        stamp = Stamp(uuid7(at, self.random.randbytes(10)), at, "ann")
        self.book.put_sheet(made.sheet(1).model_copy(update=own), *self.texts, stamp)


def main() -> int:
    """One writer."""
    where, number, seconds = sys.argv[1], int(sys.argv[2]), float(sys.argv[3])
    with open_book(where) as book:
        texts = book.find_version("rubric", "bar-1"), book.find_version("syllabus", "bar")
        rubric, syllabus = texts
        if rubric is None or syllabus is None:
            raise SystemExit("the book has no texts")
        writer = Writer(book, (rubric, syllabus), Random(number))
        writer.write()  # names are read and statements are put together once
        sys.stdout.write("ready\n")
        sys.stdout.flush()
        sys.stdin.readline()
        end, kept, errors, slowest = time.perf_counter() + seconds, 0, 0, 0.0
        while (began := time.perf_counter()) < end:
            try:
                writer.write()
                kept += 1
            except RecordBookError:
                errors += 1
            slowest = max(slowest, time.perf_counter() - began)
        found = json.dumps({"kept": kept, "slowest": slowest, "errors": errors})
        sys.stdout.write(f"{found}\n")
        sys.stdout.flush()
        sys.stdin.read()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
