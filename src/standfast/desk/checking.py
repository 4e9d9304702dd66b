"""Checking certificates, of this school or another, and whose keys are believed.

No school is needed for it: whoever checks keeps a folder with the trust files that she imported.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.proving import check_receipt
from standfast.model.canonical import canonical
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.desk.opening import Desk
    from standfast.seal.trust import Signed, TrustFile
    from standfast.seal.verify import Finding


@dataclass(frozen=True)
class Checked:
    """What can be said of a certificate."""

    findings: tuple[Finding, ...]
    number: str
    """As printed; empty when it cannot be read."""
    scope: str

    @property
    def holds(self) -> bool:
        """Whether every question was answered with yes."""
        return all(one.answer == "yes" for one in self.findings)


def trusted_in(folder: Path) -> list[Signed]:
    """The trust files of that folder; a file that was changed is left out."""
    from standfast.seal.encoding import Unreadable
    from standfast.seal.trust import read

    found = []
    for file in sorted(folder.glob("*.json")) if folder.is_dir() else ():
        try:
            found.append(read(file.read_bytes()))
        except Unreadable:
            continue
    return found


def import_trust(file: Path, folder: Path, fingerprint: str | None) -> Signed:
    """Believes a school's trust file from now on, and keeps it in that folder.

    The first of a school needs the fingerprint that the school printed or told; a later one is
    believed when a key signed it that is believed already.

    Raises:
        StandfastError: the file cannot be read, or is no trust file.
        Refused: it must not be believed, and why.
    """
    from standfast.files.export import put_in_place
    from standfast.seal.encoding import Unreadable
    from standfast.seal.trust import read, succeeds

    try:
        offered = read(_content(file))
    except Unreadable as error:
        raise StandfastError(f"{file}: {error}; ask the school for trust.json") from None
    issuer = offered.file.issuer
    known = next((one for one in trusted_in(folder) if one.file.issuer == issuer), None)
    succeeds(known, offered, fingerprint)
    folder.mkdir(parents=True, exist_ok=True)
    put_in_place(folder / f"{sha256(issuer.encode()).hexdigest()[:16]}.json", offered.content)
    return offered


@dataclass(frozen=True)
class With:
    """What a certificate is held against."""

    trusted: Sequence[TrustFile]
    lists: Sequence[Path] = ()
    name: str | None = None
    """Whose it is said to be."""
    desk: Desk | None = None
    """The school whose record book is asked too."""
    receipt: Path | None = None
    """That it stands in the record book, shown by a file."""


def check(file: Path, against: With, now: datetime) -> Checked:
    """What can be said of the certificate in that file.

    Raises:
        StandfastError: a file cannot be read.
    """
    from standfast.seal import verify
    from standfast.seal.encoding import read_json

    content = _content(file)
    lists = verify.Lists(tuple(_content(one) for one in against.lists))
    found = list(verify.verify(content, against.trusted, lists, now))
    if found[0].answer != "yes":
        return Checked(tuple(found), "", "")
    document = read_json(content)
    if against.name is not None:
        found.append(verify.holder(document, against.name))
    if against.desk is not None:
        found.append(_in_the_book(against.desk, document))
    if against.receipt is not None:
        shown = _content(against.receipt)
        found.append(check_receipt(shown, document, list(against.trusted)))
    subject = document["credentialSubject"]
    return Checked(tuple(found), subject.get("licenseNumber", ""), subject["achievement"]["name"])


def _in_the_book(desk: Desk, document: dict[str, object]) -> Finding:
    from standfast.seal.verify import Finding

    found = desk.book.find_credential(str(document["id"]).removeprefix("urn:uuid:"))
    if found is None:
        return Finding("book", "no", "the record book has none of this id")
    if found.digest != sha256(canonical(document)).hexdigest():
        return Finding("book", "no", "the record book has it with other content")
    return Finding("book", "yes", "the record book has it, with this content")


def _content(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise StandfastError(f"{file}: {error.strerror}; name another file") from None
