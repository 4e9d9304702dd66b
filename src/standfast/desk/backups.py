"""Keeping copies of the record book: as open files, and as one file under a passphrase.

Both hold the same (`desk.copying`), and `desk.restoring` makes a book of either.
"""

from __future__ import annotations

import gzip
import os
import tarfile
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, cast

from standfast.desk.copying import (
    Gathered,
    Progress,
    as_written,
    gather,
    made_new,
    made_whole,
    nobody_watches,
)
from standfast.desk.keyring import check_passphrase
from standfast.desk.opened_copies import check_copy, copy_at
from standfast.desk.opening import Desk
from standfast.files.copies import MANIFEST, add_to_archive
from standfast.problems import BadInput, RecordBookError, Refused, StandfastError

if TYPE_CHECKING:
    from standfast.model.manifest import Manifest
    from standfast.seal.locking import Locked

ENDING = ".backup"


@dataclass(frozen=True)
class Kept:
    """A copy that is on disk and was checked."""

    place: Path
    manifest: Manifest
    others: tuple[Path, ...] = ()
    """Files for people to read, beside what a book can be made from again."""


def export(
    desk: Desk,
    out: Path,
    *,
    records: bool = False,
    progress: Progress = nobody_watches,
    printing: Progress = nobody_watches,
) -> Kept:
    """Writes everything as open files into a new folder; `records` prints each record as well.

    Raises:
        StandfastError: the folder holds something already, or cannot be written.
        RecordBookError: the book is damaged.
    """
    from standfast.desk.tables import print_records, write_tables

    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise StandfastError(f"{out} holds something already; name a new folder with --out")
    with made_whole(out) as half, desk.book.still(desk.moment.now) as still:
        found = gather(still, desk.root, desk.moment.now, progress)
        _write_pieces(half, found)
        here = Desk(desk.root, desk.moment, still.book)
        others = list(write_tables(here, half))
        others += print_records(here, half, printing) if records else ()
    return Kept(out, found.manifest, tuple(out / one.relative_to(half) for one in others))


def _write_pieces(folder: Path, found: Gathered) -> None:
    (folder / MANIFEST).write_bytes(as_written(found.manifest))
    for piece in found.pieces:
        file = folder / piece.name
        file.parent.mkdir(parents=True, exist_ok=True)
        with closing(piece.content()) as content, file.open("wb") as opened:
            opened.writelines(content)


# --- one file under a passphrase --------------------------------------------------------------


def backup(desk: Desk, out: Path, passphrase: str, *, progress: Progress = nobody_watches) -> Kept:
    """Writes everything into one file under the passphrase, and reads it back before it counts.

    In a folder that is there the file gets a name by the school and this moment.

    Raises:
        Refused: a file is there already.
        StandfastError: a passphrase that is too short; it cannot be written, or what was written
            does not read as the book does.
        RecordBookError: the book is damaged.
    """
    check_passphrase(passphrase)
    file = new_file(desk, out)
    try:
        with made_new(file) as half:
            manifest = _write_backup(desk, half, passphrase, progress)
            _read_back(half, passphrase, manifest)
    except FileExistsError:
        raise _there_already(file) from None
    except OSError as error:
        raise StandfastError(f"{file}: {error.strerror}; name another file with --out") from None
    return Kept(file, manifest)


def _there_already(file: Path) -> Refused:
    return Refused("no backup was made", [f"{file} is there already; name another file"])


def new_file(desk: Desk, out: Path) -> Path:
    """Where a backup goes: that file, or one in that folder, named by the school and this moment.

    Raises:
        Refused: a file is there already.
    """
    file = out / _name(desk) if out.is_dir() else out
    if file.exists():
        raise _there_already(file)
    return file


def _name(desk: Desk) -> str:
    return f"{desk.school.id}-{desk.moment.now:%Y%m%dT%H%M%SZ}{ENDING}"


def _write_backup(desk: Desk, half: Path, passphrase: str, progress: Progress) -> Manifest:
    from standfast.seal.locking import Locked

    with desk.book.still(desk.moment.now) as still, half.open("wb") as opened:
        found = gather(still, desk.root, desk.moment.now, progress)
        with (
            Locked(opened, passphrase, desk.moment.random) as locked,
            _zipped(locked) as packed,
        ):
            _pack(found, packed)
        opened.flush()
        os.fsync(opened.fileno())
    return found.manifest


def _zipped(out: Locked) -> gzip.GzipFile:
    return gzip.GzipFile(filename="", mode="wb", fileobj=cast("BinaryIO", out), mtime=0)


def _pack(found: Gathered, packed: gzip.GzipFile) -> None:
    told = as_written(found.manifest)
    with tarfile.open(fileobj=packed, mode="w|") as archive:
        add_to_archive(archive, MANIFEST, len(told), iter((told,)))
        for carried, piece in zip(found.manifest.files, found.pieces, strict=True):
            with closing(piece.content()) as content:
                add_to_archive(archive, piece.name, carried.bytes, content)


def _read_back(file: Path, passphrase: str, wanted: Manifest) -> None:
    """Returns when the file reads as the book did."""
    try:
        copy = copy_at(file, passphrase)
        found = check_copy(copy)
    except BadInput as error:
        raise RecordBookError(
            f"what was written does not read as the book does:\n{error}"
        ) from None
    if copy.manifest != wanted or found.tree.root().hex() != wanted.root:
        raise RecordBookError("what was written is another book; try another disk")
