"""What goes into a copy of a record book, whether as files or as a backup.

The book's parts (`store.contents`), read in one transaction, and the school's own files: settings,
rubrics, templates.  Its people are in the book; the files in `candidates/` stay behind, since a
name that is erased later could be erased from no copy of them.  Keys are never in it.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Generator, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from errno import EEXIST
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.keyfiles import durable
from standfast.desk.opening import MOVING_FILE, SCHOOL_FILE
from standfast.files.copies import LARGEST_SCHOOL_FILE
from standfast.model.manifest import BOOK, COPY_FORMAT, SCHOOL, Carried, Manifest, inside
from standfast.model.tree import GrowingTree, leaf_hash
from standfast.problems import RecordBookError, StandfastError

if TYPE_CHECKING:
    from standfast.store.contents import Contents, Still

Progress = Callable[[int, int], None]
"""Told how much is done, of how much."""

_FOLDERS = ("rubrics", "templates")
_SECRET = b"PRIVATE KEY"
JOURNAL = "journal"


def nobody_watches(_done: int, _all: int) -> None:
    """For whoever does not ask how far it is."""


@dataclass(frozen=True)
class Piece:
    """A file of the copy, whose content can be read again and again."""

    name: str
    content: Callable[[], Generator[bytes, None, None]]
    """To be closed by whoever does not ask to the end: the book's transaction ends after it."""


@dataclass(frozen=True)
class Gathered:
    """A whole copy before it is written."""

    manifest: Manifest
    pieces: tuple[Piece, ...]
    """In the order of the manifest."""


def gather(still: Still, root: Path, now: datetime, progress: Progress) -> Gathered:
    """Reads everything once, so that the manifest can stand in front of it.

    Raises:
        RecordBookError: what an entry says is not what its leaf was made from.
    """
    pieces = (*_of_book(still.contents), *_of_school(root))
    head, growing, files = still.contents.head, GrowingTree(), []
    for piece in pieces:
        digest, length = sha256(), 0
        with closing(piece.content()) as content:
            for line in content:
                digest.update(line)
                length += len(line)
                if piece.name == f"{BOOK}{JOURNAL}.jsonl":
                    growing.extend((leaf_hash(line.removesuffix(b"\n")),))
                    progress(growing.size, head.size)
        files.append(Carried(name=piece.name, bytes=length, sha256=digest.hexdigest()))
    if (growing.size, growing.root()) != (head.size, head.root):
        raise RecordBookError(
            f"{still.book.where}: the journal is damaged, and a copy of it would be too;"
            " 'standfast book audit' says where"
        )
    return Gathered(_manifest(still, now, files), pieces)


def _manifest(still: Still, now: datetime, files: list[Carried]) -> Manifest:
    school = still.book.school()
    return Manifest(
        standfast="record book",
        format=COPY_FORMAT,
        book_format=still.contents.format,
        school=None if school is None else school.name,
        made=now,
        entries=still.contents.head.size,
        root=still.contents.head.root.hex(),
        files=tuple(files),
    )


def as_written(manifest: Manifest) -> bytes:
    """The manifest as it stands in the copy."""
    return (json.dumps(manifest.model_dump(mode="json"), indent=1) + "\n").encode()


def _of_book(contents: Contents) -> Iterator[Piece]:
    from standfast.store.contents import PARTS

    for table in PARTS:
        yield Piece(f"{BOOK}{table.name}.jsonl", _lines(contents, table.name))


def _lines(contents: Contents, part: str) -> Callable[[], Generator[bytes, None, None]]:
    return lambda: contents.lines(part)


def _of_school(root: Path) -> Iterator[Piece]:
    """The school's files, read once, so that one that changes meanwhile is one thing."""
    for file in (root / SCHOOL_FILE, *(f for folder in _FOLDERS for f in _inside(root / folder))):
        content, name = file.read_bytes(), f"{SCHOOL}{file.relative_to(root).as_posix()}"
        if _SECRET in content:
            continue
        if fault := _unfit(name, content):
            raise StandfastError(f"{file}: {fault}")
        yield Piece(name, _whole(content))


def _unfit(name: str, content: bytes) -> str:
    """Why a file of the school cannot be carried; empty when it can."""
    if len(content) > LARGEST_SCHOOL_FILE:
        return f"it has {len(content)} bytes, and {LARGEST_SCHOOL_FILE} are the most in a copy"
    try:
        inside(name)
    except ValueError:
        return "no other system may take this name; leave colons and backslashes out of it"
    return ""


def _whole(content: bytes) -> Callable[[], Generator[bytes, None, None]]:
    return lambda: (one for one in (content,))


def _inside(folder: Path) -> Iterator[Path]:
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        if path.name.startswith(".") or path.is_symlink():
            continue  # what an editor left, or what lies elsewhere
        if path.is_dir():
            yield from _inside(path)
        elif path.is_file():
            yield path


UNFINISHED = "-unfinished"
"""Ends the name of a folder that is being made: whoever finds one after a kill knows what it is."""


@contextmanager
def made_whole(folder: Path, mode: int = 0o700) -> Iterator[Path]:
    """A folder beside that one, which takes its place when the block ends well.

    Raises:
        StandfastError: it cannot be written, or an earlier run was killed and left its folder.
    """
    with made_beside(folder, mode) as half:
        yield half
        try:
            with suppress(FileNotFoundError):
                folder.rmdir()  # it is empty
            half.rename(folder)
        except OSError as error:
            raise _not_written(folder, error) from None


@contextmanager
def made_beside(place: Path, mode: int = 0o700) -> Iterator[Path]:
    """A folder beside that place to make something in; gone when the block ends, well or not.

    It is named plainly, since names of people are in it: a kill leaves it.

    Raises:
        StandfastError: it cannot be written, or an earlier run was killed and left its folder.
    """
    if place.name in {"", ".."}:
        raise StandfastError(f"{place}: name the folder itself, from outside of it")
    half = place.with_name(f"{place.name}{UNFINISHED}")
    try:
        half.parent.mkdir(parents=True, exist_ok=True)
        half.mkdir(mode=mode)
    except FileExistsError:
        raise _left_half_done(half) from None
    except OSError as error:
        raise _not_written(place, error) from None
    try:
        yield half
    except OSError as error:
        raise _not_written(place, error) from None
    finally:
        shutil.rmtree(half, ignore_errors=True)


@contextmanager
def made_new(file: Path) -> Iterator[Path]:
    """A file beside that one to write into, which takes its place when the block ends well.

    One run at a time makes it; a kill leaves it, plainly named.

    Raises:
        FileExistsError: the file is there already.
        StandfastError: another run is at work, or was killed and left its file.
        OSError: it cannot be written.
    """
    half = file.with_name(f"{file.name}{UNFINISHED}")
    try:
        os.close(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    except FileExistsError:
        raise _left_half_done(half) from None
    try:
        if file.exists():
            raise FileExistsError(EEXIST, os.strerror(EEXIST), str(file))
        yield half
        half.replace(file)
        durable(file.parent)
    finally:
        half.unlink(missing_ok=True)


def _left_half_done(half: Path) -> StandfastError:
    if (half / MOVING_FILE).exists():
        return StandfastError(
            f"{half}: a run that was stopped left this, unless another is at work there now, and"
            f" its record book may be in the database; name it {half.name.removesuffix(UNFINISHED)}"
            " and do this again, which ends it"
        )
    return StandfastError(
        f"{half}: a run that was stopped left this half done, with names in it, unless another"
        " is at work there now; delete it, and do this again"
    )


def _not_written(folder: Path, error: OSError) -> StandfastError:
    return StandfastError(f"{folder}: {error.strerror}; name another folder")
