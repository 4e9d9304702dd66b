"""Sitting down at the desk: the school's folder, its files and its record book, opened together."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import parse_qs, urlsplit
from zoneinfo import ZoneInfo

from standfast.desk.keyfiles import durable, write
from standfast.model.keys import RANDOM_BYTES, uuid7
from standfast.model.school import School
from standfast.problems import BadInput, StandfastError

if TYPE_CHECKING:
    from standfast.files.folder import Definitions
    from standfast.model.award import Honoured
    from standfast.model.rubric import Rubric
    from standfast.store.book import Book
    from standfast.store.journal import Stamp

BOOK_FILE = "standfast.db"
SCHOOL_FILE = "school.yaml"
ADDRESS_FILE = "standfast.url"
"""With the address of the record book, for a school whose book is in PostgreSQL."""
MOVING_FILE = f"{ADDRESS_FILE}-unfinished"
"""With the address to which the record book is being moved or brought back; a kill leaves it."""
MOVED_FILE = f"{BOOK_FILE}-moved"
"""The record book as it was before it was moved."""


@dataclass(frozen=True)
class Moment:
    """What is read from the world at the two faces and passed inward."""

    now: datetime
    """This instant, with its offset."""
    who: str
    """Who is doing this: a person's slug, or a login name."""
    random: Callable[[int], bytes]
    """So many random bytes."""
    on: date | None = None
    """The day the question is about, when it is not today."""


@dataclass(frozen=True)
class Desk:
    """A school's folder and its record book, at one moment."""

    root: Path
    moment: Moment
    book: Book

    @cached_property
    def definitions(self) -> Definitions:
        """What the school's files say now; files with faults are left out and listed."""
        from standfast.files.folder import read_definitions

        return read_definitions(self.root)

    @cached_property
    def school(self) -> School:
        """The school's settings.

        Raises:
            BadInput: `school.yaml` has faults.
        """
        from standfast.files.school import read_school

        return read_school(self.root / SCHOOL_FILE).noun

    @cached_property
    def read(self) -> dict[str, Rubric]:
        """Rubrics of the book that were read already, by the hash of their content."""
        return {}

    @cached_property
    def told(self) -> dict[tuple[str, ...], Honoured | None]:
        """What was worked out of them already, by the hashes of all that it was made from."""
        return {}

    @property
    def today(self) -> date:
        """The day the question is about: as asked, else today where the school is."""
        return self.moment.on or self.calendar_day

    @property
    def calendar_day(self) -> date:
        """The day that it is where the school is, whatever was asked about."""
        return self.moment.now.astimezone(ZoneInfo(self.school.zone)).date()

    def at(self, moment: Moment) -> Desk:
        """This desk at another moment; files are not read again."""
        return self._with_files_read(Desk(self.root, moment, self.book))

    def on_day(self, day: date) -> Desk:
        """This desk with that day asked about."""
        return self.at(replace(self.moment, on=day))

    def on_past(self, past: Book) -> Desk:
        """This desk with the book as it stood, and the school's settings that stood in it."""
        desk = self._with_files_read(Desk(self.root, self.moment, past))
        settings = past.school()
        if settings is not None:
            desk.__dict__["school"] = settings
        return desk

    def _with_files_read(self, other: Desk) -> Desk:
        read = ("definitions", "school")
        other.__dict__.update({k: v for k, v in self.__dict__.items() if k in read})
        return other

    def new_key(self) -> str:
        """A fresh UUIDv7."""
        return uuid7(self.moment.now, self.moment.random(RANDOM_BYTES))

    def stamp(self) -> Stamp:
        """Who enters something now, under a fresh key."""
        from standfast.store.journal import Stamp

        return Stamp(self.new_key(), self.moment.now, self.moment.who)


@contextmanager
def open_desk(
    root: Path, moment: Moment, *, create: bool = False, cache_mib: int = 64
) -> Iterator[Desk]:
    """The desk of the school in that folder; `cache_mib` as for `open_book`.

    Raises:
        StandfastError: no school lives there.
        RecordBookError: the book cannot be opened.
    """
    from standfast.store.connect import open_book

    if not (root / SCHOOL_FILE).exists():
        raise StandfastError(
            f"{root or '.'}: no school lives in this folder (there is no {SCHOOL_FILE});"
            " make one with 'standfast new FOLDER' or name its folder with --school"
        )
    with open_book(
        where_the_book_is(root), create=create, random=moment.random, cache_mib=cache_mib
    ) as book:
        desk = Desk(root, moment, book)
        _check_whose_book(desk)
        yield desk


def _check_whose_book(desk: Desk) -> None:
    """Returns when a book on a server is that of the school in the folder.

    Raises:
        StandfastError: it is that of another school.
    """
    if isinstance(desk.book.where, Path):
        return
    (kept,) = parse_qs(urlsplit(desk.book.where).query)["school"]
    # A fault in the settings is told by whoever needs them.
    with suppress(BadInput):
        if kept != desk.school.id:
            raise StandfastError(
                f"{desk.root / ADDRESS_FILE}: leads to the record book of '{kept}', and"
                f" {SCHOOL_FILE} beside it says 'school: {desk.school.id}'; let the address end"
                f" with school={desk.school.id}, or bring back the {SCHOOL_FILE} of '{kept}'"
            )


def write_address(root: Path, address: str, name: str = ADDRESS_FILE) -> None:
    """Writes down in the school's folder where its record book is; the address has no password."""
    remark = "# Where the record book is.  No password here: libpq reads it from ~/.pgpass."
    write(root / name, f"{remark}\n{address}\n".encode(), 0o644)


def address_holds(root: Path) -> None:
    """Gives the address that was written as unfinished its name: the record book is there now.

    Raises:
        StandfastError: it cannot be named so.
    """
    try:
        (root / MOVING_FILE).replace(root / ADDRESS_FILE)
        durable(root)
        for left in root.glob(f".{MOVING_FILE}.*"):
            left.unlink()  # of a run that was killed while it wrote the address
    except OSError as error:
        raise StandfastError(
            f"{root / ADDRESS_FILE}: {error.strerror}; the record book is at its address: mend"
            " this, and type the same command again, which ends it"
        ) from None


def where_the_book_is(root: Path) -> str | Path:
    """The school's record book: the address that `standfast.url` names, else `standfast.db`.

    Raises:
        StandfastError: there are both, a move or a restoring was stopped half way, or the file
            says no address, or a password.
    """
    address = root / ADDRESS_FILE
    _check_moved(root)
    if not address.exists():
        return root / BOOK_FILE
    if (root / BOOK_FILE).exists():
        raise StandfastError(
            f"{address}: there is a {BOOK_FILE} beside it, so that nobody knows which of them is"
            " the record book; put one of the two elsewhere"
        )
    return address_in(address)


def _check_moved(root: Path) -> None:
    """Returns when the record book is on its way nowhere.

    Raises:
        StandfastError: a move or a restoring was stopped, or nothing says where the book went.
    """
    half, moved, here = root / MOVING_FILE, root / MOVED_FILE, (root / BOOK_FILE).exists()
    if half.exists() and not here and not moved.exists():
        raise StandfastError(
            f"{half}: bringing the record book back to {address_in(half)} was stopped half way,"
            " unless it is at work now; type the same 'standfast book restore' again, which ends it"
        )
    if half.exists():
        or_stay = f"; or delete this file, and {BOOK_FILE} stays the record book" if here else ""
        raise StandfastError(
            f"{half}: a move of the record book to {address_in(half)} was stopped half way, unless"
            f" it is at work now; type the same 'standfast book move' again, which ends it{or_stay}"
        )
    if moved.exists() and not here and not (root / ADDRESS_FILE).exists():
        raise StandfastError(
            f"{moved}: is the record book as it was before it was moved to a server, and"
            f" {ADDRESS_FILE}, which says where, is missing; bring that back from another computer."
            f" Only if nothing was entered there since, rename this file to {BOOK_FILE} instead"
        )


def address_in(file: Path) -> str:
    """The one address that the file says.

    Raises:
        StandfastError: it says none, several, or a password.
    """
    said = [line.strip() for line in file.read_text("utf-8", errors="replace").splitlines()]
    lines = [line for line in said if line and not line.startswith("#")]
    if len(lines) != 1:
        raise StandfastError(
            f"{file}: {len(lines)} lines that are no remark; write one, the address of the record"
            " book, such as postgresql://sandhof@localhost/standfast?school=sandhof"
        )
    if re.match(r"[^/]*//[^/@]*:[^/@]*@", lines[0]) or "password=" in lines[0]:
        raise StandfastError(
            f"{file}: has a password in it; take it out and put it into ~/.pgpass, where whoever"
            " copies the school's folder does not find it"
        )
    return lines[0]
