"""Checking certificates, of this school or another, and whose keys are believed.

No school is needed for it: whoever checks keeps a folder with the trust files that she imported.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

from standfast.desk import heads
from standfast.desk.proving import check_receipt, paper_of
from standfast.desk.taken_back import since
from standfast.in_place import put_in_place
from standfast.problems import PaperError, StandfastError

if TYPE_CHECKING:
    from standfast.desk.opening import Desk
    from standfast.model.issued import Issued
    from standfast.paper.opened import Opened
    from standfast.seal.token import Told
    from standfast.seal.trust import Signed, TrustFile
    from standfast.seal.verify import Finding, Lists


@dataclass(frozen=True)
class Checked:
    """What can be said of a certificate."""

    findings: tuple[Finding, ...]
    number: str = ""
    """As printed; empty when it cannot be read."""
    scope: str = ""
    says: str = ""
    """What it covers, and under which conditions; of a code, whose it is and until when."""

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
    code: str | None = None
    """What the code on the paper says, as a phone scans it."""
    kept: Path | None = None
    """A head of the record book that was kept; heads, receipts and growth are held against it."""


def check(file: Path, against: With, now: datetime) -> Checked:
    """What can be said of the certificate in that file: JSON, or a PDF that carries it.

    Or of a head of a record book, a receipt, or a file that shows how the book grew.

    Raises:
        StandfastError: a file cannot be read.
    """
    from standfast.desk.giving import CREDENTIAL, RECEIPT
    from standfast.paper.opened import opened

    content = _content(file)
    if heads.kind_of(content):
        kept = _content(against.kept) if against.kept else None
        return Checked(heads.check(content, against.trusted, kept))
    if not content.startswith(b"%PDF"):
        return _check(content, against, now)
    try:
        page = opened(content)
    except PaperError as error:
        raise StandfastError(f"{file}: {error}") from None
    if CREDENTIAL not in page.attached:
        raise StandfastError(
            f"{file}: carries no signed certificate; ask for one that 'standfast sign' made"
        )
    paper = _Paper(content, page, page.attached.get(RECEIPT))
    return _check(page.attached[CREDENTIAL], against, now, paper)


@dataclass(frozen=True)
class _Paper:
    """A PDF that carries a certificate."""

    content: bytes
    page: Opened
    receipt: bytes | None


def _check(
    content: bytes,
    against: With,
    now: datetime,
    paper: _Paper | None = None,
) -> Checked:
    from standfast.seal import verify
    from standfast.seal.encoding import read_json

    found = list(verify.verify(content, against.trusted, _lists(against), now))
    if found[0].answer != "yes":
        return Checked(tuple(found))
    document = read_json(content)
    if against.name is not None:
        found.append(verify.holder(document, against.name))
    if paper is not None:
        found.append(_printed(document, paper, against))
    if against.code is not None:
        found.append(_by_code(document, against, now))
    if against.desk is not None:
        found += _in_the_book(against.desk, document)
    receipt = paper.receipt if paper else None
    if against.receipt is not None:
        receipt = _content(against.receipt)
    if receipt is not None:
        found.append(check_receipt(receipt, document, list(against.trusted)))
    subject = document["credentialSubject"]
    return Checked(
        tuple(found),
        subject.get("licenseNumber", ""),
        subject["achievement"]["name"],
        document.get("description", ""),
    )


def check_code(text: str, against: With, now: datetime) -> Checked:
    """What can be said of a paper by the code on it; `text` as a phone scans it.

    Raises:
        StandfastError: a list cannot be read.
    """
    from standfast.seal.verify import Finding, spellings, verify_token

    answers, told = verify_token(token_in(text), against.trusted, _lists(against), now)
    found = list(answers)
    if told is None:
        return Checked(tuple(found))
    if against.name is not None:
        same = told.name in spellings(against.name)
        says = "it is" if same else "it is not"
        found.append(Finding("holder", "yes" if same else "no", f"{says} that of {against.name}"))
    if against.desk is not None:
        found += _digest_in_the_book(against.desk, told)
    last = f"last day {told.last_day}"
    return Checked(tuple(found), told.number, told.achievement, f"{told.name}, {last}")


_TOKEN = re.compile(r"[\w-]{20,}\.[\w-]{20,}\.[\w-]{20,}", re.ASCII)


def is_code(text: str) -> bool:
    """Whether it looks like what the code on a paper says, and not like the name of a file."""
    return _TOKEN.fullmatch(token_in(text)) is not None


def token_in(text: str) -> str:
    """The token in what a phone scanned: after the # of an address, or alone."""
    return text.strip().rpartition("#")[2]


def _lists(against: With) -> Lists:
    from standfast.seal.verify import Lists

    return Lists(tuple(_content(one) for one in against.lists))


def _printed(document: dict[str, Any], paper: _Paper, against: With) -> Finding:
    """Whether the page says what the certificate inside of it says, and shows nothing else.

    Its skills are not compared, since a school may set them in its own way; they are shown.  What
    can be read in it may be painted over; so only the file as the school made it is a yes.
    """
    from standfast.paper.view.words import day
    from standfast.seal.verify import Finding

    subject = document["credentialSubject"]
    last = document.get("validUntil", "")[:10]
    wanted = {
        "number": subject.get("licenseNumber", ""),
        "scope": subject["achievement"]["name"],
        "last day": day(date.fromisoformat(last)) if last else "",
    }
    text = paper.page.text
    other = [what for what, words in wanted.items() if words not in text]
    if not _named_on(document, paper.page.lines):
        other.append("name")
    if other:
        return Finding(
            "paper", "no", f"the page does not show the {', '.join(other)} that is signed"
        )
    if _as_it_was_made(document, paper, against):
        return Finding("paper", "yes", "byte by byte the page that the school made for it")
    return Finding("paper", "not known", PAINTED_OVER)


PAINTED_OVER = (
    "the number, name, scope and last day that are signed stand in its text; other words may have"
    " been painted over them or added since: compare what you see with what is said here, and the"
    " name that you see with --name"
)


def _as_it_was_made(document: dict[str, Any], paper: _Paper, against: With) -> bool:
    """Whether it is the file whose hash the record book has, by its receipt or by the book."""
    from standfast.seal.papers import hash_of

    made = hash_of(paper.content, paper.receipt) if paper.receipt else ""
    return bool(made) and made in set(_papers_told(document, paper, against))


def _papers_told(document: dict[str, Any], paper: _Paper, against: With) -> Iterator[str]:
    from standfast.seal.verify import hash_of

    trusted = list(against.trusted)
    if paper.receipt and check_receipt(paper.receipt, document, trusted).answer == "yes":
        yield paper_of(paper.receipt)
    if against.desk is not None:
        kept = against.desk.book.find_credential(str(document["id"]).removeprefix("urn:uuid:"))
        if kept and kept.paper and kept.digest == hash_of(document).hex():
            yield kept.paper


LONGEST_NAME = 4
"""Over how many pieces of text a name may go."""


def _named_on(document: dict[str, Any], lines: Sequence[str]) -> bool:
    """Whether a piece of the page, or some that follow each other, is the holder's name."""
    from standfast.seal.verify import is_holder

    runs = (
        " ".join(lines[at : at + count])
        for count in range(1, LONGEST_NAME + 1)
        for at in range(len(lines) - count + 1)
    )
    return any(is_holder(document, run) for run in runs)


def _by_code(document: dict[str, Any], against: With, now: datetime) -> Finding:
    """Whether the code on the paper was made for this certificate, by the same school."""
    from standfast.seal.verify import Finding, Lists, digest, issuer_of, verify_token

    own = [one for one in against.trusted if one.issuer == issuer_of(document)]
    answers, told = verify_token(token_in(str(against.code)), own, Lists(), now)
    if told is None:
        return Finding("paper", answers[-1].answer, f"the code: {answers[-1].says}")
    if told.digest != digest(document):
        return Finding("paper", "no", f"the code is of another certificate, {told.number}")
    return Finding("paper", "yes", f"the code on the paper is of this certificate, {told.number}")


def _in_the_book(desk: Desk, document: dict[str, Any]) -> Iterator[Finding]:
    from standfast.seal.verify import Finding, hash_of

    found = desk.book.find_credential(str(document["id"]).removeprefix("urn:uuid:"))
    if found is None:
        yield Finding("book", "no", "the record book has none of this id")
    elif found.digest != hash_of(document).hex():
        yield Finding("book", "no", "the record book has it with other content")
    else:
        yield Finding("book", "yes", "the record book has it, with this content")
        yield _standing(desk, found)


def _digest_in_the_book(desk: Desk, told: Told) -> Iterator[Finding]:
    from standfast.seal.encoding import from_base64url
    from standfast.seal.verify import Finding

    kept = desk.book.find_award(told.number)
    digest = from_base64url(told.digest).hex()
    own = desk.book.issued(kept.award.id) if kept else ()
    found = next((one for one in own if one.digest == digest), None)
    if found is None:
        yield Finding("book", "no", "the record book has no such certificate")
        return
    yield Finding("book", "yes", "the record book has the certificate that it was made for")
    yield _standing(desk, found)


def _standing(desk: Desk, issued: Issued) -> Finding:
    """Whether it still holds, by the book: what was ruled today is in no list yet."""
    from standfast.seal.verify import Finding

    came = since(desk, issued)
    if came.revoked:
        return Finding("standing", "no", f"taken back since, by the record book: {came.revoked}")
    if came.suspended:
        return Finding(
            "standing", "no", f"does not count now, by the record book: {came.suspended}"
        )
    return Finding("standing", "yes", "by the record book nothing of it was taken back until now")


def _content(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise StandfastError(f"{file}: {error.strerror}; name another file") from None
