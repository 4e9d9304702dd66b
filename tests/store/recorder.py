"""Whoever records things that are known beforehand, so that afterwards nothing can be missing.

A series is endless; its entries are counted from 0 and are the same in every process.  As a
program (`python -m tests.store.recorder WHERE SERIES COUNT`) it opens the book, says that it is
ready, and after a line on its standard input records the first so many.
"""

from __future__ import annotations

import sys
from datetime import timedelta
from random import Random
from uuid import UUID

from tests.engine import made
from tests.store.school import BEGAN

from standfast.model.base import Reference
from standfast.model.keys import uuid7
from standfast.model.school import School as Settings
from standfast.store.book import Book
from standfast.store.connect import open_book
from standfast.store.journal import Entry, Stamp


class Recorder:
    """Records the entries of one series into a book that has a school's people and texts."""

    def __init__(self, book: Book, series: int) -> None:
        self._book = book
        self._series = series
        self._texts: tuple[Reference, Reference] | None = None

    def record(self, number: int) -> Entry:
        """Records the entry of that number: in turn a person, a sheet, other settings."""
        stamp = self.stamp(number)
        if number % 3 == 0:
            person = made.person(f"s{self._series}-{number}")
            (entry,) = self._book.put_people([person], lambda: stamp)
            return entry
        if number % 3 == 1:
            key = str(UUID(int=self._series << 32 | number))
            sheet = made.sheet(1).model_copy(update={"id": key})
            return self._book.put_sheet(sheet, *self._kept_texts(), stamp)
        name = f"Barn {self._series}-{number}"
        return self._book.put_school(Settings(id="barn", name=name), stamp)

    def _kept_texts(self) -> tuple[Reference, Reference]:
        if self._texts is None:
            rubric = self._book.find_version("rubric", "bar-1")
            syllabus = self._book.find_version("syllabus", "bar")
            assert rubric is not None
            assert syllabus is not None
            self._texts = (rubric, syllabus)
        return self._texts

    def stamp(self, number: int) -> Stamp:
        """Of the entry of that number; its id is the entry's."""
        at = BEGAN + timedelta(hours=1, milliseconds=number)
        random = Random(self._series << 32 | number)
        return Stamp(uuid7(at, random.randbytes(10)), at, "office")


def main(where: str, series: int, count: int) -> None:
    """Records the first so many of that series when told to begin."""
    with open_book(where, random=Random(series).randbytes) as book:
        recorder = Recorder(book, series)
        sys.stdout.write("ready\n")
        sys.stdout.flush()
        sys.stdin.readline()
        for number in range(count):
            recorder.record(number)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
