"""Signed tree heads, and receipts: that an entry stands in the record book, shown to an outsider.

A head is the whole book in one hash, signed on a day.  Its worth comes from copies outside the
school: whoever kept one can ask for a proof that the book still begins with it.  A receipt holds an
entry, its way up the tree, and the head that it leads to; it shows no other entry.

Source: RFC 9162 (2021), sections 2.1 and 4.10 for the idea; the files are our own.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal, TypeAlias, TypeVar

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from standfast.model import tree
from standfast.model.canonical import canonical
from standfast.seal import proofs
from standfast.seal.encoding import Unreadable, read_json
from standfast.seal.keys import PublicKey, SecretKey
from standfast.seal.shapes import Address, Instant, Proof

JSON: TypeAlias = dict[str, Any]
Hash = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
MOST_STEPS = 64
FileT = TypeVar("FileT", bound="_File")


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class Head(_File):
    """The book as of a moment, signed."""

    kind: Literal["standfast-head"]
    issuer: Address
    size: Annotated[int, Field(ge=1)]
    root: Hash
    at: Instant
    proof: tuple[Proof]


class Receipt(_File):
    """An entry, and its way to a head."""

    kind: Literal["standfast-receipt"]
    entry: str
    """Canonical JSON of the entry; people are opaque ids in it."""
    index: Annotated[int, Field(ge=0)]
    path: Annotated[tuple[Hash, ...], Field(max_length=MOST_STEPS)]
    head: Head


class Extension(_File):
    """That the book under the second head begins with the book under the first."""

    kind: Literal["standfast-extension"]
    first: Head
    second: Head
    path: Annotated[tuple[Hash, ...], Field(max_length=2 * MOST_STEPS)]


def signed_head(issuer: str, size: int, root: bytes, key: SecretKey, now: datetime) -> JSON:
    """A head, signed."""
    document: JSON = {
        "kind": "standfast-head",
        "issuer": issuer,
        "size": size,
        "root": root.hex(),
        "at": now.strftime("%Y-%m-%dT%H:%M:%SZ"),
    }
    method = f"{issuer}#{key.public.multikey}"
    return document | {"proof": [proofs.proof(document, "eddsa-jcs-2022", key, method, now)]}


def receipt(entry: bytes, index: int, path: tuple[bytes, ...], head: JSON) -> bytes:
    """The receipt of the entry at that place of the tree, as bytes."""
    return canonical(
        {
            "kind": "standfast-receipt",
            "entry": entry.decode(),
            "index": index,
            "path": [step.hex() for step in path],
            "head": head,
        }
    )


def extension(first: JSON, second: JSON, path: tuple[bytes, ...]) -> bytes:
    """The file that shows that the second head's book begins with the first's, as bytes."""
    steps = [step.hex() for step in path]
    return canonical(
        {"kind": "standfast-extension", "first": first, "second": second, "path": steps}
    )


def read(content: bytes, kind: type[FileT]) -> FileT:
    """A file of that kind; whether it holds is another question.

    Raises:
        Unreadable: it is none.
    """
    try:
        return kind.model_validate_json(canonical(read_json(content)), strict=True)
    except ValidationError as error:
        raise Unreadable(f"no such file: {error.errors()[0]['msg'].lower()}") from None


def signer(head: Head) -> PublicKey:
    """The key that signed the head, which was not changed since.

    Raises:
        Unreadable: it was changed, or names a key of somebody else.
    """
    issuer, _, multikey = head.proof[0].verificationMethod.partition("#")
    if issuer != head.issuer:
        raise Unreadable("the head names a key of somebody else")
    key = PublicKey.of(multikey)
    document = head.model_dump(mode="json", exclude_none=True, by_alias=True)
    if not proofs.holds_every_byte(document, document["proof"][0], key):
        raise Unreadable("the head was changed after it was signed")
    return key


def included(found: Receipt) -> bool:
    """Whether the entry's way leads to the head."""
    leaf = tree.leaf_hash(found.entry.encode())
    path = [bytes.fromhex(step) for step in found.path]
    root = bytes.fromhex(found.head.root)
    return tree.includes(root, found.head.size, leaf, found.index, path)


def extended(found: Extension) -> bool:
    """Whether nothing before the first head was changed, taken out or put in."""
    if found.first.issuer != found.second.issuer:
        return False
    first, second = (bytes.fromhex(head.root) for head in (found.first, found.second))
    path = [bytes.fromhex(step) for step in found.path]
    return tree.extends(first, found.first.size, second, found.second.size, path)
