"""Showing an outsider that an entry stands in the record book, and that the book only grew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from standfast.desk.keyring import keyring, signing_key
from standfast.desk.opening import Desk
from standfast.model.canonical import canonical
from standfast.problems import Refused, StandfastError

if TYPE_CHECKING:
    from standfast.seal.keys import PublicKey, SecretKey
    from standfast.seal.receipts import Head
    from standfast.seal.trust import TrustFile
    from standfast.seal.verify import Finding

JSON: TypeAlias = dict[str, Any]


@dataclass(frozen=True)
class Proven:
    """A file for whoever asks, and what it shows in words."""

    content: bytes
    says: str


def head(desk: Desk, passphrase: str) -> Proven:
    """The head of the whole book, signed, and remembered by the book.

    Raises:
        StandfastError: another passphrase.
        RecordBookError: the book is not that of an earlier head.
    """
    made = sign_head(desk, signing_key(desk, passphrase))
    return Proven(canonical(made), f"{made['size']} entries, root {made['root']}")


def sign_head(desk: Desk, key: SecretKey) -> JSON:
    """The head of the whole book, signed with that key, and remembered by the book."""
    from standfast.seal.receipts import signed_head

    found, issuer = desk.book.remember_head(desk.moment.now), keyring(desk).signed.file.issuer
    return signed_head(issuer, found.size, found.root, key, desk.moment.now)


def prove_entry(desk: Desk, entry: str, passphrase: str) -> Proven:
    """A receipt: that the entry stands in the book under a head that is signed now.

    Raises:
        NotFound: no such entry.
        StandfastError: another passphrase.
    """
    key = signing_key(desk, passphrase)
    desk.book.entry_content(entry)
    (made,) = receipts(desk, [entry], key)
    return made


def receipts(desk: Desk, entries: Sequence[str], key: SecretKey) -> tuple[Proven, ...]:
    """A receipt for each of the entries, under one head that is signed now.

    Raises:
        NotFound: no such entry.
    """
    from standfast.seal.receipts import receipt

    made = sign_head(desk, key)
    found = desk.book.inclusions(entries, made["size"])
    return tuple(
        Proven(
            receipt(desk.book.entry_content(entry), shown.index, shown.path, made),
            f"entry {shown.index + 1} of {shown.size}, {len(shown.path)} hashes to the root",
        )
        for entry, shown in zip(entries, found, strict=True)
    )


def prove_growth(desk: Desk, since: Path, passphrase: str) -> Proven:
    """That the book still begins with what an earlier signed head stood for.

    Raises:
        StandfastError: the file is no signed head, or the school has no keys.
        Refused: the book does not begin with it, no key of the school's signed it, or another
            passphrase.
    """
    from standfast.seal.encoding import Unreadable, read_json
    from standfast.seal.receipts import Extension, Head, extended, extension, read, signer

    try:
        content = since.read_bytes()
        old = read(content, Head)
        key = signer(old)
    except OSError as error:
        raise StandfastError(f"{since}: {error.strerror}; name another file") from None
    except Unreadable as error:
        raise StandfastError(f"{since}: {error}") from None
    stolen = _signed_with_a_stolen_key(desk, old, key, since)
    made = sign_head(desk, signing_key(desk, passphrase))
    if old.size > made["size"]:
        raise Refused(
            f"{since} stands for {old.size} entries, and the book has {made['size']}", stolen
        )
    steps = desk.book.consistency(old.size)
    shown = extension(read_json(content), made, steps)
    if not extended(read(shown, Extension)):
        raise Refused(
            f"the first {old.size} entries of the book are not those that {since} was signed for",
            [*stolen, "the book was rewritten; take the last good copy, and keep both"],
        )
    return Proven(shown, f"nothing of the first {old.size} entries was changed until today")


def _signed_with_a_stolen_key(desk: Desk, head: Head, key: PublicKey, since: Path) -> list[str]:
    """What to say beside a head that the school may not have signed: its key was revoked.

    It may be older than the theft all the same, and is then what shows that nothing was changed.

    Raises:
        Refused: no key of the school's signed it, so that it says nothing of the book.
    """
    file = keyring(desk).signed.file
    made_up = "whoever sent it may have made it up"
    if head.issuer != file.issuer:
        raise Refused(f"{since} is a head of {head.issuer}, not of {file.issuer}", [made_up])
    listed = file.find(key.multikey)
    if listed is None:
        raise Refused(f"{since} is signed with a key that is none of this school's", [made_up])
    if listed.revoked is None:
        return []
    return [f"its key was revoked on {listed.revoked[:10]}: {made_up}"]


def check_receipt(content: bytes, document: JSON, trusted: list[TrustFile]) -> Finding:
    """Whether a receipt shows that this credential stands in a book under a trusted head."""
    from standfast.seal.encoding import Unreadable
    from standfast.seal.receipts import Receipt, included, read, signer
    from standfast.seal.verify import Finding, believed, hash_of, issuer_of

    try:
        found = read(content, Receipt)
        key = signer(found.head)
    except Unreadable as error:
        return Finding("book", "no", f"the receipt: {error}")
    issuer = found.head.issuer
    if issuer != issuer_of(document) or believed(issuer, key, trusted).answer != "yes":
        return Finding("book", "not known", "the receipt's head is signed with a key not believed")
    if not included(found):
        return Finding("book", "no", "the receipt's entry does not lead to its head")
    if _told_in(found.entry, "digest") != hash_of(document).hex():
        return Finding("book", "no", "the receipt is of another certificate")
    return Finding(
        "book", "yes", f"stood in the record book under the head of {found.head.at[:10]}"
    )


def paper_of(receipt: bytes) -> str:
    """The hash of the paper, by a receipt that was found good; empty when it tells none."""
    from standfast.seal.receipts import Receipt, read

    told = _told_in(read(receipt, Receipt).entry, "paper")
    return told if isinstance(told, str) else ""


def _told_in(entry: str, what: Literal["digest", "paper"]) -> object:
    """What an entry says of the certificate that was given out; None when it does not say it."""
    from standfast.seal.encoding import Unreadable, read_json

    try:
        told = read_json(entry.encode())
    except Unreadable:
        return None
    for name in ("body", "issued", what):
        told = told.get(name) if isinstance(told, dict) else None
    return told
