"""Moving the school's record book into a PostgreSQL database, and keeping its tables up to date."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.opening import (
    ADDRESS_FILE,
    BOOK_FILE,
    MOVED_FILE,
    MOVING_FILE,
    SCHOOL_FILE,
    Moment,
    address_holds,
    address_in,
    open_desk,
    write_address,
)
from standfast.files.school import read_school
from standfast.problems import MaybeKept, StandfastError

if TYPE_CHECKING:
    from standfast.store.moving import Moved


def move(root: Path, owner: str, role: str, moment: Moment) -> Moved:
    """Moves the book to the owner's address, for that role to keep, and writes down where it is.

    The address is written first, under a name that says that it is not done: whatever is killed,
    whoever opens the folder is told, and the same move again goes on from there.

    Raises:
        StandfastError: the school's book is at an address already, or on its way to another.
        RecordBookError: it cannot be moved; it is where it was.
        MaybeKept: the server went away at the end; the same move again tells.
    """
    from standfast.store.moving import move_book
    from standfast.store.postgres import kept_by

    half = root / MOVING_FILE
    begun = half.exists() and any((root / one).exists() for one in (BOOK_FILE, MOVED_FILE))
    if (root / ADDRESS_FILE).exists():
        raise StandfastError(f"{root / ADDRESS_FILE}: the record book is at an address already")
    if not begun:
        with open_desk(root, moment):
            pass  # it is there, and can be read
    school = read_school(root / SCHOOL_FILE).noun.id
    there = kept_by(owner, school, role)
    if begun and address_in(half) != there:
        raise StandfastError(
            f"{half}: a move to {address_in(half)} was begun; end that one first, or delete the"
            " file if nothing of this school is there"
        )
    write_address(root, there, MOVING_FILE)
    try:
        moved = move_book(root / BOOK_FILE, owner, school, role)
    except MaybeKept:
        raise
    except BaseException:
        if not begun and (root / BOOK_FILE).exists():
            half.unlink()
        raise
    address_holds(root)
    return moved


def make_tables(owner: str) -> None:
    """Makes the tables of record books at the owner's address, or brings them up to date.

    Raises:
        RecordBookError: the database will not do.
    """
    from standfast.store import founding

    with founding.owning(owner) as conn:
        founding.make_tables(conn)
