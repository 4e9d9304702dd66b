"""A copy of a record book as files in a folder or as one archive, read with every fault found.

The manifest comes first and says which files follow, in which order, how long and with which
SHA-256.  What else lies in the folder is for people to read and is not looked at.
"""

from __future__ import annotations

import io
import json
import tarfile
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import BinaryIO, NamedTuple

from pydantic import ValidationError

from standfast.files.shape import in_words
from standfast.model.manifest import BOOK, COPY_FORMAT, SCHOOL, Carried, Manifest
from standfast.problems import BadInput, Place, Problem, StandfastError

MANIFEST = "manifest.json"
LARGEST_MANIFEST = 10_000_000
LARGEST_SCHOOL_FILE = 20_000_000
"""Bytes."""

AGAIN = "take another copy, or write this one anew"


class Member(NamedTuple):
    """A file of a copy while it is read."""

    name: str
    file: str
    """What a person calls it."""
    stream: BinaryIO | None
    """None when it is missing."""


Members = Callable[[], AbstractContextManager[Iterator[Member]]]
"""Opens the copy anew: the manifest, then the other files in its order."""


def bad(file: str, what: str, cure: str = AGAIN, line: int = 0) -> BadInput:
    """One fault that stops the reading."""
    return BadInput([Problem(Place(file, line), what, cure)])


def read_manifest(stream: BinaryIO | None, file: str) -> Manifest:
    """What the copy says of itself.

    Raises:
        BadInput: it is missing or says something else.
        StandfastError: a later version of this program wrote it.
    """
    if stream is None:
        raise bad(file, "there is no such file", "name the folder that 'standfast export' wrote")
    content = stream.read(LARGEST_MANIFEST)
    try:
        value = json.loads(content)
    except (ValueError, RecursionError):
        raise bad(file, "this is no JSON") from None
    later = value.get("format") if isinstance(value, dict) else None
    if isinstance(later, int) and later > COPY_FORMAT:
        raise StandfastError(
            f"{file}: a later version of standfast wrote this copy (its format is {later}, this"
            f" program knows {COPY_FORMAT}); update standfast"
        )
    try:
        return Manifest.model_validate(value)
    except ValidationError as error:
        problems = [Problem(Place(file), what, AGAIN) for what in in_words(error)]
        raise BadInput(problems) from None


@dataclass
class Copy:
    """A copy that can be read again and again; `faults` has what was wrong in the last reading."""

    members: Members
    manifest: Manifest
    faults: list[Problem] = field(default_factory=list)
    school: dict[str, bytes] = field(default_factory=dict)
    """The school's files of the last reading, by their names in the school's folder."""

    @classmethod
    def opened(cls, members: Members) -> Copy:
        """The copy, when its manifest can be read."""
        with members() as inside:
            first = next(inside, None)
            if first is None or first.name != MANIFEST:
                raise bad("the copy", f"it does not begin with {MANIFEST}")
            return cls(members, read_manifest(first.stream, first.file))

    def parts(self) -> Iterator[tuple[str, str, Iterator[bytes]]]:
        """Each part of the record book: its name, its file, its lines; to be read in this order."""
        self.faults.clear()
        self.school.clear()
        with self.members() as inside:
            next(inside)
            for wanted, member in zip(self.manifest.files, inside, strict=True):
                if member.stream is None:
                    self._fault(member.file, "there is no such file")
                elif wanted.name.startswith(BOOK):
                    part = wanted.name.removeprefix(BOOK).removesuffix(".jsonl")
                    yield part, member.file, self._lines(wanted, member.file, member.stream)
                else:
                    self._keep(wanted, member.file, member.stream)

    def _lines(self, wanted: Carried, file: str, stream: BinaryIO) -> Iterator[bytes]:
        digest, length = sha256(), 0
        for line in stream:
            digest.update(line)
            length += len(line)
            yield line
        self._compare(wanted, file, length, digest.hexdigest())

    def _keep(self, wanted: Carried, file: str, stream: BinaryIO) -> None:
        content = stream.read(LARGEST_SCHOOL_FILE)
        self._compare(wanted, file, len(content), sha256(content).hexdigest())
        self.school[wanted.name.removeprefix(SCHOOL)] = content

    def _compare(self, wanted: Carried, file: str, length: int, digest: str) -> None:
        if length != wanted.bytes:
            self._fault(file, f"it has {length} bytes, and the manifest says {wanted.bytes}")
        elif digest != wanted.sha256:
            self._fault(file, "its SHA-256 is not the one that the manifest says")

    def _fault(self, file: str, what: str) -> None:
        self.faults.append(Problem(Place(file), what, AGAIN))


def in_folder(folder: Path) -> Members:
    """The members of an exported folder."""

    @contextmanager
    def members() -> Iterator[Iterator[Member]]:
        yield _each(folder)

    return members


def _each(folder: Path) -> Iterator[Member]:
    with _file(folder, MANIFEST) as member:
        content = member.stream.read(LARGEST_MANIFEST) if member.stream else b""
        yield member._replace(stream=io.BytesIO(content) if member.stream else None)
    for wanted in read_manifest(io.BytesIO(content), str(folder / MANIFEST)).files:
        with _file(folder, wanted.name) as member:
            yield member


@contextmanager
def _file(folder: Path, name: str) -> Iterator[Member]:
    file = folder / name
    try:
        opened = file.open("rb")
    except FileNotFoundError:
        yield Member(name, str(file), None)
        return
    except OSError as error:
        raise StandfastError(f"{file}: {error.strerror}; check who may read it") from None
    with opened:
        yield Member(name, str(file), opened)


# --- one archive ------------------------------------------------------------------------------


def add_to_archive(
    archive: tarfile.TarFile, name: str, length: int, content: Iterator[bytes]
) -> None:
    """Adds a file of that length; always alike, whoever makes it and when."""
    info = tarfile.TarInfo(name)
    info.size, info.mode = length, 0o600
    archive.addfile(info, _Poured(content))
    if next(content, b""):  # asked to its end, so that whoever gives it can let go of it
        raise StandfastError(f"{name}: it became longer while it was copied; try again")


class _Poured(io.RawIOBase):
    """Pieces of content as a file to read from."""

    def __init__(self, content: Iterator[bytes]) -> None:
        super().__init__()
        self._content, self._rest = content, bytearray()

    def read(self, size: int = -1) -> bytes:
        """So many bytes, fewer at the end."""
        while len(self._rest) < size:
            some = next(self._content, None)
            if some is None:
                break
            self._rest += some
        given = bytes(self._rest[:size])
        del self._rest[:size]
        return given


@contextmanager
def in_archive(stream: BinaryIO, file: str) -> Iterator[Iterator[Member]]:
    """The members of an archive that is read once, from the front; after the last, to its end.

    Raises:
        StandfastError: it is no archive, or not such a one.
    """
    try:
        with tarfile.open(fileobj=stream, mode="r|") as archive:
            yield _in_order(archive, stream, file)
    except (tarfile.TarError, zlib.error, EOFError, OSError) as error:
        raise StandfastError(f"{file}: the content is no copy of a record book: {error}") from None


def _in_order(archive: tarfile.TarFile, stream: BinaryIO, file: str) -> Iterator[Member]:
    names: Sequence[str] | None = None
    at = -1
    for at, info in enumerate(archive):
        called = f"{file}: {info.name}"
        if not info.isfile() or (names is not None and names[at : at + 1] != [info.name]):
            raise bad(called, "the manifest says that another file comes here")
        content: BinaryIO = archive.extractfile(info)  # type: ignore[assignment]  # of a file
        if names is None:
            told = content.read(LARGEST_MANIFEST)
            names = [MANIFEST, *(one.name for one in read_manifest(io.BytesIO(told), called).files)]
            content = io.BytesIO(told)
        yield Member(info.name, called, content)
    if names is None or at + 1 != len(names):
        raise bad(file, "files that the manifest names are not there")
    while stream.read(1 << 16):
        pass  # what follows the last file: only the end shows that nothing was cut
