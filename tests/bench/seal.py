"""What signing and checking cost, against the bare signature and the bare canonical form.

The certificate is a real one, of the small demonstration.  Times are of the processor, on one core.
"""

from __future__ import annotations

import secrets
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, timezone
from itertools import cycle, islice
from pathlib import Path
from typing import Any

from tests.bench.measured import Row

from standfast.desk import issuing, keyring
from standfast.desk.awards import how_it_stands
from standfast.desk.certificates import certificate_of, no_certificate
from standfast.desk.giving import give_out_for
from standfast.desk.opening import Desk, Moment, open_desk
from standfast.desk.press import folders
from standfast.desk.unfinished import making_in
from standfast.model.canonical import canonical
from standfast.paper.batch import Job, print_all
from standfast.seal import proofs
from standfast.seal.encoding import read_json
from standfast.seal.keys import SecretKey
from standfast.seal.token import Told, read_token, token
from standfast.seal.trust import TrustFile
from standfast.seal.verify import Lists, digest, verify

ROUNDS, EACH = 15, 20
"""Rounds in which everything is done in turn, and how often in each."""
LEAST_CHECKED = 200
"""Certificates in a second on one core; ours, no source."""
WHOLE: tuple[str, ...] = ()
SMALL = ("--small",)
"""Which demonstration certificates come from: the one for many, the other for one."""
NOW = datetime(2026, 11, 25, 10, tzinfo=timezone.utc)
"""The day after the demonstration's last, on which its awards are current in every year."""
GIVEN = 1000
"""Certificates given out on one day."""
PASSPHRASE, ISSUER = "four plain words here", "https://sandhof.example/issuer"


@dataclass(frozen=True)
class Sealed:
    """A certificate that was signed, and what it is checked with."""

    content: bytes
    lists: tuple[bytes, ...]
    trusted: TrustFile
    key: SecretKey
    now: datetime

    @property
    def document(self) -> dict[str, Any]:
        """Without its proofs."""
        found: dict[str, Any] = read_json(self.content)
        return proofs.without_proof(found)


def rows() -> Iterator[Row]:
    """Every ratio of the seal."""
    with tempfile.TemporaryDirectory(dir=sys.prefix, prefix="bench-") as name:
        made = sealed(Path(name))
    yield from signing(made)
    yield from checking(made)
    yield from token_read(made)
    with tempfile.TemporaryDirectory(dir=sys.prefix, prefix="bench-") as name:
        yield from given_out(Path(name))


@contextmanager
def school(folder: Path, *more: str) -> Iterator[Desk]:
    """The desk of the invented school on the day after its last, with keys."""
    command = [sys.executable, "-m", "standfast", "demo", *more, "--out", str(folder)]
    subprocess.run(command, check=True, capture_output=True)
    with open_desk(folder / "school", Moment(NOW, "bench", secrets.token_bytes)) as desk:
        keyring.make(desk, ISSUER, PASSPHRASE)
        yield desk


def given_out(folder: Path) -> Iterator[Row]:
    """A day on which many are given out: signed, entered, printed; and printed alone.

    The awards of the demonstration in turn, each many times over; either way as many at a time as
    there are, since one folder takes one certificate of each.
    """
    with school(folder, *WHOLE) as desk:
        key = keyring.signing_key(desk, PASSPHRASE)
        standing = [one.award for one in desk.book.awards(on=desk.today)]
        may = [one for one in standing if not no_certificate(desk, one, how_it_stands(desk, one))]
        awards = list(islice(cycle(may), GIVEN))

        def without() -> None:
            for at in range(0, GIVEN, len(may)):
                some = awards[at : at + len(may)]
                views = [certificate_of(desk, one, how_it_stands(desk, one)) for one in some]
                pages = [
                    Job("certificate", view, folder / f"{at + n}.pdf")
                    for n, view in enumerate(views)
                ]
                print_all(pages, folders(desk), nothing)

        def whole() -> None:
            for at in range(0, GIVEN, len(may)):
                with making_in(folder) as made_in:
                    give_out_for(desk, awards[at : at + len(may)], key, made_in, folder, nothing)

        plain, signed = (elapsed(do) for do in (without, whole))
    what = f"{GIVEN} certificates signed, with code and files : printed alone"
    yield Row(what, signed / plain, 1.6, f"{plain:.0f} s alone, by the clock")


def nothing(done: int, of: int) -> None:
    """Shows no progress."""


def elapsed(do: Callable[[], object]) -> float:
    """Seconds by the clock."""
    began = time.perf_counter()
    do()
    return time.perf_counter() - began


def sealed(folder: Path) -> Sealed:
    """The newest certificate of the small demonstration, signed today."""
    with school(folder, *SMALL) as desk:
        newest, key = desk.book.awards(on=desk.today)[-1], keyring.signing_key(desk, PASSPHRASE)
        (made,) = issuing.drafts_for(desk, [newest.award], key)
        lists = issuing.status_lists(desk, PASSPHRASE, (issuing.REVOKED, issuing.SUSPENDED))
        ring = keyring.keyring(desk)
    found = Sealed(made.content, tuple(lists.values()), ring.signed.file, key, NOW)
    answers = verify(found.content, [found.trusted], Lists(found.lists), NOW)
    if {one.answer for one in answers} != {"yes"}:
        raise SystemExit(f"the certificate that is measured does not hold: {answers}")
    return found


def processor(each: Sequence[Callable[[], object]]) -> list[float]:
    """The median processor seconds of each, done in turn in every round."""
    for do in each:
        do()  # what is loaded or kept from the first time on is none of its cost
    times = [[_seconds(do) for do in each] for _ in range(ROUNDS)]
    return [statistics.median(of) for of in zip(*times, strict=True)]


def _seconds(do: Callable[[], object]) -> float:
    began = time.process_time()
    for _ in range(EACH):
        do()
    return (time.process_time() - began) / EACH


def signing(made: Sealed) -> Iterator[Row]:
    """Both proofs beside what they are made of."""
    document, whole = made.document, read_json(made.content)["proof"][-1]
    method = str(whole["verificationMethod"])
    both, raw, bytes_form, statements = processor(
        [
            lambda: proofs.both(document, made.key, method, made.now),
            lambda: made.key.sign(made.content),
            lambda: canonical(document),
            lambda: proofs.statements(document),
        ]
    )
    detail = f"{len(made.content)} bytes, two proofs"
    yield Row("sign a certificate : raw Ed25519 of its bytes", both / raw, None, detail)
    yield Row("sign a certificate : its canonical JSON alone", both / bytes_form, None, "RFC 8785")
    yield Row("sign a certificate : its statements alone", both / statements, None, "RDFC-1.0")


def checking(made: Sealed) -> Iterator[Row]:
    """A certificate held against trust file and lists, and what the lists are of it."""
    public, signature = made.key.public, made.key.sign(made.content)
    lists = Lists(made.lists)

    def against(lists: Lists) -> object:
        return verify(made.content, [made.trusted], lists, made.now)

    kept, fresh, none, raw, read = processor(
        [
            lambda: against(lists),
            lambda: against(Lists(made.lists)),
            lambda: against(Lists()),
            lambda: public.verifies(signature, made.content),
            lambda: Lists(made.lists).read,
        ]
    )
    what = f"certificates checked in a second : {LEAST_CHECKED}"
    detail = "trust file and both lists, which are read once"
    yield Row(what, 1 / kept / LEAST_CHECKED, None, detail, 1)
    detail = "the lists read and checked anew for each"
    yield Row(what, 1 / fresh / LEAST_CHECKED, None, detail, 1)
    yield Row("check a certificate : raw Ed25519 of its bytes", kept / raw, None, "both lists")
    yield Row("check with both lists : with none", kept / none, None, "which are read once")
    yield Row("read and check both lists : raw Ed25519", read / raw, None, "each list once")


def token_read(made: Sealed) -> Iterator[Row]:
    """What stands in the code on paper, read beside its bare signature."""
    subject, place = made.document["credentialSubject"], made.document["credentialStatus"]
    told = Told(
        number=subject["licenseNumber"],
        name="Inês Carvalho Teles",
        achievement=subject["achievement"]["humanCode"],
        version=subject["achievement"]["version"],
        last_day=date.fromisoformat(made.document["validUntil"][:10]),
        index=int(place["statusListIndex"]),
        digest=digest(read_json(made.content)),
        status_list="r1",
    )
    text, public = token(told, made.key), made.key.public
    signed = text.rpartition(".")[0].encode()
    signature = made.key.sign(signed)
    read, raw = processor(
        [lambda: read_token(text, public), lambda: public.verifies(signature, signed)]
    )
    yield Row("read a token : raw Ed25519 of its text", read / raw, None, f"{len(text)} letters")
