"""Who was erased, so that a backup made before gives nobody her name back.

A list of opaque ids, which lead to nobody, lies beside the record book and is worth keeping with
the backups: when the book is lost, its own entries of the erasures are lost with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

from standfast.desk.opened_copies import check_copy, copy_at
from standfast.desk.opening import where_the_book_is
from standfast.files.copies import MANIFEST
from standfast.problems import BadInput, Place, Problem, StandfastError

LIST = "erased.txt"
_BACKUP = b"standfast backup "


def note_erased(root: Path, ref: str, day: date) -> None:
    """Adds an opaque id to the list of the school in that folder.

    Raises:
        StandfastError: it cannot be written; the erasure itself stands.
    """
    try:
        with (root / LIST).open("a", encoding="utf-8") as file:
            file.write(f"{ref} {day}\n")
    except OSError as error:
        raise StandfastError(
            f"{root / LIST}: {error.strerror}; the name is erased, but write {ref} down there:"
            " 'standfast book restore' must erase it again in older backups"
        ) from None


def erased_at(place: Path, passphrase: str = "") -> tuple[str, ...]:
    """The opaque ids of those erased in a book, a copy of one, or a list.

    Raises:
        BadInput: a line of the list is none, or the copy has faults.
        StandfastError: there is no such place, or it cannot be read.
    """
    from standfast.store.connect import open_book

    if not place.exists():
        raise StandfastError(f"{place}: there is no such file or folder")
    if place.suffix == ".txt":
        return _listed(place)
    if (place / MANIFEST).is_file() or is_backup(place):
        return tuple(check_copy(copy_at(place, passphrase)).erased)
    with open_book(where_the_book_is(place) if place.is_dir() else place) as book:
        return tuple(dict.fromkeys((*book.erased(), *listed_beside(place))))


def listed_beside(into: Path) -> tuple[str, ...]:
    """Those of the list in a school's folder; nobody where there is no list."""
    return _listed(into / LIST) if (into / LIST).is_file() else ()


def is_backup(place: Path) -> bool:
    """Whether a backup is there, which asks for a passphrase."""
    if not place.is_file():
        return False
    with place.open("rb") as file:
        return file.read(len(_BACKUP)) == _BACKUP


def _listed(file: Path) -> tuple[str, ...]:
    lines = list(_refs(file))
    if problems := [one for one in lines if isinstance(one, Problem)]:
        raise BadInput(problems)
    return tuple(one for one in lines if isinstance(one, str))


def _refs(file: Path) -> Iterator[str | Problem]:
    from standfast.files.read import read_text
    from standfast.store.names import is_ref

    for number, line in enumerate(read_text(file).splitlines(), start=1):
        words = line.split()
        if words and is_ref(words[0]):
            yield words[0]
        elif words:
            what = f"'{words[0]}' is no opaque id"
            cure = "a line begins with p- and 32 hexadecimal digits"
            yield Problem(Place(str(file), number), what, cure)
