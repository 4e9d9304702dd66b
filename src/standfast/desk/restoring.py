"""Making a record book from a copy of one: all of it, or up to an entry."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from standfast.desk.copying import Progress, made_whole, nobody_watches
from standfast.desk.erasures import LIST, listed_beside
from standfast.desk.opened_copies import check_copy, watched
from standfast.desk.opening import ADDRESS_FILE, BOOK_FILE, SCHOOL_FILE, Moment
from standfast.files.copies import Copy
from standfast.model.keys import RANDOM_BYTES, uuid7
from standfast.problems import BadInput, Refused, StandfastError

if TYPE_CHECKING:
    from standfast.model.manifest import Manifest
    from standfast.store.audit import Audit
    from standfast.store.book import Book
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


@dataclass(frozen=True)
class Wanted:
    """What is to be made of a copy."""

    until: int | str | None = None
    """The last entry, by number or id; all when None."""
    forget: Sequence[str] = ()
    """Opaque ids of people who were erased after the copy was made."""


def restore(
    copy: Copy,
    into: Path,
    moment: Moment,
    wanted: Wanted,
    progress: Progress = nobody_watches,
) -> Restored:
    """Makes the school's folder anew with the book of the copy, or puts the book into the folder.

    A folder that holds a school without a record book keeps its own files, and whoever is in its
    list of erased people is erased.  Whatever stops it, nothing is left behind.

    Raises:
        BadInput: every fault in the copy.
        NotFound: it has no such entry, or nobody of whom one is to be forgotten.
        Refused: a record book is there already.
        StandfastError: the folder holds something else, or cannot be written.
    """
    alone = _book_alone(into)
    wanted = replace(wanted, forget=(*wanted.forget, *listed_beside(into)))
    making = _Making(copy, moment, wanted, progress, check_copy(copy, wanted.until, progress))
    if not alone:
        with made_whole(into, 0o777) as half:
            _write_school(half, copy)
            made = making.fill(half)
            _note(half, made, making.found)
        return replace(made, place=into)
    with TemporaryDirectory(prefix=f".{BOOK_FILE}.", dir=into) as beside:
        made = making.fill(Path(beside))
        (Path(beside) / BOOK_FILE).rename(into / BOOK_FILE)
    return replace(made, place=into)


def _book_alone(into: Path) -> bool:
    """Whether only the book is to be put there, since the folder holds its school."""
    there = sorted(into.glob(f"{BOOK_FILE}*")) if into.is_dir() else []
    there = [file for file in there if not file.name.endswith("-queue")]
    if there:
        raise Refused(
            f"{there[0]}: a record book is there, and none is ever overwritten; name a new folder,"
            f" or put {', '.join(file.name for file in there)} elsewhere first"
        )
    if (into / ADDRESS_FILE).exists():
        raise Refused(
            f"{into / ADDRESS_FILE}: the school's record book is at an address; name a new folder,"
            " and take the book from there to a database with 'standfast book move'"
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

    def fill(self, half: Path) -> Restored:
        """The new book in that folder."""
        from standfast.store.filling import fill

        parts = watched(self.copy, self.progress, self.copy.manifest.entries)
        with fill(half / BOOK_FILE, parts, self.moment.random, self.wanted.until) as book:
            if self.copy.faults:
                raise BadInput(self.copy.faults)
            forgotten = tuple(_forget(book, self.moment, self.wanted.forget))
            before = book.size()
            if self.wanted.until is not None:
                book.put_people(book.people(), lambda: _stamp(self.moment))
            entered = book.size() - before
            left_out, audit = self.found.left_out, book.audit()
        return Restored(half, self.copy.manifest, audit, left_out, entered, forgotten)


def _forget(book: Book, moment: Moment, people: Iterable[str]) -> Iterator[str]:
    """Erases those of the opaque ids for whom the book has a name; gives them."""
    for ref in dict.fromkeys(people):
        slug = book.handles().get(ref)
        if slug is not None:
            book.erase(slug, _stamp(moment))
            yield ref


def _note(root: Path, made: Restored, found: Incoming) -> None:
    """Whoever was erased in the copy or now stands in the new school's list."""
    refs = dict.fromkeys((*found.erased, *made.forgotten))
    (root / LIST).write_text("".join(f"{ref}\n" for ref in refs), "utf-8")


def _stamp(moment: Moment) -> Stamp:
    from standfast.store.journal import Stamp

    return Stamp(uuid7(moment.now, moment.random(RANDOM_BYTES)), moment.now, moment.who)
