"""A copy of the record book that somebody hands in: opened, and checked from end to end."""

from __future__ import annotations

import gzip
import io
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, cast

from standfast.desk.copying import JOURNAL, Progress, nobody_watches
from standfast.files.copies import AGAIN, MANIFEST, Copy, Member, Members, in_archive, in_folder
from standfast.model.manifest import BOOK
from standfast.problems import BadInput, Place, Problem, StandfastError

if TYPE_CHECKING:
    from standfast.store.filling import Parts
    from standfast.store.incoming import Incoming


def copy_at(place: Path, passphrase: str = "") -> Copy:
    """The export in that folder, or the backup in that file.

    Raises:
        BadInput: its manifest cannot be read.
        StandfastError: another passphrase; it is none, is damaged, or of a later version.
    """
    return Copy.opened(in_folder(place) if place.is_dir() else in_backup(place, passphrase))


def in_backup(file: Path, passphrase: str) -> Members:
    """The members of a backup; opening it raises what `copy_at` does."""

    @contextmanager
    def members() -> Iterator[Iterator[Member]]:
        from standfast.seal.encoding import Unreadable
        from standfast.seal.locking import Unlocked

        try:
            with (
                _opened(file) as raw,
                io.BufferedReader(Unlocked(raw, passphrase), 1 << 16) as plain,
                gzip.GzipFile(fileobj=plain, mode="rb") as unpacked,
                in_archive(cast("BinaryIO", unpacked), str(file)) as inside,
            ):
                yield inside
        except Unreadable as error:
            raise StandfastError(f"{file}: {error}") from None

    return members


def _opened(file: Path) -> BinaryIO:
    try:
        return file.open("rb")
    except OSError as error:
        raise StandfastError(f"{file}: {error.strerror}; name a backup or an export") from None


def watched(copy: Copy, progress: Progress, before: int = 0) -> Parts:
    """The parts of the copy; tells how many entries were read, of two readings.

    `before` is how many were read in an earlier one.
    """

    def told(lines: Iterable[bytes]) -> Iterator[bytes]:
        for number, line in enumerate(lines, start=1):
            progress(before + number, max(2 * copy.manifest.entries, before + number))
            yield line

    def parts() -> Iterator[tuple[str, str, Iterable[bytes]]]:
        for part, file, lines in copy.parts():
            yield part, file, told(lines) if part == JOURNAL else lines

    return parts


def check_copy(
    copy: Copy, until: int | str | None = None, progress: Progress = nobody_watches
) -> Incoming:
    """Reads the whole copy and keeps nothing; gives what is in it.

    Raises:
        BadInput: every fault in it.
        StandfastError: it has no such entry, or a later version wrote it.
    """
    from standfast.store.filling import check

    _check_format(copy)
    found = check(watched(copy, progress), until)
    problems = [*copy.faults, *found.problems, *_against_the_manifest(copy, found)]
    if problems:
        raise BadInput(problems)
    if until is not None and not found.limit.reached:
        raise StandfastError(
            f"no entry '{until}' is in the copy; it has {found.tree.size}, numbered from 1 in their"
            " order"
        )
    return found


def _check_format(copy: Copy) -> None:
    from standfast.store.contents import PARTS
    from standfast.store.tables import FORMAT

    if copy.manifest.book_format > FORMAT:
        raise StandfastError(
            "a later version of standfast wrote this copy (its book has format"
            f" {copy.manifest.book_format}, this program knows {FORMAT}); update standfast"
        )
    wanted = [f"{BOOK}{table.name}.jsonl" for table in PARTS]
    there = [one.name for one in copy.manifest.files if one.name.startswith(BOOK)]
    if there != wanted:
        what = f"it names {', '.join(there)}; a copy has {', '.join(wanted)}, in this order"
        raise BadInput([Problem(Place(MANIFEST), what, AGAIN)])


def _against_the_manifest(copy: Copy, found: Incoming) -> Iterable[Problem]:
    tree, manifest = found.tree, copy.manifest
    if (tree.size, tree.root().hex()) != (manifest.entries, manifest.root):
        what = (
            f"it says {manifest.entries} entries with the root {manifest.root[:16]}..., and the"
            f" journal has {tree.size} with {tree.root().hex()[:16]}..."
        )
        yield Problem(Place(MANIFEST), what, AGAIN)
