"""Several who write at once, from programs and from threads: nobody is refused, nothing is lost."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path

from tests.store.raw import rows
from tests.store.recorder import Recorder
from tests.store.school import School

from standfast.engine.decide import decide
from standfast.store.book import Book

ROOT = Path(__file__).parents[2]


@contextmanager
def another_program(where: str | Path, series: int, count: int) -> Iterator[Callable[[], None]]:
    """Has opened the book; when called records the first so many; is waited for at the end."""
    command = [sys.executable, "-m", "tests.store.recorder", str(where), str(series), str(count)]
    pipe = subprocess.PIPE
    with subprocess.Popen(
        command, stdin=pipe, stdout=pipe, stderr=pipe, text=True, cwd=ROOT
    ) as program:
        assert program.stdout is not None
        try:
            assert program.stdout.readline() == "ready\n"
            yield lambda: begin(program)
            _, said = program.communicate(timeout=120)
        finally:
            program.kill()
    assert (program.returncode, said) == (0, "")


def begin(program: subprocess.Popen[str]) -> None:
    assert program.stdin is not None
    program.stdin.write("now\n")
    program.stdin.flush()


def check_all_there(school: School, before: int, counts: dict[int, int]) -> list[str]:
    """The ids of what was recorded, in order, when it is all there and in order of each series."""
    kept = rows(school, "SELECT seq, id FROM journal ORDER BY seq")
    assert [seq for seq, _ in kept] == list(range(1, before + sum(counts.values()) + 1))
    ids = [key for _, key in kept][before:]
    for series, count in counts.items():
        wanted = [Recorder(school.book, series).stamp(number).id for number in range(count)]
        assert [key for key in ids if key in set(wanted)] == wanted
    assert school.book.audit(decide).faults == []
    return ids


def test_two_programs_record_at_once(filled: School) -> None:
    before, count, where = filled.book.size(), 150, filled.book.where
    with another_program(where, 1, count) as one, another_program(where, 2, count) as other:
        one()
        other()

    ids = check_all_there(filled, before, {1: count, 2: count})

    ours = [key in {Recorder(filled.book, 1).stamp(n).id for n in range(count)} for key in ids]
    turns = sum(first != second for first, second in pairwise(ours))
    assert turns > 1, "they wrote one after the other, so that nothing was tried"


def test_threads_record_through_one_book_while_others_read(filled: School) -> None:
    before, count, threads = filled.book.size(), 24, 6

    def record(series: int) -> None:
        recorder = Recorder(filled.book, series)
        for number in range(count):
            recorder.record(number)

    def read(book: Book) -> list[tuple[int, int]]:
        """Sizes and the numbers of readable events, as seen in one transaction each."""
        return [(book.size(), len(book.history())) for _ in range(10)]

    with ThreadPoolExecutor(threads + 1) as pool:
        done = [pool.submit(record, series) for series in range(1, threads + 1)]
        seen = pool.submit(read, filled.book).result()
        for one in done:
            one.result()

    check_all_there(filled, before, dict.fromkeys(range(1, threads + 1), count))
    assert [size for size, _ in seen] == sorted(size for size, _ in seen)
    assert all(size <= events for size, events in seen)


def test_a_long_import_by_another_program_is_waited_for(filled: School) -> None:
    before, where = filled.book.size(), filled.book.where
    with another_program(where, 2, 30) as other, filled.book.together():
        other()
        recorder = Recorder(filled.book, 1)
        for number in range(90):
            recorder.record(number)

    ids = check_all_there(filled, before, {1: 90, 2: 30})

    first = [ids.index(recorder.stamp(number).id) for number in range(90)]
    assert first == list(range(first[0], first[0] + 90)), "something came into the middle"
