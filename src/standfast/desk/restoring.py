"""Making a record book from a copy of one: all of it, or up to an entry."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.copying import UNFINISHED, Progress, made_beside, made_whole, nobody_watches
from standfast.desk.erasures import LIST, listed_beside
from standfast.desk.opened_copies import check_copy, watched
from standfast.desk.opening import (
    ADDRESS_FILE,
    BOOK_FILE,
    MOVING_FILE,
    SCHOOL_FILE,
    Moment,
    address_holds,
    address_in,
    write_address,
)
from standfast.files.copies import Copy
from standfast.model.keys import RANDOM_BYTES, uuid7
from standfast.problems import BadInput, MaybeKept, Refused, StandfastError

if TYPE_CHECKING:
    from standfast.model.manifest import Manifest
    from standfast.store.audit import Audit
    from standfast.store.book import Book
    from standfast.store.heads import Head
    from standfast.store.incoming import Incoming
    from standfast.store.journal import Stamp


@dataclass(frozen=True)
class Restored:
    """A record book that was made from a copy."""

    place: Path
    manifest: Manifest
    audit: Audit
    """Of the new book, decisions not made again."""
    left_out: dict[str, int]
    """By table, how many rows came after the entry up to which it was wanted."""
    entered: int = 0
    """Entries that were added, since names are those of the copy."""
    forgotten: tuple[str, ...] = ()
    """Opaque ids that were erased again."""
    address: str | None = None
    """Of the book on a server; None when it is a file in the folder."""
    there_already: bool = False
    """Whether a run that was stopped had put the book on the server."""


@dataclass(frozen=True)
class Wanted:
    """What is to be made of a copy."""

    until: int | str | None = None
    """The last entry, by number or id; all when None."""
    forget: Sequence[str] = ()
    """Opaque ids of people who were erased after the copy was made."""
    server: Server | None = None
    """Where the book goes; into a file when None."""


@dataclass(frozen=True)
class Server:
    """A PostgreSQL database to put the book into."""

    owner: str
    """The address of whoever owns the database."""
    role: str
    """That keeps the book from now on."""


def restore(
    copy: Copy,
    into: Path,
    moment: Moment,
    wanted: Wanted,
    progress: Progress = nobody_watches,
) -> Restored:
    """Makes the school's folder anew with the book of the copy, or puts the book into the folder.

    A folder that holds a school without a record book keeps its own files, and whoever is in its
    list of erased people is erased.  Whatever stops it, nothing is left behind; only what is killed
    leaves a folder, whose name says so.

    The address of a book on a server is written under a name that says that it is not done, before
    the book is kept, and gets its own name after: the same again ends what was killed in between.

    Raises:
        BadInput: every fault in the copy.
        NotFound: it has no such entry, or nobody of whom one is to be forgotten.
        Refused: a record book is there already.
        RecordBookError: the database or the role will not do.
        MaybeKept: the server went away at the end; the same again tells.
        StandfastError: the folder holds something else, or cannot be written.
    """
    alone = book_alone(into, at_an_address=wanted.server is not None)
    wanted = replace(wanted, forget=(*wanted.forget, *listed_beside(into)))
    making = _Making(copy, moment, wanted, progress, check_copy(copy, wanted.until, progress))
    if not alone:
        with made_whole(into, 0o777) as half:
            _write_school(half, copy)
            made = making.fill(half, half)
    elif wanted.server is not None:
        made = making.fill(into, into)
    else:
        with made_beside(into / BOOK_FILE) as beside:
            made = making.fill(beside, into)
            (beside / BOOK_FILE).rename(into / BOOK_FILE)
    if wanted.server is not None:
        address_holds(into)
    return replace(made, place=into)


def book_alone(into: Path, *, at_an_address: bool) -> bool:
    """Whether only the book is to be put there, since the folder holds its school.

    Raises:
        Refused: a record book is there already, or the school's is at an address.
        StandfastError: the folder holds something else.
    """
    there = sorted(into.glob(f"{BOOK_FILE}*")) if into.is_dir() else []
    there = [file for file in there if not file.name.endswith(("-queue", UNFINISHED))]
    if there:
        raise Refused(
            f"{there[0]}: a record book is there, and none is ever overwritten; name a new folder,"
            f" or put {', '.join(file.name for file in there)} elsewhere first"
        )
    for address in (into / ADDRESS_FILE, into / MOVING_FILE):
        if address.exists() and not at_an_address:
            raise Refused(
                f"{address}: the school's record book is at an address; bring it back there with"
                " --at and --role, or name a new folder"
            )
    if (into / SCHOOL_FILE).is_file():
        return True
    if into.exists() and (not into.is_dir() or any(into.iterdir())):
        raise StandfastError(f"{into} holds something already; name a new folder with --into")
    return False


def _write_school(half: Path, copy: Copy) -> None:
    for name, content in copy.school.items():
        file = half / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)


@dataclass(frozen=True)
class _Making:
    """A copy that was checked, and what is to be made of it."""

    copy: Copy
    moment: Moment
    wanted: Wanted
    progress: Progress
    found: Incoming

    def fill(self, half: Path, school: Path) -> Restored:
        """The new book in the folder `half`, or on the server; `school` has the settings."""
        begun = (school / MOVING_FILE).exists()
        try:
            with self._new_book(half, school) as (book, there_already):
                made, erased = self._made(book, school), book.erased()
                if made.address is not None:  # before it is kept: a full disk keeps nothing
                    write_address(school, made.address, MOVING_FILE)
        except MaybeKept:
            raise
        except BaseException:
            if not begun:
                (school / MOVING_FILE).unlink(missing_ok=True)
            raise
        _note(school, (*self.found.erased, *erased))
        return replace(made, there_already=there_already)

    def _made(self, book: Book, place: Path) -> Restored:
        """What the book is once who is to be forgotten is, and names are those of the copy."""
        if self.copy.faults:
            raise BadInput(self.copy.faults)
        _forget(book, self.moment, self.wanted.forget)
        if self.wanted.until is not None:
            book.put_names(lambda: _stamp(self.moment))
        own = book.newest(book.size() - self.found.size)[::-1]
        forgotten = tuple(str(one.about) for one in own if one.kind == "erased")
        return Restored(
            place,
            self.copy.manifest,
            book.audit(kept_heads=[self._head]),
            self.found.left_out,
            len(own) - len(forgotten),
            forgotten,
            None if isinstance(book.where, Path) else book.where,
        )

    @property
    def _head(self) -> Head:
        """Over the entries that are wanted, as the copy has them."""
        from standfast.store.heads import Head

        return Head(self.found.size, self.found.root, f"{self.copy.manifest.made:%Y-%m-%d}")

    @contextmanager
    def _new_book(self, half: Path, school: Path) -> Iterator[tuple[Book, bool]]:
        """The book with what is wanted of the copy, and whether it was there already."""
        from standfast.store.filling import fill, fill_book

        parts = watched(self.copy, self.progress, self.copy.manifest.entries)
        until, random, server = self.wanted.until, self.moment.random, self.wanted.server
        if server is None:
            with fill(half / BOOK_FILE, parts, random, until) as book:
                yield book, False
            return
        from standfast.files.school import read_school
        from standfast.store.founded import founded

        whose = read_school(school / SCHOOL_FILE).noun.id
        _same_place(school, server, whose)
        with founded(server.owner, whose, server.role, random) as book:
            there_already = self._put_there(book, school)
            if not there_already:
                fill_book(book, parts, until)
            yield book, there_already

    def _put_there(self, book: Book, school: Path) -> bool:
        """Whether a run that was stopped had put the book there: it begins as the copy does.

        Where nothing tells of such a run, since its folder was deleted, nothing may have been
        entered after that but what the run itself enters.
        """
        begun, wanted = (school / MOVING_FILE).exists(), self.found.size
        may_be = begun or not (school / ADDRESS_FILE).exists()
        if not may_be or not book.size() or book.size() < wanted:
            return False
        as_left = begun or book.only_names_since(wanted)
        return as_left and book.audit(kept_heads=[self._head]).clean


def _same_place(folder: Path, server: Server, school: str) -> None:
    """Returns when each address that the folder has is the one where the book is to be.

    Raises:
        Refused: it is another, so that two books could be meant.
    """
    from standfast.store.postgres import kept_by, read_address, shown

    here = kept_by(server.owner, school, server.role)
    for file in (folder / ADDRESS_FILE, folder / MOVING_FILE):
        there = shown(read_address(address_in(file))) if file.exists() else here
        if there != here:
            raise Refused(
                f"{file}: names another place, {there}; a record book may be there. Take the file"
                f" away if not; the new place is {here}"
            )


def _forget(book: Book, moment: Moment, people: Iterable[str]) -> None:
    """Erases those of the opaque ids for whom the book has a name."""
    for ref in dict.fromkeys(people):
        slug = book.handles().get(ref)
        if slug is not None:
            book.erase(slug, _stamp(moment))


def _note(root: Path, erased: Iterable[str]) -> None:
    """Adds whoever was erased in the copy or now to the school's list, once.

    Raises:
        StandfastError: it cannot be written.
    """
    listed = set(listed_beside(root))
    refs = dict.fromkeys(ref for ref in erased if ref not in listed)
    if not refs:
        return
    try:
        with (root / LIST).open("a", encoding="utf-8") as file:
            file.write("".join(f"{ref}\n" for ref in refs))
    except OSError as error:
        raise StandfastError(
            f"{root / LIST}: {error.strerror}; mend this, and type the same command again"
        ) from None


def _stamp(moment: Moment) -> Stamp:
    from standfast.store.journal import Stamp

    return Stamp(uuid7(moment.now, moment.random(RANDOM_BYTES)), moment.now, moment.who)
