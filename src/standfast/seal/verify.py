"""What can be said of a certificate: findings, not one word.

Each finding is a question of its own, with an answer of three: yes, no, or not known.  A list that
is missing or stale is not known, and never a yes.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone
from functools import cached_property
from hashlib import sha256
from typing import Any, Literal, TypeAlias

from standfast.model.canonical import canonical
from standfast.seal import addresses, proofs, shapes, status, token
from standfast.seal.encoding import Unreadable, base64url, read_json
from standfast.seal.keys import PublicKey
from standfast.seal.token import Told
from standfast.seal.trust import TrustFile

JSON: TypeAlias = dict[str, Any]
Answer = Literal["yes", "no", "not known"]
Question = Literal[
    "shape",
    "signature",
    "key",
    "dates",
    "revocation",
    "suspension",
    "holder",
    "paper",
    "book",
    "standing",
    "kept",
]


@dataclass(frozen=True)
class Finding:
    """One question, and what can be said."""

    question: Question
    answer: Answer
    says: str


@dataclass(frozen=True)
class Lists:
    """The status lists at hand, as bytes; those of other purposes or schools are passed over.

    Each is read and its signature checked once, however many certificates are held against them.
    """

    files: tuple[bytes, ...] = ()

    @cached_property
    def read(self) -> tuple[ReadList, ...]:
        """What each of them says, or why it says nothing."""
        return tuple(_read_list(one) for one in self.files)


@dataclass(frozen=True)
class ReadList:
    """A status list that was read; whose it is and of which day is asked for each certificate."""

    fault: str
    """Why it says nothing at all; else empty, and the rest is there."""
    document: JSON
    key: PublicKey | None = None


def verify(
    content: bytes, trusted: Sequence[TrustFile], lists: Lists, now: datetime
) -> tuple[Finding, ...]:
    """What can be said of a credential on that day, in the order in which a person asks.

    Nothing is looked at after a broken shape or signature: whoever made it may mean anything by it.
    """
    try:
        document = read_json(content)
    except Unreadable as error:
        return (Finding("shape", "no", str(error)),)
    faults = shapes.faults(document)
    if not faults and "proof" not in document:
        faults = ["it is not signed"]
    if faults:
        return (Finding("shape", "no", "; ".join(faults[:5])),)
    signature, key = _signature(document)
    found = [Finding("shape", "yes", "a certificate, and nothing beside it"), signature]
    if key is None:
        return tuple(found)
    found += [believed(issuer_of(document), key, trusted), _dates(document, now)]
    found += [_status(document, entry, trusted, lists, now) for entry in _entries(document)]
    return tuple(found)


def verify_token(
    text: str, trusted: Sequence[TrustFile], lists: Lists, now: datetime
) -> tuple[tuple[Finding, ...], Told | None]:
    """What can be said of the code on a paper, and what it tells if its signature holds.

    It names its key by a thumbprint, so that without the school's trust file nothing is known.
    """
    try:
        thumbprint = token.key_named_in(text)
    except Unreadable as error:
        return (Finding("shape", "no", str(error)),), None
    found = [Finding("shape", "yes", "the code of a certificate")]
    signer = _signer_of(thumbprint, trusted)
    if signer is None:
        says = f"its key {thumbprint} is in no trust file that was imported"
        return (*found, Finding("signature", "not known", says)), None
    file, key = signer
    try:
        told = token.read_token(text, key)
    except Unreadable as error:
        return (*found, Finding("signature", "no", str(error))), None
    found.append(Finding("signature", "yes", "unchanged since it was signed"))
    # As much of a certificate as the checks of keys and lists look at.
    stands_for: JSON = {"issuer": file.issuer}
    entry = {
        "statusPurpose": "revocation",
        "statusListIndex": str(told.index),
        "statusListCredential": addresses.status_list(file.issuer, told.status_list),
    }
    found += [believed(file.issuer, key, trusted), _last_day(told.last_day, now)]
    entries = _entries(stands_for | {"credentialStatus": entry})
    found += [_status(stands_for, one, trusted, lists, now) for one in entries]
    return tuple(found), told


def _signer_of(thumbprint: str, trusted: Sequence[TrustFile]) -> tuple[TrustFile, PublicKey] | None:
    """The school and its key of that thumbprint; what is listed and no key has signed nothing."""
    for file in trusted:
        for one in file.keys:
            with suppress(Unreadable):
                key = PublicKey.of(one.key)
                if key.thumbprint == thumbprint:
                    return file, key
    return None


FIRST, LAST = timezone(timedelta(hours=14)), timezone(timedelta(hours=-12))
"""Where a day ends first and last."""


def _last_day(last: date, now: datetime) -> Finding:
    """A code has no room for the school's time zone."""
    if now.astimezone(FIRST).date() <= last:
        return Finding("dates", "yes", f"last day {last}, included")
    if now.astimezone(LAST).date() > last:
        return Finding("dates", "no", f"ended; its last day was {last}")
    return Finding("dates", "not known", f"last day {last}: just over, or not yet, where it is")


def holder(document: JSON, name: str) -> Finding:
    """Whether it is hers who has that name, as she spells it."""
    if is_holder(document, name):
        return Finding("holder", "yes", f"it is that of {name}")
    return Finding("holder", "no", f"it is not that of '{name}', so spelt")


def is_holder(document: JSON, name: str) -> bool:
    """Whether the certificate names her, or a hash of her name."""
    return any(
        one["identityType"] == "name" and one["identityHash"] == _told(spelt, one)
        for one in document["credentialSubject"].get("identifier", ())
        for spelt in spellings(name)
    )


def _told(name: str, identifier: JSON) -> str:
    if not identifier["hashed"]:
        return name
    return f"sha256${sha256((name + identifier.get('salt', '')).encode()).hexdigest()}"


def spellings(name: str) -> tuple[str, ...]:
    """The name as it was typed, and as others type it who see the same.

    Blanks that nobody sees are left out; letters with marks are one character or several (Unicode
    normalization forms C and D, UAX 15).
    """
    one = " ".join(name.split())
    return name, one, unicodedata.normalize("NFC", one), unicodedata.normalize("NFD", one)


def digest(document: JSON) -> str:
    """SHA-256 of the whole credential in canonical form, base64url; the code on paper names it."""
    return base64url(hash_of(document))


def hash_of(document: JSON) -> bytes:
    """SHA-256 of the whole credential in canonical form."""
    return sha256(canonical(document)).digest()


def issuer_of(document: JSON) -> str:
    """The school's address."""
    issuer = document["issuer"]
    return str(issuer["id"] if isinstance(issuer, dict) else issuer)


def _signature(document: JSON) -> tuple[Finding, PublicKey | None]:
    """Whether every proof holds with one and the same key of the issuer that it names.

    One that a later proof over every byte covers holds when that one does.
    """
    methods = {one["verificationMethod"] for one in document["proof"]}
    if len(methods) != 1:
        return Finding("signature", "no", "its proofs name several keys"), None
    issuer, _, multikey = methods.pop().partition("#")
    if issuer != issuer_of(document):
        return Finding("signature", "no", "its proof names a key of somebody else"), None
    try:
        key = PublicKey.of(multikey)
        for one in proofs.to_check(document):
            if not proofs.holds(document, one, key):
                return Finding("signature", "no", "it was changed after it was signed"), None
    except (Unreadable, proofs.DataLoss) as error:
        return Finding("signature", "no", str(error)), None
    return Finding("signature", "yes", "unchanged since it was signed"), key


def believed(
    issuer: str,
    key: PublicKey,
    trusted: Sequence[TrustFile],
    if_revoked: str = "ask the record book",
) -> Finding:
    """Whether it is a key of that issuer, by the trust files that were imported.

    `if_revoked` says what is left to do about a key that was revoked.
    """
    files = [one for one in trusted if one.issuer == issuer]
    if not files:
        return Finding("key", "not known", f"{issuer} is in no trust file that was imported")
    listed = [found for one in files if (found := one.find(key.multikey))]
    if not listed:
        return Finding("key", "no", f"the key is none of {files[0].name}")
    # Of two lists of a school the older one may not know yet.
    if revoked := next((one.revoked for one in listed if one.revoked), None):
        return Finding("key", "not known", f"the key was revoked on {revoked}: {if_revoked}")
    return Finding("key", "yes", f"a key of {files[0].name}")


def _dates(document: JSON, now: datetime) -> Finding:
    first = datetime.fromisoformat(document["validFrom"])
    last = document.get("validUntil")
    if now < first:
        return Finding("dates", "no", f"begins on {document['validFrom'][:10]}")
    if last is not None and now > datetime.fromisoformat(last):
        return Finding("dates", "no", f"ended; its last day was {last[:10]}")
    return Finding("dates", "yes", f"last day {last[:10]}, included" if last else "without an end")


# --- taken back? --------------------------------------------------------------------------------


ANOTHER = "the list is another one"
REVOKED, SUSPENDED = "/status/revocation-", "/status/suspension-"
"""Open Badges has room for one list; in ours a certificate has the same place in a second one."""


def _entries(document: JSON) -> Iterator[JSON]:
    """The list that the certificate names, and the one that goes with it."""
    entry = document.get("credentialStatus")
    if entry is None:
        return
    yield entry
    address = entry["statusListCredential"]
    if entry["statusPurpose"] == "revocation" and REVOKED in address:
        other = address.replace(REVOKED, SUSPENDED)
        yield entry | {"statusPurpose": "suspension", "statusListCredential": other}


def _status(
    document: JSON, entry: JSON, trusted: Sequence[TrustFile], lists: Lists, now: datetime
) -> Finding:
    """Whether it was taken back, by the newest of the lists that say anything of it."""
    purpose: Question = entry["statusPurpose"]
    faults = [_list_fault(one, document, entry, trusted, now) for one in lists.read]
    good = [one.document for one, why in zip(lists.read, faults, strict=True) if not why]
    if not good:
        why = next((why for why in faults if why != ANOTHER), "no list of the school is at hand")
        return Finding(purpose, "not known", why)
    newest = max(good, key=lambda one: datetime.fromisoformat(one["validFrom"]))
    try:
        encoded, place = newest["credentialSubject"]["encodedList"], int(entry["statusListIndex"])
        taken = status.is_set(encoded, place)
    except Unreadable as error:
        return Finding(purpose, "not known", str(error))
    until = newest["validUntil"][:10]
    if taken:
        return Finding(purpose, "no", f"taken back ({purpose}), by the list good until {until}")
    return Finding(purpose, "yes", f"not taken back, by the list good until {until}")


def _read_list(content: bytes) -> ReadList:
    """A list of a good shape, signed with the key that it names; or why it is none."""
    try:
        found = read_json(content)
    except Unreadable as error:
        return ReadList(str(error), {})
    faults = shapes.faults(found, shapes.StatusListCredential)
    if not faults and "proof" not in found:
        faults = ["not signed"]
    if faults:
        return ReadList(f"the list is none: {'; '.join(faults[:2])}", {})
    signature, key = _signature(found)
    return ReadList("" if key else f"the list: {signature.says}", found, key)


def _list_fault(
    read: ReadList, document: JSON, entry: JSON, trusted: Sequence[TrustFile], now: datetime
) -> str:
    """Why a list says nothing of this certificate on this day; empty when it does."""
    found, key = read.document, read.key
    if read.fault or key is None:
        return read.fault
    subject = found["credentialSubject"]
    if found["id"] != entry["statusListCredential"] or issuer_of(found) != issuer_of(document):
        return ANOTHER
    if subject["statusPurpose"] != entry["statusPurpose"]:
        return "the list is for another purpose"
    if believed(issuer_of(found), key, trusted).answer != "yes":
        return "the list is signed with a key that is not trusted"
    return _not_in_its_days(found, now)


def _not_in_its_days(found: JSON, now: datetime) -> str:
    first, last = found["validFrom"], found["validUntil"]
    if now < datetime.fromisoformat(first):
        return f"the list has not begun: it is good from {first[:10]}; is the clock right?"
    if now > datetime.fromisoformat(last):
        return f"the list is stale: it was good until {last[:10]}"
    return ""
