"""The file in which a candidate's record goes from one school to another.

JSON Lines.  The first line says who hands over, whose record it is and who judged, and is signed,
as is the head inside of it; every other line is an entry of the school's journal with its way up
the tree to that head.  A proof shows that an entry stands in that book unchanged; that none is
missing no proof can show.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from standfast.model import tree
from standfast.model.base import Line, Ref, Slug
from standfast.model.canonical import canonical
from standfast.seal import proofs
from standfast.seal.encoding import Unreadable, read_json
from standfast.seal.keys import PublicKey, SecretKey
from standfast.seal.receipts import MOST_STEPS, Hash, Head, signer
from standfast.seal.shapes import Address, Instant, Proof

KIND = "standfast-hand-over"
FORMAT = 1
MOST_BYTES = 64 << 20
"""Of a whole file; a record of many years has some megabytes."""
MOST_OF_A_LINE = 16 << 20
"""An entry is text inside of text, so a large sheet is more than other files of ours."""

FileT = TypeVar("FileT", bound="_Part")


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class Named(_Part):
    """Somebody who stands in the entries, by name."""

    ref: Ref
    slug: Slug
    name: Line


class First(_Part):
    """The first line."""

    kind: Literal["standfast-hand-over"]
    format: Literal[1]
    issuer: Address
    school: Slug
    school_name: Line
    at: Instant
    candidate: Named
    people: tuple[Named, ...]
    """Who judged or trained."""
    lines: Annotated[int, Field(ge=1)]
    """After this one."""
    sha256: Hash
    """Of all that comes after this line."""
    head: Head
    proof: tuple[Proof]


class Carried(_Part):
    """Any other line: an entry."""

    entry: str
    index: Annotated[int, Field(ge=0)]
    path: Annotated[tuple[Hash, ...], Field(max_length=MOST_STEPS)]
    leaf: Hash | None = None
    """Of an entry of which something was left out."""

    def leads_to(self, head: Head) -> bool:
        """Whether its way leads to the head; of a shortened entry, that of its leaf."""
        leaf = bytes.fromhex(self.leaf) if self.leaf else tree.leaf_hash(self.entry.encode())
        path = [bytes.fromhex(step) for step in self.path]
        return tree.includes(bytes.fromhex(head.root), head.size, leaf, self.index, path)


@dataclass(frozen=True)
class Handed:
    """A file whose signatures hold, and whose every line is the one that was signed for."""

    first: First
    carried: tuple[Carried, ...]
    keys: tuple[PublicKey, PublicKey]
    """That signed the first line, and the head."""
    digest: str
    """SHA-256 of the whole file."""


def line_of(one: Carried) -> bytes:
    """The line as it stands in the file."""
    return canonical(one.model_dump(mode="json", exclude_none=True)) + b"\n"


def written(first: dict[str, Any], lines: Sequence[bytes], key: SecretKey, now: datetime) -> bytes:
    """The whole file; `first` says all but what is counted and signed here."""
    document = {
        "kind": KIND,
        "format": FORMAT,
        **first,
        "at": now.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "lines": len(lines),
        "sha256": sha256(b"".join(lines)).hexdigest(),
    }
    method = f"{document['issuer']}#{key.public.multikey}"
    made = document | {"proof": [proofs.proof(document, "eddsa-jcs-2022", key, method, now)]}
    return canonical(made) + b"\n" + b"".join(lines)


def read(content: bytes) -> Handed:
    """The file, when it was not changed since it was signed; whether to believe it is not asked.

    Raises:
        Unreadable: it is none, or was changed; says in which line.
    """
    if len(content) > MOST_BYTES:
        raise Unreadable(f"more than {MOST_BYTES} bytes")
    begin, _, rest = content.partition(b"\n")
    first = _first(begin)
    keys = _signer(first, _json(begin)), signer(first.head)
    lines = rest.splitlines(keepends=True)
    if len(lines) != first.lines:
        raise Unreadable(f"{len(lines)} lines follow the first, which says {first.lines}")
    if sha256(rest).hexdigest() != first.sha256:
        raise Unreadable(_changed(lines, first.head))
    carried = tuple(_carried(line, at) for at, line in enumerate(lines, start=2))
    for at, one in enumerate(carried, start=2):
        if not one.leads_to(first.head):
            raise Unreadable(f"line {at}: the entry does not lead to the head")
    return Handed(first, carried, keys, sha256(content).hexdigest())


def _first(line: bytes) -> First:
    told = _json(line)
    if not isinstance(told, dict) or told.get("kind") != KIND:
        raise Unreadable("no record that a school handed over")
    later = told.get("format")
    if isinstance(later, int) and later > FORMAT:
        raise Unreadable(
            f"its format is {later}, and this program knows {FORMAT}; update standfast"
        )
    return _as(First, line, 1)


def _json(line: bytes) -> Any:  # noqa: ANN401 - any JSON value
    return read_json(line, MOST_OF_A_LINE)


def _carried(line: bytes, at: int) -> Carried:
    return _as(Carried, line.removesuffix(b"\n"), at)


def _as(kind: type[FileT], line: bytes, at: int) -> FileT:
    try:
        return kind.model_validate_json(canonical(_json(line)), strict=True)
    except ValidationError as error:
        one = error.errors()[0]
        where = ".".join(map(str, one["loc"]))
        raise Unreadable(f"line {at}: {where}: {one['msg'].lower()}") from None
    except Unreadable as error:
        raise Unreadable(f"line {at}: {error}") from None


def _signer(first: First, document: dict[str, Any]) -> PublicKey:
    """The key that signed the first line."""
    issuer, _, multikey = first.proof[0].verificationMethod.partition("#")
    if issuer != first.issuer or first.head.issuer != first.issuer:
        raise Unreadable("line 1: it names a key or a head of somebody else")
    key = PublicKey.of(multikey)
    if not proofs.holds_every_byte(document, document["proof"][0], key):
        raise Unreadable("line 1: it was changed after it was signed")
    return key


def _changed(lines: Sequence[bytes], head: Head) -> str:
    """Which line was changed, where that can be told."""
    return next(_faulty(lines, head), "a line was changed, taken out or moved after it was signed")


def _faulty(lines: Sequence[bytes], head: Head) -> Iterator[str]:
    for at, line in enumerate(lines, start=2):
        try:
            holds = _carried(line, at).leads_to(head)
        except Unreadable as error:
            yield str(error)
            continue
        if not holds:
            yield f"line {at}: the entry was changed, or is of another book"


def content_of(entry: str) -> dict[str, Any]:
    """What the entry says, as JSON values.

    Raises:
        Unreadable: it is not in the one form in which a journal writes an entry.
    """
    try:
        told = json.loads(entry)
        same = isinstance(told, dict) and canonical(told).decode() == entry
    except (ValueError, RecursionError, UnicodeError):
        same = False
    if not same:
        raise Unreadable("the entry is not in the form in which it was written (RFC 8785)")
    return dict(told)
