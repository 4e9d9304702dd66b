"""Signed certificates on their way: made beside their place, and put there once they are entered.

A run that is stopped between the two leaves them in a folder of their own, and the record book
tells which of them it has.  The next run puts those in their place and clears the others away.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from standfast.desk.copying import UNFINISHED
from standfast.desk.keyfiles import durable
from standfast.desk.opening import Desk
from standfast.desk.press import another_folder, in_a_name, make_folder
from standfast.desk.taken_back import since
from standfast.in_place import write_through
from standfast.model.issued import Issued
from standfast.problems import NotFound, StandfastError


@dataclass(frozen=True)
class Pair:
    """The two files of one certificate in a folder."""

    file: Path
    """The certificate alone, as JSON."""
    paper: Path
    """The page, with the certificate and its receipt inside."""

    @classmethod
    def of(cls, number: str, folder: Path) -> Pair:
        """Those of the certificate of that number."""
        stem = f"signed-{in_a_name(number)}"
        return cls(folder / f"{stem}.json", folder / f"{stem}.pdf")


@dataclass(frozen=True)
class Left:
    """A certificate that an earlier run had entered, and had not put in its place."""

    number: str
    issued: Issued
    at: Pair
    taken_back: str
    """Why it was not put there now either; empty when it was."""


@contextmanager
def making_in(out: Path) -> Iterator[Path]:
    """The folder beside the certificates in which they are made; one run at a time has it.

    Raises:
        StandfastError: it cannot be made, or another run has it.
    """
    make_folder(out)
    folder = out / f"signing{UNFINISHED}"
    make_folder(folder)
    with _opened(folder) as handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)  # gone with whoever is killed
        except BlockingIOError:
            raise StandfastError(
                f"{folder}: another 'standfast sign' is at work there; wait until it is done"
            ) from None
        try:
            yield folder
        finally:
            with suppress(OSError):  # what still lies there is for the next run
                folder.rmdir()


def put_right(desk: Desk, folder: Path, out: Path) -> tuple[Left, ...]:
    """Puts in place what the record book has of what a stopped run left, and removes the rest."""
    files = sorted(folder.glob("signed-*.json"))
    known = {one.digest: one for one in desk.book.issued()} if files else {}
    found = []
    for file in files:
        issued = known.get(sha256(file.read_bytes()).hexdigest())
        if issued is not None:
            found.append(_left(desk, issued, folder, out))
    for other in folder.iterdir():
        other.unlink()
    return tuple(found)


def _left(desk: Desk, issued: Issued, folder: Path, out: Path) -> Left:
    kept = desk.book.find_award(issued.award)
    if kept is None:
        raise NotFound("award", issued.award, ())
    number, why = kept.award.number, since(desk, issued).revoked
    place = Pair.of(number, out)
    if not why:
        put_in_place([number], folder, out)
    return Left(number, issued, place, why)


def put_in_place(numbers: Sequence[str], folder: Path, out: Path) -> None:
    """Puts certificates that are in the record book from the folder into their place.

    Raises:
        StandfastError: one cannot be put there.
    """
    for at, number in enumerate(numbers):
        made, place = Pair.of(number, folder), Pair.of(number, out)
        try:
            # The paper first: where the certificate alone still lies, the paper may be in place.
            with suppress(FileNotFoundError):
                made.paper.replace(place.paper)
            made.file.replace(place.file)
        except OSError as error:
            raise StandfastError(
                f"{place.file}: {error.strerror}; entered in the record book, and not in their"
                f" place yet: {', '.join(numbers[at:])}; mend it, and give the same command again"
            ) from None


def written_down(file: Path, content: bytes) -> None:
    """Writes a file of that folder, on disk when it returns.

    Raises:
        StandfastError: it cannot be written.
    """
    with _in_words(file):
        write_through(file, content)


def on_disk(folder: Path) -> None:
    """Waits until the names in the folder are on disk.

    Raises:
        StandfastError: they cannot be written.
    """
    with _in_words(folder):
        durable(folder)


@contextmanager
def _opened(folder: Path) -> Iterator[int]:
    handle = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
    try:
        yield handle
    finally:
        os.close(handle)


@contextmanager
def _in_words(file: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise StandfastError(f"{file}: {error.strerror}; {another_folder('--out')}") from None
