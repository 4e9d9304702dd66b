"""Giving out signed certificates: the file, and the paper that carries it.

Inside of the paper are the signed certificate and a receipt that the record book has it; on it is a
code with a short signed token, so that a phone can check it, and tie the paper to the file.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from itertools import compress
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.awards import find_award, how_it_stands
from standfast.desk.certificates import certificate_of, no_certificate
from standfast.desk.copying import nobody_watches
from standfast.desk.issuing import (
    REVOKED,
    Credential,
    Draft,
    drafts_for,
    entered,
    list_name,
    page_of,
    says_the_same,
)
from standfast.desk.keyring import keyring, signing_key
from standfast.desk.opening import Desk
from standfast.desk.people import person
from standfast.desk.press import folders, in_a_name, printer, save
from standfast.desk.proving import receipts
from standfast.desk.taken_back import says_more
from standfast.model.award import Award
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.paper.batch import Job
    from standfast.paper.view.certificate import CertificateView, Checkable
    from standfast.seal.keys import SecretKey

CREDENTIAL, RECEIPT = "credential.json", "receipt.json"
"""Names of the files inside of a paper."""


@dataclass(frozen=True)
class GivenOut:
    """A signed certificate and where it went."""

    credential: Credential
    file: Path
    """The certificate alone, as JSON."""
    paper: Path
    """The page, with the certificate and its receipt inside."""


@dataclass(frozen=True)
class Gave:
    """What was given out, and what was not."""

    made: tuple[GivenOut, ...]
    left_out: tuple[str, ...] = ()
    """Of those that were to be signed and were not, since something came between: why."""


def give_out(desk: Desk, wanted: str, passphrase: str, out: Path, *, named: bool = False) -> Gave:
    """Signs one certificate, enters it in the record book, and writes file and paper.

    Raises:
        NotFound: no such award.
        Refused: none is given out for it on this day.
        PaperError: it cannot be drawn; nothing is signed.
        StandfastError: another passphrase, the school has no key, or a file cannot be written.
    """
    desk = _now(desk)
    award = find_award(desk, wanted)
    if why := no_certificate(desk, award, how_it_stands(desk, award)):
        raise Refused(why, [NOT_SIGNED])
    key = signing_key(desk, passphrase)
    gave = give_out_for(desk, [award], key, out, nobody_watches, named=named)
    if gave.left_out:
        raise Refused(gave.left_out[0], [NOT_SIGNED])
    return gave


NOT_SIGNED = "no certificate is signed; 'standfast print record' tells its story"


def give_out_all(
    desk: Desk, passphrase: str, out: Path, progress: Callable[[int, int], None]
) -> Gave:
    """The same for every award that has not lapsed and has no signed certificate that holds.

    One under a key that was revoked since, or that says more than holds by now, counts as none.

    Raises:
        PaperError: one of them cannot be drawn; nothing is signed.
        StandfastError: another passphrase, the school has no key, or a file cannot be written.
    """
    desk, key = _now(desk), signing_key(desk, passphrase)
    believed = {one.key for one in keyring(desk).signed.file.keys if one.revoked is None}
    signed = defaultdict(list)
    for one in desk.book.issued():
        if one.key in believed:
            signed[one.award].append(one)
    wanted = []
    for kept in desk.book.awards(on=desk.today):
        told = how_it_stands(desk, kept.award)
        own = signed[kept.award.id]
        holds = any(not says_more(desk, one, kept.award, told) for one in own)
        if not holds and not no_certificate(desk, kept.award, told):
            wanted.append(kept.award)
    return give_out_for(desk, wanted, key, out, progress) if wanted else Gave(())


def _now(desk: Desk) -> Desk:
    """The desk asked about the day that it is.

    What is signed has no day of its own: one of last week's would cover what was taken away since.
    """
    return desk.on_day(desk.calendar_day)


def give_out_for(
    desk: Desk,
    awards: Sequence[Award],
    key: SecretKey,
    out: Path,
    progress: Callable[[int, int], None],
    *,
    named: bool = False,
) -> Gave:
    """Signs, enters and prints a certificate of each award.

    Signing takes long, so it comes before the turn to write; whether each may still have one is
    asked in the turn, and no ruling comes between the answer and the entry.

    Raises:
        PaperError: one of them cannot be drawn; nothing is signed.
        StandfastError: a file cannot be written.
    """
    from standfast.paper.batch import print_all

    views = [certificate_of(desk, one, how_it_stands(desk, one)) for one in awards]
    press = printer(desk)
    for view in views:  # a name that no font can show is found before anything is signed
        press.html("certificate", view)
    drafts = drafts_for(desk, awards, key, named=named)
    with desk.book.together():
        taken = desk.book.places()
        why = [_came_between(desk, *both, taken) for both in zip(drafts, views, strict=True)]
        may = [not one for one in why]
        made = [entered(desk, one) for one in compress(drafts, may)]
    shown = receipts(desk, [one.entry for one in made], key) if made else ()
    files = [_save(out, one) for one in made]
    address, jobs = page_of(desk), []
    for one, view, receipt in zip(made, compress(views, may), shown, strict=True):
        page = replace(view, signed=_checkable(desk, one, key, address))
        jobs.append(_job(desk, one, page, receipt.content, out))
    print_all(jobs, folders(desk), progress)
    given = (
        GivenOut(one, file, job.file) for one, file, job in zip(made, files, jobs, strict=True)
    )
    return Gave(tuple(given), tuple(filter(None, why)))


def _came_between(desk: Desk, draft: Draft, view: CertificateView, taken: Collection[int]) -> str:
    """Why it is not entered, by what happened while it was signed; empty when nothing did."""
    kept, number = desk.book.find_award(draft.award.id), draft.award.number
    if kept is None or kept.renewed_by or kept.superseded_by:
        return f"{number} was renewed or corrected meanwhile"
    standing = how_it_stands(desk, kept.award)
    if why := no_certificate(desk, kept.award, standing):
        return why
    same = says_the_same(desk, draft) and certificate_of(desk, kept.award, standing) == view
    if not same or draft.issued.place in taken:
        return f"{number}: something of it was changed meanwhile; sign it again"
    return ""


def _name(made: Credential) -> str:
    return f"signed-{in_a_name(made.award.number)}"


def _save(out: Path, made: Credential) -> Path:
    return save(out, f"{_name(made)}.json", made.content)


def _job(desk: Desk, made: Credential, view: CertificateView, receipt: bytes, out: Path) -> Job:
    from standfast.paper.archive import Attached
    from standfast.paper.batch import Job

    now = desk.moment.now
    attached = (
        Attached(CREDENTIAL, made.content, "The certificate, signed; anybody can check it", now),
        Attached(RECEIPT, receipt, "Shows that the school's record book has it", now),
    )
    return Job("certificate", view, out / f"{_name(made)}.pdf", attached)


def _checkable(desk: Desk, made: Credential, key: SecretKey, address: str) -> Checkable:
    """The code on the paper, and what stands below it; `address` is the checking page's."""
    from standfast.paper.view.certificate import Checkable
    from standfast.seal.encoding import base64url
    from standfast.seal.token import Told, token

    award, issued = made.award, made.issued
    told = Told(
        number=award.number,
        name=person(desk, award.candidate).name,
        achievement=award.rubric.id,
        version=str(award.rubric.version),
        last_day=issued.until or award.dates.last_day,
        index=issued.place,
        digest=base64url(bytes.fromhex(issued.digest)),
        status_list=list_name(REVOKED),
    )
    text = token(told, key)
    return Checkable(f"{address}#{text}" if address else text, address, key.public.thumbprint)
