"""Looking after the record book: audit, replay, rebuild, forgetting a person."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.erasures import is_backup, note_erased
from standfast.desk.merging import objections_here
from standfast.desk.opening import BOOK_FILE, MOVED_FILE, Desk, where_the_book_is
from standfast.engine.decide import decide
from standfast.files.copies import MANIFEST
from standfast.problems import Refused, StandfastError

if TYPE_CHECKING:
    from standfast.store.audit import Audit
    from standfast.store.merging import Merged
    from standfast.store.replay import Differing


def audit(desk: Desk) -> Audit:
    """Checks file, guards, journal, tree and tables, and makes every decision again."""
    return desk.book.audit(decide)


def replay(desk: Desk) -> tuple[int, tuple[Differing, ...]]:
    """Makes every decision again; gives how many, and those that came out otherwise."""
    return desk.book.replay(decide)


def rebuild(desk: Desk) -> int:
    """Makes the derived tables anew from the journal; gives the number of entries read."""
    return desk.book.rebuild()


def forget(desk: Desk, person: str) -> str:
    """Erases a person's name and contact for ever; gives the entry that says so.

    Her opaque id goes into the list beside the book, for backups that still have the name.
    """
    entry = desk.book.erase(person, desk.stamp())
    note_erased(desk.root, str(entry.about), desk.calendar_day)
    return entry.id


def not_reached(desk: Desk) -> tuple[Path, ...]:
    """Files of the school's folder that still have the names which are erased in the book."""
    moved = desk.root / MOVED_FILE
    return (moved,) if moved.exists() else ()


def handed_to(desk: Desk, person: str) -> tuple[str, ...]:
    """The schools that have a person's record from this one; an erasure here does not reach them.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    from standfast.store.bodies import HandedOver

    events = desk.book.history(person)
    given = (one.body.hand_over.to for one in events if isinstance(one.body, HandedOver))
    return tuple(dict.fromkeys(given))


def merge(desk: Desk, other: Path, *, do: bool, partly: bool = False) -> Merged:
    """Takes in what another copy of this book holds, or only says what would become of it.

    With contradictions nothing is taken in, unless `partly`: then all but those, which stay in the
    other file.

    Raises:
        Refused: the other is no copy of this book, or it is this book itself.
        StandfastError: there is no record book in that place, but perhaps a backup or an export.
        RecordBookError: one of the two cannot be read or written.
    """
    from standfast.store.connect import open_book

    if (other / MANIFEST).is_file() or is_backup(other):
        raise StandfastError(
            f"{other}: is a copy to make a record book of: 'standfast book restore {other} --into"
            " FOLDER', then merge that folder"
        )
    file = other / BOOK_FILE if other.is_dir() else other
    if not file.is_file():
        raise StandfastError(
            f"{file}: there is no such file; name the other's {BOOK_FILE}, or the folder it is in"
        )
    here = where_the_book_is(desk.root)
    if isinstance(here, Path) and file.samefile(here):
        raise Refused("nothing to merge", [f"{file} is this record book itself; name the other's"])
    with open_book(file) as theirs, suppress(_OnlyAsked):
        with desk.book.together():
            found = desk.book.merge(theirs, desk.stamp, objections_here(desk))
            if not do or (found.held and not partly):
                raise _OnlyAsked
        desk.book.forget_deleted()
        for ref in found.erased:
            note_erased(desk.root, ref, desk.calendar_day)
    return found


class _OnlyAsked(Exception):  # noqa: N818 - never seen outside
    """Undoes what was done."""
