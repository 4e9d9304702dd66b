"""Moving the school's record book into a PostgreSQL database, and keeping its tables up to date."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.opening import (
    ADDRESS_FILE,
    BOOK_FILE,
    Moment,
    open_desk,
    where_the_book_is,
    write_address,
)
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.store.moving import Moved


def move(root: Path, owner: str, role: str, moment: Moment) -> Moved:
    """Moves the book to the owner's address, for that role to keep, and writes down where it is.

    Raises:
        StandfastError: the school's book is at an address already.
        RecordBookError: it cannot be moved; it is where it was.
    """
    from standfast.store.moving import move_book

    with open_desk(root, moment) as desk:
        school = desk.school.id
    if where_the_book_is(root) != root / BOOK_FILE:
        raise StandfastError(f"{root / ADDRESS_FILE}: the record book is at an address already")
    moved = move_book(root / BOOK_FILE, owner, school, role)
    write_address(root, moved.address)
    return moved


def make_tables(owner: str) -> None:
    """Makes the tables of record books at the owner's address, or brings them up to date.

    Raises:
        RecordBookError: the database will not do.
    """
    from standfast.store import founding

    with founding.owning(owner) as conn:
        founding.make_tables(conn)
