"""Giving out signed certificates: the file, and the paper that carries it.

Inside of the paper are the signed certificate and a receipt that the record book has it; on it is a
code with a short signed token, so that a phone can check it, and tie the paper to the file.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from hashlib import sha256
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
from standfast.desk.press import folders, printer
from standfast.desk.proving import receipts
from standfast.desk.taken_back import says_more
from standfast.desk.unfinished import (
    Left,
    Pair,
    making_in,
    on_disk,
    put_in_place,
    put_right,
    written_down,
)
from standfast.model.award import Award, Standing
from standfast.model.canonical import canonical, plain
from standfast.model.issued import Issued
from standfast.problems import Refused, StandfastError

if TYPE_CHECKING:
    from standfast.paper.batch import Job
    from standfast.paper.view.certificate import CertificateView, Checkable
    from standfast.seal.keys import SecretKey

CREDENTIAL, RECEIPT = "credential.json", "receipt.json"
"""Names of the files inside of a paper."""


AT_A_TIME = 100
"""Certificates that are entered in one turn, so that nobody else waits long for theirs."""


@dataclass(frozen=True)
class GivenOut:
    """A signed certificate and where it went."""

    credential: Credential
    at: Pair


@dataclass(frozen=True)
class Gave:
    """What was given out, and what was not."""

    made: tuple[GivenOut, ...]
    left: tuple[Left, ...] = ()
    """What an earlier run had entered and not put in its place: it is there now."""
    left_out: tuple[str, ...] = ()
    """Of those that were to be signed and were not, since something came between: why."""


def give_out(desk: Desk, wanted: str, passphrase: str, out: Path, *, named: bool = False) -> Gave:
    """Signs one certificate, enters it in the record book, and writes file and paper.

    One that an earlier run had entered, and not put in its place, is put there instead.

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
    with _making_in(desk, out) as (folder, left):
        there = (one.issued for one in left if not one.taken_back)
        if any(one.award == award.id and one.named is named for one in there):
            return Gave((), left)
        gave = give_out_for(desk, [award], key, folder, out, nobody_watches, named=named)
    if gave.left_out:
        raise Refused(gave.left_out[0], [NOT_SIGNED])
    return replace(gave, left=left)


NOT_SIGNED = "no certificate is signed; 'standfast print record' tells its story"


def give_out_all(
    desk: Desk, passphrase: str, out: Path, progress: Callable[[int, int], None]
) -> Gave:
    """The same for every award that has not lapsed and has no signed certificate that holds.

    One under a key that was revoked since, or that says more than holds by now, counts as none;
    one that another run gave out meanwhile is one, and is told.

    Raises:
        PaperError: one of them cannot be drawn; nothing is signed.
        StandfastError: another passphrase, the school has no key, or a file cannot be written.
    """
    desk, key = _now(desk), signing_key(desk, passphrase)
    with _making_in(desk, out) as (folder, left):
        wanted = list(_without_one(desk))
        gave = Gave(())
        if wanted:
            gave = give_out_for(desk, wanted, key, folder, out, progress, once=True)
    return replace(gave, left=left)


def _without_one(desk: Desk) -> Iterator[Award]:
    """Awards that may have a signed certificate, and have none that holds."""
    signed, believed = defaultdict(list), _believed(desk)
    for one in desk.book.issued():
        signed[one.award].append(one)
    for kept in desk.book.awards(on=desk.today):
        told = how_it_stands(desk, kept.award)
        holds = _one_that_holds(desk, kept.award, told, signed[kept.award.id], believed)
        if holds is None and not no_certificate(desk, kept.award, told):
            yield kept.award


def _believed(desk: Desk) -> Collection[str]:
    """The school's public keys that were not revoked."""
    return {one.key for one in keyring(desk).signed.file.keys if one.revoked is None}


def _one_that_holds(
    desk: Desk,
    award: Award,
    standing: Standing,
    signed: Iterable[Issued],
    believed: Collection[str],
) -> Issued | None:
    """The first of those certificates of the award that says no more than holds now."""
    good = (one for one in signed if one.key in believed)
    return next((one for one in good if not says_more(desk, one, award, standing)), None)


@contextmanager
def _making_in(desk: Desk, out: Path) -> Iterator[tuple[Path, tuple[Left, ...]]]:
    """The folder to make them in, and what an earlier run had left there.

    In the end nothing lies there: also of one that fails what it entered is put in its place, and
    the rest is removed.
    """
    with making_in(out) as folder:
        left = put_right(desk, folder, out)
        try:
            yield folder, left
        except BaseException:
            with suppress(StandfastError, OSError):  # the first fault is the one to tell
                put_right(desk, folder, out)
            raise
        put_right(desk, folder, out)


def _now(desk: Desk) -> Desk:
    """The desk asked about the day that it is.

    What is signed has no day of its own: one of last week's would cover what was taken away since.
    """
    return desk.on_day(desk.calendar_day)


def give_out_for(
    desk: Desk,
    awards: Sequence[Award],
    key: SecretKey,
    folder: Path,
    out: Path,
    progress: Callable[[int, int], None],
    *,
    named: bool = False,
    once: bool = False,
) -> Gave:
    """Signs and prints a certificate of each award in `folder`, enters them, puts them into `out`.

    With `once` an award that has one by now gets no other.

    Signing and printing take long, so they come before the turn to write; whether each may still
    have one is asked in the turn, and no ruling comes between the answer and the entry.  What is
    entered is on disk by then.

    Raises:
        PaperError: one of them cannot be drawn; nothing is signed.
        StandfastError: a file cannot be written.
    """
    views = [certificate_of(desk, one, how_it_stands(desk, one)) for one in awards]
    press = printer(desk)
    for view in views:  # a name that no font can show is found before anything is signed
        press.html("certificate", view)
    made = _printed(desk, drafts_for(desk, awards, key, named=named), views, key, folder, progress)
    gave = Gave(())
    for at in range(0, len(made), AT_A_TIME):
        more = _given_out(desk, made[at : at + AT_A_TIME], key, folder, out, once=once)
        gave = Gave(gave.made + more.made, left_out=gave.left_out + more.left_out)
    return gave


@dataclass(frozen=True)
class _Made:
    """A certificate that is signed and printed, and not entered yet."""

    draft: Draft
    view: CertificateView
    room: bytes
    """What is in the paper where its receipt will be."""


def _printed(
    desk: Desk,
    drafts: Sequence[Draft],
    views: Sequence[CertificateView],
    key: SecretKey,
    folder: Path,
    progress: Callable[[int, int], None],
) -> list[_Made]:
    """Writes file and paper of each into the folder; the paper with room for its receipt."""
    from standfast.paper.batch import print_all
    from standfast.seal.papers import room_for

    address, made, jobs = page_of(desk), [], []
    for draft, view in zip(drafts, views, strict=True):
        room = room_for(canonical(plain(draft.issued)))
        page = replace(view, signed=_checkable(draft, view.name, key, address))
        written_down(Pair.of(draft.award.number, folder).file, draft.content)
        jobs.append(_job(desk, draft, page, room, folder))
        made.append(_Made(draft, view, room))
    print_all(jobs, folders(desk), progress)
    return made


def _given_out(
    desk: Desk,
    made: Sequence[_Made],
    key: SecretKey,
    folder: Path,
    out: Path,
    *,
    once: bool,
) -> Gave:
    """Enters them in one turn, with the hash of each paper, and puts them in place."""
    from standfast.seal.papers import filled

    papers = [_paper(one, folder).read_bytes() for one in made]
    with desk.book.together():
        taken, believed = desk.book.places(), _believed(desk) if once else ()
        why = [_came_between(desk, one, taken, believed) for one in made]
        may = [not one for one in why]
        known = list(compress(zip(made, papers, strict=True), may))
        given = [entered(desk, one.draft, sha256(paper).hexdigest()) for one, paper in known]
        shown = receipts(desk, [one.entry for one in given], key) if given else ()
        for (one, paper), receipt in zip(known, shown, strict=True):
            written_down(_paper(one, folder), filled(paper, one.room, receipt.content))
        on_disk(folder)
    numbers = [one.award.number for one in given]
    put_in_place(numbers, folder, out)
    pairs = (Pair.of(number, out) for number in numbers)
    done = tuple(GivenOut(*both) for both in zip(given, pairs, strict=True))
    return Gave(done, left_out=tuple(filter(None, why)))


def _paper(made: _Made, folder: Path) -> Path:
    return Pair.of(made.draft.award.number, folder).paper


def _came_between(
    desk: Desk, made: _Made, taken: Collection[int], believed: Collection[str]
) -> str:
    """Why it is not entered, by what happened while it was signed; empty when nothing did.

    Certificates under keys in `believed` are those of which one is enough.
    """
    draft = made.draft
    kept, number = desk.book.find_award(draft.award.id), draft.award.number
    if kept is None or kept.renewed_by or kept.superseded_by:
        return f"{number} was renewed or corrected meanwhile"
    standing = how_it_stands(desk, kept.award)
    if why := no_certificate(desk, kept.award, standing):
        return why
    signed = desk.book.issued(kept.award.id) if believed else ()
    if there := _one_that_holds(desk, kept.award, standing, signed, believed):
        return (
            f"{number} was given one meanwhile, by another run: urn:uuid:{there.credential},"
            f" place {there.place} of the lists"
        )
    same = says_the_same(desk, draft) and certificate_of(desk, kept.award, standing) == made.view
    if not same or draft.issued.place in taken:
        return f"{number}: something of it was changed meanwhile; sign it again"
    return ""


def _job(desk: Desk, draft: Draft, view: CertificateView, room: bytes, folder: Path) -> Job:
    from standfast.paper.archive import Attached
    from standfast.paper.batch import Job

    now = desk.moment.now
    says = "Shows that the school's record book has it"
    attached = (
        Attached(CREDENTIAL, draft.content, "The certificate, signed; anybody can check it", now),
        Attached(RECEIPT, room, says, now, room=True),
    )
    return Job("certificate", view, Pair.of(draft.award.number, folder).paper, attached)


def _checkable(made: Draft, name: str, key: SecretKey, address: str) -> Checkable:
    """The code on the paper, and what stands below it; `address` is the checking page's."""
    from standfast.paper.view.certificate import Checkable
    from standfast.seal.encoding import base64url
    from standfast.seal.token import Told, token

    award, issued = made.award, made.issued
    told = Told(
        number=award.number,
        name=name,
        achievement=award.rubric.id,
        version=str(award.rubric.version),
        last_day=issued.until or award.dates.last_day,
        index=issued.place,
        digest=base64url(bytes.fromhex(issued.digest)),
        status_list=list_name(REVOKED),
    )
    text = token(told, key)
    return Checkable(f"{address}#{text}" if address else text, address, key.public.thumbprint)
